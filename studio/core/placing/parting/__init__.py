"""Metal parted by straight cuts, so that every group gets a blank of its own: README.md."""
