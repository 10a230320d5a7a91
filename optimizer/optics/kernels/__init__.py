"""The compiled part of the look: what is asked of each ray, beam and point of a face."""
