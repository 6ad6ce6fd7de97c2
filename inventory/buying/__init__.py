"""Orders, purchases, prices and supplies: how metal and the rest come in."""
