"""Papers: who may see which, and in which form."""
