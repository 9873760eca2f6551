"""A hundred clients and a flood of malformed lines, while impulses and rings go on."""

from __future__ import annotations

import itertools
import socket
import statistics
import threading
from pathlib import Path

LINE = """
[lines.main]
drive = "alternating"
relays = [22, 23]
impulse = "200ms"
gap = "200ms"
"""
PERIOD_SECONDS = 0.4
CLIENTS = 100
MOST_LATE_SECONDS = 0.25  # of a busy test machine
MOST_GROWTH_MB = 24
NOISE = (
    b'{"order": "ring", "zones": ["nowhere"]}\n',
    b"\x00\xff\xfe not JSON\n",
    b'{"order": ' + b"[" * 5_000 + b"\n",
    b'{"order": "status", "id": -1}\n',
    b'{"order": "logbook", "since": "never"}\n',
    b"x" * 20_000,
)


def flood(path: Path, until: threading.Event) -> None:
    """Say noise, and read a little of what comes back."""
    while not until.is_set():
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as link:
                link.settimeout(1.0)
                link.connect(str(path))
                for noise in itertools.cycle(NOISE):
                    if until.is_set():
                        return
                    link.sendall(noise)
        except OSError:
            until.wait(0.05)


def rss_mb(pid: int) -> float:
    (line,) = (
        text for text in Path(f"/proc/{pid}/status").read_text().splitlines() if "VmRSS" in text
    )
    return int(line.split()[1]) / 1024


def test_edges_come_as_before_and_memory_is_bounded(installation, capsys):
    installation.write(lines=LINE)
    installation.dials_behind("main", 200)  # a catch-up: an impulse every 0.4 s
    installation.started()

    def closings():
        found = installation.changes("contact", "lines.main+")
        found += installation.changes("contact", "lines.main-")
        return sorted(change.mono / 1e9 for change in found if change.to)

    def off_period(after: int) -> list[float]:
        """How far each impulse came from a whole number of periods after the one before."""
        monos = closings()[after:]
        apart = [b - a for a, b in itertools.pairwise(monos)]
        return [abs(gap - PERIOD_SECONDS * max(1, round(gap / PERIOD_SECONDS))) for gap in apart]

    installation.wait(lambda: len(closings()) >= 20)
    calm = off_period(0)
    pid = installation.process.pid
    before_mb = rss_mb(pid)
    over = threading.Event()
    crowd = [
        threading.Thread(target=flood, args=(installation.runtime / "understudy.sock", over))
        for _ in range(CLIENTS)
    ]
    for one in crowd:
        one.start()
    try:
        began = len(closings())
        assert "rings now" in installation.ask("ring", zones=["north"], **{"for": "1s"})
        installation.wait(lambda: len(closings()) >= began + 25)
        flooded = off_period(began)
        after_mb = rss_mb(pid)
    finally:
        over.set()
        for one in crowd:
            one.join()
    on, off = installation.changes("pin", "GPIO17")[-2:]
    ring = (off.mono - on.mono) / 1e9
    with capsys.disabled():
        print(
            f"\nimpulses off their period, median / worst: calm {statistics.median(calm) * 1e3:.2f}"
            f" / {max(calm) * 1e3:.2f} ms, flooded {statistics.median(flooded) * 1e3:.2f} / "
            f"{max(flooded) * 1e3:.2f} ms; ring of 1 s lasted {ring:.4f} s; daemon {before_mb:.1f}"
            f" → {after_mb:.1f} MB"
        )
    assert max(flooded) < MOST_LATE_SECONDS
    assert abs(ring - 1) < MOST_LATE_SECONDS
    assert after_mb - before_mb < MOST_GROWTH_MB
    assert installation.picture()["storing"]
    assert installation.end() == 0
