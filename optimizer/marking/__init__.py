"""The folder of a check: a page to mark the piece on, its picture, the mended solid, a rough file.

It takes a Rough and knows nothing of what is planned in it.
"""

from optimizer.marking.files import write_check

__all__ = ["write_check"]
