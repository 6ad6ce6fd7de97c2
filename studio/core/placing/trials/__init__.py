"""Proofs and measurements of the search: hostile jobs, peers, strips. The app runs none of it."""
