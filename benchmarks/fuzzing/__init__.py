"""Seeded cases of bad input, faults and signals, and what must hold after each.

A subject is a function (desk, chance) -> Case: it lays files on an empty desk, a folder of the
case's own, and says how the command is run there. ``subjects.py`` names them all, one file each;
``odd_*.py`` make the odd values that several share. ``case.py`` is the data, ``child.py`` runs a
case in a process that may be killed, ``verdict.py`` says what didn't hold, ``session.py`` runs one
case after the other.
"""
