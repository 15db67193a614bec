"""Settings for every test."""

from hypothesis import settings

# The same cases on every machine, and no failing because a machine is busy.
settings.register_profile("dotward", deadline=None, derandomize=True)
settings.load_profile("dotward")
