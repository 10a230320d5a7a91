"""Flaws: as rough files tell them, and the room they take."""
