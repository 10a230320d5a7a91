"""The compiled part of the look: what is computed for each ray, beam and pixel of a face."""
