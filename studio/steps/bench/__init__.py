"""Steps are worded, begun, signed and checked, at the bench and on its tablet."""
