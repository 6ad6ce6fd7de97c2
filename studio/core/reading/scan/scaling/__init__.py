"""How large a dot is and where the camera stood. What is drawn is for `ink`."""
