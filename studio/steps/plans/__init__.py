"""Cut plans are asked for, placed, priced, compared, approved, issued or dropped."""
