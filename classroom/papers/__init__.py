"""Papers of every app: a template made into a PDF, and the address on it."""
