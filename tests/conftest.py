"""Settings for the whole suite."""

from hypothesis import settings

# Derandomised and without deadlines: a slow machine is not a failure, and CI never flickers.
settings.register_profile("ci", derandomize=True, deadline=None, print_blob=True)
settings.load_profile("ci")
