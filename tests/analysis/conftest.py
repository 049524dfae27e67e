"""Property tests here draw the same examples every time, and a busy machine must not fail them by the clock."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
