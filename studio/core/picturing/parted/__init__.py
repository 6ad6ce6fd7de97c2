"""What parting looks like: cuts, blanks, and one blank by itself."""
