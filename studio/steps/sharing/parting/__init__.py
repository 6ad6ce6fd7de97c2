"""A shared stock piece is parted: who may, what came out, and each student's own plan."""
