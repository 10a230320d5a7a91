"""Scan files of every kind, read to bare points and triangles."""
