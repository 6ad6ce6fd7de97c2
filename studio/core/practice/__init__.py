"""Practice sheets: small laying-out puzzles of our own shapes, each with a known good answer."""
