"""What an order comes to in a piece of rough: designs, windows of width, demands, bounds."""
