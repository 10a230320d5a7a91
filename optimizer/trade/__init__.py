"""Tables of the trade: species, and calibrated sizes."""
