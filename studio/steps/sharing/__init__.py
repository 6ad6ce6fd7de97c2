"""A sheet of several students: it is parted for them, or goes from hand to hand."""
