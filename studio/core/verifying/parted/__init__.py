"""The judge where metal is parted: cuts, the parts that they make, and what lies on them."""
