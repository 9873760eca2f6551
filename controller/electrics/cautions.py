"""What an installer is told before anything else, and what of this house nothing protects."""

from __future__ import annotations

from collections.abc import Iterator

from controller.building.model import Building

ALWAYS = (
    "Ask first whether these bells also serve fire, gas or evacuation. If they do, or nobody can "
    "tell, stop, and ask the authority that they answer to. This is no life-safety alarm.",
    "Extra-low voltage only. The mains side of the supply belongs to a licensed electrician; the "
    "rest, too, is fit only where your local code and people licensed for it say so.",
    "Before a ladder goes up to a bell take its fuse out and carry it with you. A program's "
    "promise is no isolator.",
    "Test every old pair against earth and against every other, for mains and for shorts, before "
    "it is joined. Old wire may hold asbestos or lead.",
    "A battery gives hundreds of amperes: its fuse is at its own terminal, and goes in last.",
    "X0, the supply's 0 V, and XG, the Pi's ground, are joined nowhere. The old panel's wires "
    "end at isolated inputs, never at a pin.",
    "Never a plain diode across an alternating line: it short-circuits every second impulse.",
)


def cautions(building: Building) -> tuple[str, ...]:
    """Those for every house, and then what nothing protects in this one."""
    return (*ALWAYS, *_feed_never_opened(building))


def _feed_never_opened(building: Building) -> Iterator[str]:
    if not building.zones:
        return
    if building.health is None:
        yield (
            "There is no [health] relay, so the bells' feed is a plain wire: where a relay stays "
            "closed, or welds, its bell rings until a hand takes the fuse out."
        )
        return
    unseen = [name for name, zone in building.zones.items() if zone.sense is None]
    if unseen:
        yield (
            f"Zones {', '.join(unseen)} have no sense: a relay that welds there is not noticed, "
            "the feed relay stays closed, and the bell rings until a hand takes the fuse out."
        )
