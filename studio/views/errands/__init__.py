"""The page that waits for slow work, and where it leads when that is done."""
