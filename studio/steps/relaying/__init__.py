"""A student’s pieces are laid anew on an own blank: by hand, or by the server."""
