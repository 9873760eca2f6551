"""A strict double of the kernel's GPIO chips behind `gpiod`: it records every call and every level.

Only the chip and its requests are doubled; line settings and their values are gpiod's own.
"""

from __future__ import annotations

import errno
import os
from collections import deque
from types import SimpleNamespace

import gpiod
from gpiod.line import Bias, Direction, Edge, Value


def refused(number):
    return OSError(number, os.strerror(number))


class Kernel:
    """One chip of 54 lines (as on a BCM2711's first chip there are 58; from memory)."""

    def __init__(self, label="pinctrl-bcm2711"):
        self.label = label
        self.lines = 54
        self.calls = []  # ("request", …), ("set", …), ("release", …) in order
        self.levels = {}  # pin → every level it was driven to, or pulled or put to, in order
        self.settings = {}  # pin → settings of whoever holds it
        self.holders = {}  # pin → consumer
        self.refuses = {}  # path → errno
        self.refuses_calls = {}  # "request", "set", "get" → errno
        self.chips_opened = 0

    def chip(self, path):
        self.chips_opened += 1
        if number := self.refuses.get(path):
            raise refused(number)
        return Chip(self, path)

    def level(self, pin):
        return self.levels[pin][-1]


class Chip:
    def __init__(self, kernel, path):
        self.kernel = kernel
        self.path = path
        self.open = True

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        self.open = False

    def get_info(self):
        assert self.open
        return SimpleNamespace(
            label=self.kernel.label, num_lines=self.kernel.lines, name=self.path.rsplit("/")[-1]
        )

    def get_line_info(self, line):
        assert self.open
        holder = self.kernel.holders.get(line)
        return SimpleNamespace(used=holder is not None, consumer=holder or "")

    def request_lines(self, config, consumer=None, event_buffer_size=None, output_values=None):
        assert self.open
        assert output_values is None, "levels come with each line's settings"
        kernel = self.kernel
        for settings in config.values():
            assert isinstance(settings, gpiod.LineSettings)
            assert settings.direction in (Direction.OUTPUT, Direction.INPUT), "never as it is"
            assert not settings.active_low, "levels are those at the pin"
        if number := kernel.refuses_calls.get("request"):
            raise refused(number)
        if any(pin in kernel.holders for pin in config):
            raise refused(errno.EBUSY)
        kernel.calls.append(("request", consumer, dict(config), event_buffer_size))
        for pin, settings in config.items():
            kernel.holders[pin] = consumer
            kernel.settings[pin] = settings
            if settings.direction is Direction.OUTPUT:
                level = settings.output_value is Value.ACTIVE
            else:
                level = settings.bias is Bias.PULL_UP
            kernel.levels.setdefault(pin, []).append(level)
        return Request(kernel, list(config))


class Request:
    def __init__(self, kernel, pins):
        self.kernel = kernel
        self.pins = pins
        self.events = deque()
        self.number = 0
        self.fd, self._told = os.pipe()

    def get_values(self, lines=None):
        self._check(lines)
        if number := self.kernel.refuses_calls.get("get"):
            raise refused(number)
        return [Value(int(self.kernel.level(pin))) for pin in lines]

    def set_values(self, values):
        self._check(values)
        if number := self.kernel.refuses_calls.get("set"):
            raise refused(number)
        assert all(isinstance(value, Value) for value in values.values())
        for pin in values:
            if self.kernel.settings[pin].direction is not Direction.OUTPUT:
                raise refused(errno.EPERM)
        self.kernel.calls.append(("set", {pin: bool(value) for pin, value in values.items()}))
        for pin, value in values.items():
            self.kernel.levels[pin].append(bool(value))

    def wait_edge_events(self, timeout=None):
        assert timeout == 0, "nobody waits here: one select serves all"
        return bool(self.events)

    def read_edge_events(self, max_events=None):
        assert self.events, "this would block"
        count = min(len(self.events), max_events or 64)
        events = [self.events.popleft() for _ in range(count)]
        if not self.events:
            os.read(self.fd, 4096)
        return events

    def release(self):
        assert self.pins, "released once"
        self.kernel.calls.append(("release", sorted(self.pins)))
        for pin in self.pins:
            del self.kernel.holders[pin]
        self.pins = []
        os.close(self.fd)
        os.close(self._told)

    def put(self, pin, high, mono, dropped=False):
        """Somebody closes or opens a contact; `dropped`: the kernel has no room for the event."""
        assert self.kernel.settings[pin].edge_detection is Edge.BOTH
        self.kernel.levels[pin].append(high)
        self.number += 1
        if dropped:
            return
        kind = gpiod.EdgeEvent.Type
        event_type = kind.RISING_EDGE if high else kind.FALLING_EDGE
        self.events.append(gpiod.EdgeEvent(event_type.value, mono, pin, self.number, 0))
        os.write(self._told, b"x")

    def _check(self, pins):
        assert pins, "all lines by default is never meant"
        assert set(pins) <= set(self.pins), "only lines of this request, while it is held"
