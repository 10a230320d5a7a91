"""Flat places of the piece, and places, directions and planes given by distances from them."""
