"""Metal that several students share: it is parted for them, or goes from hand to hand."""
