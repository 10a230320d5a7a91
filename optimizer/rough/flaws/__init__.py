"""Flaws: as rough files state them, and the space that they occupy."""
