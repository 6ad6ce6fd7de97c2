"""Figures and units as pages write them."""
