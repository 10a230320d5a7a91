"""The compiled part of the tree of boxes."""
