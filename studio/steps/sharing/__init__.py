"""A sheet in several hands: what is done to it once for all, whose turn it is, who has it."""
