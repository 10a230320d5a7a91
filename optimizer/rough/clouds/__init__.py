"""Clouds of points become closed surfaces."""
