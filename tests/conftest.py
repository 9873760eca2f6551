"""For all tests: the same examples every time, however long a busy machine takes over one; and
signals as a terminal has them, also where the tests were started in the background or by nohup,
whose ignored signals every process of the tests would inherit.
"""

import signal

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None, print_blob=True)
settings.load_profile("repeatable")

signal.signal(signal.SIGINT, signal.default_int_handler)
signal.signal(signal.SIGHUP, signal.SIG_DFL)
