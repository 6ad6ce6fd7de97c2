"""What people type, checked by itself. What it does is for `studio.steps`."""
