"""Files that people bring: looked at, kept apart, and handed out again."""
