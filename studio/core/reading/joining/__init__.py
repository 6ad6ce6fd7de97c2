"""Lines to pieces: tidied, joined, told inside from outside. What kind of file is all one here."""
