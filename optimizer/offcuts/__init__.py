"""Kept offcuts: what is known of each, and what it could still give."""
