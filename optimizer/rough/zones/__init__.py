"""Colour boundaries and colours: as rough files tell them, fitted, and as solids."""
