"""Lay a body in the rough: as large as it will go, exactly."""

from optimizer.placement.copy import Fit, largest_copy

__all__ = ["Fit", "largest_copy"]
