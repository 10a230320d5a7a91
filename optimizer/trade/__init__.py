"""Tables of the trade: species, and the sizes that stones are usually sold in."""
