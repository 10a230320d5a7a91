"""Kept offcuts: what is known of each, and which stones it could still give."""
