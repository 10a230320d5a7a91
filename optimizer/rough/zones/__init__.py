"""Colour boundaries and colours: as rough files state them, as they are fitted, and as solids."""
