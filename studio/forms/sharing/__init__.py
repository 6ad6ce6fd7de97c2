"""Forms of metal that several students share."""
