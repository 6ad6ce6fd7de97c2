"""What people send, bounded and put in order before anything is done with it."""
