"""The page on which a pattern is built from shapes, and its answers to the script."""
