"""Flat places of the piece, and what is told by distances from them."""
