"""From a cloud of points to a closed surface."""
