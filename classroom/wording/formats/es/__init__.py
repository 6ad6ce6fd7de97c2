"""Days and numbers as Spanish writes them."""
