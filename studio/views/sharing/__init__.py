"""Pages of metal that several students share."""
