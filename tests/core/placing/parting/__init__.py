"""Outside checks of parting: published instances, cases to be counted by hand."""
