"""The work of a class, from a drawn pattern to a finished piece; DEVELOPERS.md has its rooms."""
