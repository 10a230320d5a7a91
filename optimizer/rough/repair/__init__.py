"""From a scan to one closed solid: what is mended, how far, and what is refused."""
