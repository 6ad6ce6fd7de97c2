"""Pieces of metal: where they lie, how they move, how they are counted and scrapped."""
