"""What metal goes back to the rack, and with which corners. What it is worth is the judge's."""
