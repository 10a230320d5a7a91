"""Compiled: numbers from one row into another.

An array assigned to a slice does the same, but brings with it the words of numba's error for
rows of unequal lengths: seconds of compiling.
"""

from optimizer.compiled import compiled


@compiled
def put(into, values):
    """Put ``values`` (n,) into the first n places of ``into``, which has room for them."""
    for i in range(values.shape[0]):
        into[i] = values[i]
