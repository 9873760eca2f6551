"""Cross-checks of the installer's tables: pins, lines, panel, supply."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from controller.building.draft import Draft
from controller.building.durations import duration_text
from controller.building.entries import Entry, Unread, judged
from controller.building.faults import Fault, not_known
from controller.building.installed import Line, PanelEntry, Zone
from controller.building.values import EVERY_ZONE

_HAIR = 1e-9  # amperes: sums of decimal fractions are not exact


def wiring_faults(draft: Draft) -> list[Fault]:
    """All faults of the wiring, as far as its tables are sound."""
    faults: list[Fault] = []
    if draft.whole and not draft.zones and not draft.lines:
        words = "has neither zones nor lines; expected a [zones.NAME] or a [lines.NAME]"
        faults.append(Fault(draft.path, "", "", None, words))
    faults += _pins_used_twice(draft)
    for line in draft.lines.values():
        for check in (_relays_fit_drive, _senses_fit_relays, _impulses_fit, _patience_fits):
            faults += judged(check(line))
        faults += judged(_series_keys(line))
        faults += judged(_return_fits_drive(line))
    for entry in draft.panel.values():
        faults += judged(_panel_fits(entry))
        faults += judged(_panel_zones(entry, draft))
        faults += judged(_panel_line(entry, draft))
    faults += judged(_lines_carried(draft))
    for zone in draft.zones.values():
        faults += judged(_bells_carried(zone, draft))
    circuits: list[Entry[Any]] = [*draft.zones.values(), *draft.lines.values()]
    for circuit in circuits:
        faults += judged(_return_known(circuit, draft))
    return faults


# ── pins ─────────────────────────────────────────────────────────────────────────────────────────


def _pins_used_twice(draft: Draft) -> list[Fault]:
    """Relays, senses, panel, health and supply share one space of pins."""
    used: dict[int, tuple[Entry[Any], str]] = {}
    faults: list[Fault] = []
    for entry, key in _pin_keys(draft):
        for pin in _pins(entry, key):
            if pin not in used:
                used[pin] = (entry, key)
                continue
            first, its_key = used[pin]
            file = "" if first.file == entry.file else f" in {first.file}"
            words = (
                f"GPIO {pin} is {first.table} {its_key}{file} already; expected a pin of its own"
            )
            faults.append(entry.fault(key, words))
    return faults


def _pin_keys(draft: Draft) -> Iterator[tuple[Entry[Any], str]]:
    for zone in draft.zones.values():
        yield from ((zone, "relay"), (zone, "sense"))
    for line in draft.lines.values():
        yield from ((line, "relays"), (line, "sense"))
    for entry in draft.panel.values():
        yield entry, "pin"
    if draft.health is not None:
        yield draft.health, "relay"
    yield draft.supply, "sense"


def _pins(entry: Entry[Any], key: str) -> tuple[int, ...]:
    try:
        pins = getattr(entry.value, key)
    except Unread:
        return ()
    if isinstance(pins, int):
        return (pins,)
    return tuple(pins or ())


# ── lines ────────────────────────────────────────────────────────────────────────────────────────


def _relays_fit_drive(line: Entry[Line]) -> Iterator[Fault]:
    drive, relays = line.value.drive, line.value.relays
    if drive == "alternating" and len(relays) != 2:
        yield line.fault("relays", "expected two relays [+, −], for the drive is alternating")
    if drive == "single" and len(relays) != 1:
        yield line.fault("relays", "expected one relay, for the drive is single")


def _senses_fit_relays(line: Entry[Line]) -> Iterator[Fault]:
    relays, sense = line.value.relays, line.value.sense
    if sense is not None and len(sense) != len(relays):
        words = f"expected one input for each of the relays, which are {len(relays)}"
        yield line.fault("sense", words)


def _impulses_fit(line: Entry[Line]) -> Iterator[Fault]:
    """Design rule 11: else dials that are driven never come right."""
    impulse, gap, every = line.value.impulse_ns, line.value.gap_ns, line.value.every_ns
    if impulse + gap >= every:
        key = "impulse" if impulse >= gap else "gap"
        yield line.fault(
            key,
            f"expected impulse + gap ({duration_text(impulse)} + {duration_text(gap)}) "
            f"below every ({duration_text(every)})",
        )


def _patience_fits(line: Entry[Line]) -> Iterator[Fault]:
    patience, face = line.value.patience_ns, line.value.face_ns
    if patience >= face:
        words = f"expected less than the face ({duration_text(face)}), or dials would only wait"
        yield line.fault("patience", words)


def _series_keys(line: Entry[Line]) -> Iterator[Fault]:
    if line.value.wired != "series" and line.value.resistor_ohms is not None:
        yield line.fault("resistor_ohms", 'is for wired = "series"; expected none here')


def _return_fits_drive(line: Entry[Line]) -> Iterator[Fault]:
    """In the change-over form both wires go to + in turn (wiring guide)."""
    if line.value.drive == "alternating" and line.value.shares_return is not None:
        yield line.fault(
            "shares_return",
            "an alternating line shares with nothing: every second impulse its return is at +, "
            "which the others would short-circuit; expected a pair of its own",
        )


def _return_known(circuit: Entry[Any], draft: Draft) -> Iterator[Fault]:
    name = circuit.value.shares_return
    if name is not None and name not in draft.returns and draft.whole:
        yield circuit.fault("shares_return", not_known("return", name, draft.returns))


# ── panel ────────────────────────────────────────────────────────────────────────────────────────


def _panel_fits(entry: Entry[PanelEntry]) -> Iterator[Fault]:
    does = entry.value.does
    wanted = {"ring": "zones", "quiet": "zones", "step": "line", "stop": None}[does]
    for key, example in (("zones", 'zones = ["north"]'), ("line", 'line = "main"')):
        if key == wanted and key not in entry.raw:
            yield entry.fault(key, f'is required where does = "{does}"; expected {example}')
        if key != wanted and key in entry.raw:
            yield entry.fault(key, f'is not for does = "{does}"; expected no {key} here')


def _panel_zones(entry: Entry[PanelEntry], draft: Draft) -> Iterator[Fault]:
    yield from zones_known(entry, entry.value.zones, draft)


def _panel_line(entry: Entry[PanelEntry], draft: Draft) -> Iterator[Fault]:
    line = entry.value.line
    if line is not None and line not in draft.lines and draft.whole:
        yield entry.fault("line", not_known("line", line, draft.lines))


def zones_known(entry: Entry[Any], zones: tuple[str, ...], draft: Draft) -> Iterator[Fault]:
    """Every zone that `zones` names is there, and named once."""
    for zone in dict.fromkeys(zones):
        if zone == EVERY_ZONE:
            if not draft.zones and draft.whole:
                yield entry.fault("zones", 'there are no zones that "*" could mean')
        elif zone not in draft.zones and draft.whole:
            yield entry.fault("zones", not_known("zone", zone, draft.zones))
        if zones.count(zone) > 1:
            yield entry.fault("zones", f'"{zone}" is there twice; expected each zone once')


# ── supply ───────────────────────────────────────────────────────────────────────────────────────


def _lines_carried(draft: Draft) -> Iterator[Fault]:
    amps = draft.supply.value.amps
    if amps is None:
        return
    drawn = sum(line.value.amps for line in draft.lines.values())
    if drawn > amps + _HAIR:
        words = f"the lines draw {drawn:.3g} A together; expected a supply that gives as much"
        yield draft.supply.fault("amps", words)


def _bells_carried(zone: Entry[Zone], draft: Draft) -> Iterator[Fault]:
    """Design rule 9: a zone that can never ring."""
    amps = draft.supply.value.amps
    if amps is None:
        return
    left = amps - sum(line.value.amps for line in draft.lines.values())
    if 0 <= left < zone.value.amps - _HAIR:
        yield zone.fault(
            "amps_each",
            f"its {zone.value.bells} bells draw {zone.value.amps:.3g} A, and the supply has "
            f"{left:.3g} A beside its lines; expected no more than that",
        )
