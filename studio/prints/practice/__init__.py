"""Practice sheets on paper: to be cut out and laid on a desk."""
