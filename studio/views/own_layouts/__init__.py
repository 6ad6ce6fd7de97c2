"""A student's own layout on the pages of its pattern, its project and the layout table."""
