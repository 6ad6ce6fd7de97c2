"""Commands of the studio; each is a thin door to a room."""
