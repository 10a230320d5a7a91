"""Compiled: how far a path runs in each of two colours.

The first colour lies where all forms are positive. A form is a quadratic function f(x) = x·Q·x +
q·x + c, held as (Q00, Q11, Q22, 2·Q01, 2·Q02, 2·Q12, q0, q1, q2, c). Along a leg of a path each
form is a parabola.
"""

import numpy as np

from optimizer.compiled import compiled

FORM = 10  # numbers of a form


@compiled(error_model="numpy", inline="always")
def _value(f, x, y, z):
    square = f[0] * x * x + f[1] * y * y + f[2] * z * z
    mixed = f[3] * x * y + f[4] * x * z + f[5] * y * z
    return square + mixed + f[6] * x + f[7] * y + f[8] * z + f[9]


@compiled(error_model="numpy", inline="always")
def _bend(f, x, y, z):
    """The quadratic part alone."""
    return f[0] * x * x + f[1] * y * y + f[2] * z * z + f[3] * x * y + f[4] * x * z + f[5] * y * z


@compiled(error_model="numpy")
def _flat_share(forms, p, q):
    """Share of the leg from ``p`` to ``q`` where all forms are positive; the forms are planes."""
    low, high = 0.0, 1.0
    for j in range(len(forms)):
        f = forms[j]
        here, there = _value(f, p[0], p[1], p[2]), _value(f, q[0], q[1], q[2])
        if here <= 0.0 and there <= 0.0:
            return 0.0
        if here < 0.0:
            low = max(low, here / (here - there))
        elif there < 0.0:
            high = min(high, here / (here - there))
    return max(0.0, high - low)


@compiled(error_model="numpy")
def _bent_share(forms, p, q, cuts):
    """Share of the leg from ``p`` to ``q`` where all forms are positive. The sorted zeros of the
    forms cut the leg into sections; the middle of a section says on which side the section lies."""
    count = 2
    cuts[0], cuts[1] = 0.0, 1.0
    x, y, z = q[0] - p[0], q[1] - p[1], q[2] - p[2]
    for j in range(len(forms)):
        f = forms[j]
        c, a = _value(f, p[0], p[1], p[2]), _bend(f, x, y, z)
        b = _value(f, q[0], q[1], q[2]) - c - a
        under = b * b - 4.0 * a * c
        if under < 0.0:
            continue
        # The stable pair of roots: r/a and c/r.
        r = -0.5 * (b + np.copysign(np.sqrt(under), b))
        for root in (r / a if a != 0.0 else 2.0, c / r if r != 0.0 else 2.0):
            if 0.0 < root < 1.0:
                at = count
                while cuts[at - 1] > root:
                    cuts[at] = cuts[at - 1]
                    at -= 1
                cuts[at] = root
                count += 1
    share = 0.0
    for k in range(count - 1):
        t = 0.5 * (cuts[k] + cuts[k + 1])
        inside = True
        for j in range(len(forms)):
            if _value(forms[j], p[0] + t * x, p[1] + t * y, p[2] + t * z) <= 0.0:
                inside = False
                break
        if inside:
            share += cuts[k + 1] - cuts[k]
    return share


@compiled(error_model="numpy")
def leg_share(forms, flat, p, q, cuts):
    """Share of the leg from ``p`` to ``q`` (3,) where all ``forms`` are positive. ``flat`` says
    that all forms are planes; ``cuts`` is scratch memory for two numbers a form and two more."""
    return _flat_share(forms, p, q) if flat else _bent_share(forms, p, q, cuts)


@compiled(error_model="numpy")
def split_lengths(forms, flat, start, points, inside, outside):
    """Fill, for each place of the paths, the ray's length so far where all ``forms`` are positive
    (``inside``) and elsewhere (``outside``)."""
    cuts = np.empty(2 * len(forms) + 2)
    for ray in range(len(start) - 1):
        run_in, run_out = 0.0, 0.0
        for k in range(start[ray], start[ray + 1]):
            if k > start[ray]:
                p, q = points[k - 1], points[k]
                x, y, z = q[0] - p[0], q[1] - p[1], q[2] - p[2]
                length = np.sqrt(x * x + y * y + z * z)
                share = leg_share(forms, flat, p, q, cuts)
                run_in += share * length
                run_out += (1.0 - share) * length
            inside[k], outside[k] = run_in, run_out
