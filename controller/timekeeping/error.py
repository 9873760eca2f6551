"""How wrong the clock may be by now, once nobody keeps it (design rule 16)."""

from __future__ import annotations

from typing import NamedTuple

from controller.timekeeping.kernel import KernelWord

# Common practice, from memory: crystals of small boards are specified to ±20 to ±50 ppm, and
# temperature and age add as much. A clock that was kept keeps its last correction of frequency
# and does better. For comparison: NTP reckons with 15 ppm (RFC 5905, PHI), the kernel's `maxerror`
# with 500 ppm (MAXFREQ), which is a bound for a clock that is being steered and no estimate.
DRIFT_PPM = 100


class Correction(NamedTuple):
    """The clock as somebody last put it right."""

    error_ns: int  # how wrong it may have been then
    mono: int
    bound_ns: int  # the kernel's bound as it was last seen


def last_correction(before: Correction | None, word: KernelWord, mono: int) -> Correction | None:
    """The last correction, when the kernel says `word` at `mono`; to be asked once a second or so.

    The kernel's bound grows by itself, and falls only where somebody corrects the clock. The first
    word of all counts as a correction: when the one before it was, nobody can tell.
    """
    if not word.synchronised:
        return before
    if before is None or word.error_ns < before.bound_ns:
        return Correction(word.error_ns, mono, word.error_ns)
    return before._replace(bound_ns=word.error_ns)


def error_now(error_at_loss_ns: int, lost_mono: int, now_mono: int, ppm: int = DRIFT_PPM) -> int:
    """How wrong (ns) a clock may be at `now_mono` that nobody has kept since `lost_mono`."""
    assert now_mono >= lost_mono, "the monotonic clock does not go back within one boot"
    assert error_at_loss_ns >= 0, "an error is an amount"
    return error_at_loss_ns + -(-(now_mono - lost_mono) * ppm // 1_000_000)
