"""One command a file: its words and exit status. The work is done in the rooms."""
