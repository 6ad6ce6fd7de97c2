"""Languages: which is shown, what is translated, how days and numbers are written."""
