"""Practising how to lay out, on sheets of our own."""
