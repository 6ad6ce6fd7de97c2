"""What the server lays by itself as soon as a pattern is read."""
