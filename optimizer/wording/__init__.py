"""How numbers and foreign text are written for people."""
