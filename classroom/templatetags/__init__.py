"""What templates of every app may ask for."""
