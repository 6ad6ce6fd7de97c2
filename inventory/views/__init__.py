"""Pages of the rack, of buying, of scrap and of budgets."""
