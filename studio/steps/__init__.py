"""Services: one verb, one transaction, one history row. No forms, no pages, no reading for show."""
