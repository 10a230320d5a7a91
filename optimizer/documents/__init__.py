"""plan.json and sawn.json in one place: models that write them, read them and give their schemas.

``quantities`` has the kinds of values with their bounds, ``names`` the names of the folder's files,
and ``tree`` the check that pieces, cuts and stones fit together. Keys that older plans of the same
format lack have defaults; new files have all keys. ``schema`` writes the two published schemas.
"""
