"""What the server lays by itself, and what it laid beside somebody's own."""
