"""Addresses of the studio's pages, a file for each kind of thing."""
