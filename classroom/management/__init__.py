"""Commands of the classroom."""
