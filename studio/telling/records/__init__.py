"""Everything of one student or of one course, to look up or to keep."""
