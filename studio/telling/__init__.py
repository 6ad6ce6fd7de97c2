"""What there is to tell, read for many rows at once. It writes nothing and decides nothing."""
