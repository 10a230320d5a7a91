"""The compiled part of placement: what is asked of millions of poses and nodes."""
