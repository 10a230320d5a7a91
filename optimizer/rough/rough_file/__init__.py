"""The rough file: what it may hold, what it says of the piece, and writing one."""
