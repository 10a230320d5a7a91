"""The compiled part of pictures."""
