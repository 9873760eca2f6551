"""The kernel's GPIO chip: which one it is, and how lines are asked of it, in one call.

`gpiod` (libgpiod 2) is imported where a chip is used, so that importing this costs nothing.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from controller.circuits.lines import Inputs, Outputs, PinsFault, named

if TYPE_CHECKING:
    from collections.abc import Iterable

    import gpiod

# Found by label, as the number of the chip has changed with the kernel (from memory: 0, then 4,
# then 0 again on one board).
LABELS = ("pinctrl-bcm2835", "pinctrl-bcm2711", "pinctrl-rp1")
CONSUMER = "understudy"
MOST_EVENTS = 1_024  # the most that the kernel keeps for one request: 16 for each of 64 lines
_NO_CHIP = "Only a Raspberry Pi has such pins; to try it without them: understudy run PATH --fake"


class PinsBusy(PinsFault):
    """Somebody else holds pins that are wanted."""


def need_gpiod() -> None:
    """Raise `PinsFault` where `gpiod` is not there, or is another library of the same name."""
    try:
        import gpiod
    except ImportError as fault:
        raise PinsFault(
            f"The pins need libgpiod 2 for Python (gpiod 2.2 or later): {fault}. "
            "Install Understudy with its dependencies, or Debian 13's python3-libgpiod."
        ) from None
    if not hasattr(gpiod, "LineSettings"):
        raise PinsFault(
            "The gpiod installed here is not libgpiod 2 (Debian 12 has version 1; pip takes an "
            "older package of that name on 32-bit systems). Needed: gpiod 2.2 or later, or "
            "Debian 13's python3-libgpiod."
        )


def find_chip() -> Path:
    """The chip with the board's pins: by its label, or as UNDERSTUDY_CHIP says (a path or a label).

    Raise `PinsFault` where there is none.
    """
    wanted = os.environ.get("UNDERSTUDY_CHIP", "")
    if "/" in wanted:
        return Path(wanted)
    need_gpiod()
    seen: list[str] = []
    barred: list[Path] = []
    for path in _chips():
        try:
            label = _label(path)
        except PermissionError:
            barred.append(path)
            continue
        except OSError as fault:
            seen.append(f"{path}: {fault.strerror}")
            continue
        if label == wanted or (not wanted and label in LABELS):
            return path
        seen.append(f'{path} is "{label}"')
    if barred:
        raise PinsFault(_not_permitted(barred[0]))
    what = f'labelled "{wanted}" (UNDERSTUDY_CHIP)' if wanted else "with a Raspberry Pi's pins"
    found = f" Found: {'; '.join(seen)}." if seen else ""
    raise PinsFault(f"There is no GPIO chip {what}.{found} {_NO_CHIP}")


def request_lines(chip: Path, outputs: Outputs, inputs: Inputs) -> gpiod.LineRequest:
    """Hold all these lines by one request: outputs at their inactive levels, so that none blips.

    Inputs are pulled to their inactive level, debounced by the kernel, and report both edges with
    the monotonic clock. Raise `PinsBusy` where somebody else holds one, `PinsFault` where the lines
    cannot be had for another reason.
    """
    assert not outputs.keys() & inputs.keys(), "a pin is an output or an input"
    assert outputs or inputs, "something is asked for"
    need_gpiod()
    import gpiod
    from gpiod.line import Bias, Direction, Edge, Value

    config: dict[Iterable[int | str] | int | str, gpiod.LineSettings | None] = {}
    for pin, high in outputs.items():
        level = Value.ACTIVE if high else Value.INACTIVE  # `active_low` is never used: high is high
        config[pin] = gpiod.LineSettings(direction=Direction.OUTPUT, output_value=level)
    for pin, line in inputs.items():
        config[pin] = gpiod.LineSettings(
            direction=Direction.INPUT,
            edge_detection=Edge.BOTH,
            bias=Bias.PULL_UP if line.pulled_up else Bias.PULL_DOWN,
            debounce_period=timedelta(microseconds=line.debounce_ns // 1000),
        )
    pins = sorted([*outputs, *inputs])
    with in_words(chip), gpiod.Chip(str(chip)) as device:
        lines = device.get_info().num_lines
        if beyond := [pin for pin in pins if pin >= lines]:
            raise PinsFault(f"{chip}: it has {lines} lines, and no {named(beyond)}")
        try:
            return device.request_lines(
                config, consumer=CONSUMER, event_buffer_size=MOST_EVENTS if inputs else None
            )
        except OSError as fault:
            if fault.errno == errno.EBUSY:
                raise PinsBusy(_busy(device, chip, pins)) from None
            raise


@contextmanager
def in_words(chip: Path) -> Iterator[None]:
    """What the kernel refuses, as `PinsFault`."""
    try:
        yield
    except OSError as fault:
        raise PinsFault(_words(chip, fault)) from None


def _chips() -> list[Path]:
    """The chips of this machine, in the order of their numbers."""
    found = (path for path in Path("/dev").glob("gpiochip*") if path.name[8:].isdecimal())
    return sorted(found, key=lambda path: int(path.name[8:]))


def _label(path: Path) -> str:
    import gpiod

    with gpiod.Chip(str(path)) as chip:
        return chip.get_info().label


def _words(chip: Path, fault: OSError) -> str:
    match fault.errno:
        case errno.EACCES | errno.EPERM:
            return _not_permitted(chip)
        case errno.ENOENT:
            return f"{chip}: there is no such GPIO chip. {_NO_CHIP}"
        case errno.ENODEV | errno.ENOTTY:
            return f"{chip}: this is not a GPIO chip, or is one no more. {_NO_CHIP}"
        case errno.E2BIG:
            return (
                f"{chip}: the kernel takes no more than ten different settings in one request; "
                "give more of the inputs the same debounce"
            )
    return f"{chip}: the kernel refuses: {fault.strerror or fault}"


def _not_permitted(chip: Path) -> str:
    return (
        f"{chip}: this user may not use the pins. They belong to the group gpio: "
        "sudo usermod -aG gpio USER, then log in again"
    )


def _busy(device: gpiod.Chip, chip: Path, pins: list[int]) -> str:
    """Which of these lines are held, by whom, and what to do: EBUSY itself says none of it."""
    held: list[tuple[int, str]] = []
    for pin in pins:
        info = device.get_line_info(pin)
        if info.used:
            held.append((pin, info.consumer or "the kernel"))
    if not held:
        return f"{chip}: some of {named(pins)} were held by another process a moment ago; try again"
    who = "; ".join(f'{named([pin])} by "{consumer}"' for pin, consumer in held)
    if all(consumer == CONSUMER for _, consumer in held):
        return f"{chip}: held already: {who}. Another daemon runs here; end it first"
    return (
        f"{chip}: held already: {who}. End the program that holds them (fuser {chip} finds it); "
        "if it is the kernel, switch that function of the pin off in the boot configuration, "
        "or wire to another pin"
    )
