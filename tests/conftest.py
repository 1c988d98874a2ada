"""What all tests share."""

from hypothesis import settings

# A loaded machine must not fail a property test by its clock.
settings.register_profile("wiremap", deadline=None, derandomize=True)
settings.load_profile("wiremap")
