"""Several stones from one piece: what to cut, where each lies, and how the saw separates them."""
