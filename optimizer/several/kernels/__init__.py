"""The compiled part of several stones: what is asked of each pair and each sounding."""
