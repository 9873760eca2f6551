"""`python -m controller.circuits.fakeboard PATH SOCKET`: the board's process."""

import signal
import sys
from pathlib import Path

from controller.building.file import read
from controller.circuits.fakeboard.server import Server

# It outlives the daemon: a Ctrl-C for the one is not for the other.
signal.signal(signal.SIGINT, signal.SIG_IGN)
signal.signal(signal.SIGHUP, signal.SIG_IGN)
Server(read(Path(sys.argv[1])), Path(sys.argv[2])).run()
