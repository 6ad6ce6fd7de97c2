"""Forms of printers and their bars."""
