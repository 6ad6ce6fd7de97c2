"""What is filled in about metal in several hands."""
