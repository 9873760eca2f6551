"""For all tests: the same examples every time, however long a busy machine takes over one."""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None, print_blob=True)
settings.load_profile("repeatable")
