"""plan.json and sawn.json, told once: the models write them, read them and publish their schemas.

Values have bounds (``quantities``), files of the folder have names (``names``), and what refers to
one another fits together (``tree``). Keys that older plans of the same format lack have defaults;
what is written has them all. ``schema`` makes the two published files beside it.
"""
