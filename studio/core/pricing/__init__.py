"""What each project of a plan pays, to the cent, and in which words. No rows, no budget."""
