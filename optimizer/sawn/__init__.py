"""After a real cut: where the saw went, what the new face showed, and the rest planned anew."""
