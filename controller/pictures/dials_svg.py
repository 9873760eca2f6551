"""Dials against true time on one sheet: what is worth it is drawn, the rest is said in words.

To the right is time, upwards what the dials show. True time is the broken line, right dials are the
thick one upon it: steep is a catch-up, flat is a wait, and where the power was away it is hatched.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from controller.building.durations import MINUTE, duration_text
from controller.dials.position import face_text
from controller.pictures import sheet as s
from controller.pictures.changes import clock_changes
from controller.pictures.dials import Course, Dials, LineStory, Span, Stretch, course, length_text
from controller.pictures.sheet import Sheet
from controller.timetable.differences import date_words

_TOP, _BOTTOM = 24.0, s.HEIGHT - s.MARGIN - 7.0
_MOST_WINDOWS, _MOST_LINES = 3, 6
_LABELS = 12.0  # mm, for what is shown
_HEAD, _FEET = 5.0, 6.5  # mm, of a panel
_STEPS = tuple(
    n * MINUTE for n in (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440, 2880, 10080, 40320)
)
_STAIRS = 0.6  # mm: narrower steps are drawn as a slope
_FINEST = 0.08  # mm
_LEAST_TITLE = 14.0  # mm
_MOST_SAID = 3
_MOST_TURNS = 40  # of true time in one panel


class _Panel(NamedTuple):
    """Where one line's window stands."""

    left: float
    right: float
    top: float
    bottom: float
    window: Span
    low: int
    high: int

    def x(self, at: int) -> float:
        start, end = self.window
        share = (min(max(at, start), end) - start) / (end - start)
        return self.left + share * (self.right - self.left)

    def y(self, height: float) -> float:
        share = (height - self.low) / (self.high - self.low)
        return self.bottom - share * (self.bottom - self.top)


def dials_svg(dials: Dials) -> str:
    """The sheet as SVG."""
    name = dials.building or "The building"
    title = f"Dials from {_moment(dials, dials.start)} to {_moment(dials, dials.until)}"
    sheet = Sheet("dials", f"{name}: {title}", _described(dials))
    sheet.text(s.MARGIN, 16.0, title, 5.0, bold=True)
    sheet.text(s.WIDTH - s.MARGIN, 16.0, name, 4.2, anchor="end", room=80)
    windows = dials.windows[:_MOST_WINDOWS]
    lines = dials.lines[:_MOST_LINES]
    if not windows:
        words = "All dials were right throughout." if lines else "There are no lines of dials."
        sheet.text(s.MARGIN, 40.0, words, 6.0)
    wide = (s.WIDTH - 2 * s.MARGIN) / max(len(windows), 1)
    high = (_BOTTOM - _TOP) / max(len(lines), 1)
    for column, window in enumerate(windows):
        for row, story in enumerate(lines):
            left, top = s.MARGIN + column * wide, _TOP + row * high
            box = left + _LABELS, left + wide - 3.0, top + _HEAD, top + high - _FEET
            _panel(sheet, dials, story, window, box)
    _foot(sheet, dials)
    return sheet.xml()


# ── one line in one window ───────────────────────────────────────────────────────────────────────


def _panel(
    sheet: Sheet,
    dials: Dials,
    story: LineStory,
    window: Span,
    box: tuple[float, float, float, float],
) -> None:
    its = course(story, window)
    truth = _truth(dials, story, window, its.steps[0][1])
    heights = [height for _, height in (*its.steps, *(one for run in truth for one in run))]
    # After days without power true time is many turns of the face away: one at most is shown.
    face = story.line.face_ns
    low = max(min(heights), its.steps[0][1] - face)
    high = min(max(heights), its.steps[-1][1] + face)
    spare = max((high - low) // 7, story.line.every_ns)  # for the words above and below
    panel = _Panel(*box, window, low - spare, high + spare)
    _ground(sheet, dials, story, panel)
    _axes(sheet, dials, story, panel)
    for run in truth:
        _true_line(sheet, panel, run, face)
    sheet.path(_shown_path(panel, story, its), s.SOUND, 0.75)
    for impulse, height in its.marks:
        _mark(sheet, panel.x(impulse.at), panel.y(height), cut=impulse.cut)
    x, y = panel.left, panel.top - 1.4
    sheet.text(x, y, story.name, 3.2, bold=True)
    reach = x + len(story.name) * 3.2 * 0.68 + 2.0
    end = _end_words(dials, story) if window == dials.windows[:_MOST_WINDOWS][-1] else ""
    sheet.text(panel.right, y, end, 2.4, anchor="end")
    room = panel.right - reach - len(end) * 2.4 * 0.56
    if room > _LEAST_TITLE:
        sheet.text(reach, y, story.line.title, 2.4, room=room)


def _end_words(dials: Dials, story: LineStory) -> str:
    end = dials.ends.get(story.name)
    return "" if end is None else f"at the end {end.words}"


def _truth(dials: Dials, story: LineStory, window: Span, shown: int) -> list[list[tuple[int, int]]]:
    """True time as straight runs of (outside time, height): broken where the clock jumps."""
    clock, face = dials.clock, story.line.face_ns
    breaks = [*clock.changed(*window)]
    now = window[0]
    while (change := clock.civil.next_change(now, window[1])) is not None:
        breaks.append(change)
        now = change
    # Of all turns of the face, the one that is nearest to what is shown.
    start = clock.local(window[0])
    away = (start - shown + face // 2) % face - face // 2
    base = start - shown - away
    edges = sorted({window[0], *breaks, window[1]})
    return [
        [(a, clock.local(a) - base), (b, clock.local(b - 1) + 1 - base)] for a, b in pairwise(edges)
    ]


def _true_line(sheet: Sheet, panel: _Panel, run: list[tuple[int, int]], face: int) -> None:
    """One straight run, in every turn of the face that the panel has, clipped to it."""
    (a, bottom), (b, top) = run
    turns = range(-((top - panel.low) // face), (panel.high - bottom) // face + 1)
    if top <= bottom or len(turns) > _MOST_TURNS:
        return
    for turn in turns:
        low, high = bottom + turn * face, top + turn * face
        cut_low, cut_high = max(low, panel.low), min(high, panel.high)
        start, end = (a + (at - low) * (b - a) // (high - low) for at in (cut_low, cut_high))
        path = f"M{panel.x(start):.2f},{panel.y(cut_low):.2f}"
        path += f"L{panel.x(end):.2f},{panel.y(cut_high):.2f}"
        sheet.path(path, s.WARN, 0.35, dash="1.6 0.9")


def _shown_path(panel: _Panel, story: LineStory, its: Course) -> str:
    """Steps, where they can be told apart; else the slope that they make."""
    steps = its.steps
    x, y = panel.x(steps[0][0]), panel.y(steps[0][1])
    parts = [f"M{x:.2f},{y:.2f}"]
    drawn = x
    for number, (at, height) in enumerate(steps[1:], 1):
        following = steps[number + 1][0] if number + 1 < len(steps) else panel.window[1]
        x, before, y = panel.x(at), y, panel.y(height)
        if x - drawn >= _STAIRS:
            parts.append(f"L{x:.2f},{before:.2f}V{y:.2f}")
            drawn = x
        elif x - drawn >= _FINEST or panel.x(following) - x >= _STAIRS:
            parts.append(f"L{x:.2f},{y:.2f}")
            drawn = x
    parts.append(f"L{x:.2f},{y:.2f}H{panel.right:.2f}")
    return "".join(parts)


def _ground(sheet: Sheet, dials: Dials, story: LineStory, panel: _Panel) -> None:
    """Where the power was away, where the line was not right, and where the clock jumped."""
    top, high = panel.top, panel.bottom - panel.top
    start, end = panel.window
    stretches = [one for one in story.stretches if one.end > start and one.start < end]
    dark = [one for one in dials.dark if one[1] > start and one[0] < end]
    for stretch in stretches:
        x = panel.x(stretch.start)
        wide = max(panel.x(stretch.end) - x, 0.3)
        sheet.rect(x, top, wide, high, s.TINT, says=_stretch_words(dials, stretch))
    for off, on in dark:
        x = panel.x(off)
        wide = max(panel.x(on) - x, 0.3)
        sheet.rect(x, top, wide, high, sheet.fill("dark"), says=f"off {length_text(on - off)}")
    for at, words in _jumps(dials, panel.window):
        x = panel.x(at)
        sheet.path(f"M{x:.2f},{top:.2f}v{high:.2f}", s.WARN, 0.3)
        _words_at(sheet, panel, words, at, at, panel.bottom - 1.4)
    for stretch in stretches:
        lit = max([stretch.start, *(on for _, on in dark if on < stretch.end)])
        _words_at(sheet, panel, stretch.words, lit, stretch.end, top + 3.0)
    for off, on in dark:
        every = story.line.every_ns
        lost = dials.clock.local(on) // every - dials.clock.local(off) // every
        words = f"off {length_text(on - off)}" + (f", {lost} not given" if lost else "")
        _words_at(sheet, panel, words, off, on, panel.bottom - 1.4)


def _jumps(dials: Dials, window: Span) -> Iterator[tuple[int, str]]:
    """Clock changes and steps of the system's clock within a window, and their words."""
    for change in clock_changes(dials.clock.civil, *window):
        yield change.at, change.words.partition(",")[0]
    for at, by in dials.clock.steps(*window):
        yield at, f"clock stepped by {'−' if by < 0 else '+'}{duration_text(abs(by))}"


def _words_at(sheet: Sheet, panel: _Panel, words: str, start: int, end: int, y: float) -> None:
    """Words over a stretch on a plaque, or as near to it as the panel has room."""
    size = 2.5
    half = len(words) * size * 0.29
    middle = (panel.x(start) + panel.x(end)) / 2
    middle = min(max(middle, panel.left + half + 0.5), panel.right - half - 0.5)
    sheet.rect(middle - half, y - size * 0.95, 2 * half, size * 1.3, s.PAPER)
    sheet.text(middle, y, words, size, anchor="middle")


def _axes(sheet: Sheet, dials: Dials, story: LineStory, panel: _Panel) -> None:
    step = next(
        (one for one in _STEPS if (panel.window[1] - panel.window[0]) / one <= _ticks(panel)),
        _STEPS[-1],
    )
    for at, words in _times(dials, panel.window, step):
        x = panel.x(at)
        sheet.path(f"M{x:.2f},{panel.top:.2f}V{panel.bottom:.2f}", s.RULE, 0.12)
        sheet.text(x, panel.bottom + 2.9, words, 2.3, anchor="middle", fill=s.PALE_INK)
    most = max(int((panel.bottom - panel.top) / 5.0), 2)
    step = next((one for one in _STEPS if (panel.high - panel.low) / one <= most), _STEPS[-1])
    line = story.line
    for height in range(-(-panel.low // step) * step, panel.high, step):
        y = panel.y(height)
        sheet.path(f"M{panel.left:.2f},{y:.2f}H{panel.right:.2f}", s.RULE, 0.12)
        words = face_text(line, height // line.every_ns % line.positions)[:5]
        sheet.text(panel.left - 1.0, y + 0.8, words, 2.3, anchor="end", fill=s.PALE_INK)
    wide, high = panel.right - panel.left, panel.bottom - panel.top
    sheet.rect(panel.left, panel.top, wide, high, stroke=s.INK, thick=0.25)


def _ticks(panel: _Panel) -> int:
    return max(int((panel.right - panel.left) / 11.0), 2)


def _times(dials: Dials, window: Span, step: int) -> Iterator[tuple[int, str]]:
    """Instants at which the local clock shows a round time, and what it shows."""
    civil = dials.clock.civil
    now = window[0]
    while now < window[1]:
        ahead = -civil.local_ns(now) % step
        at = now + ahead
        change = civil.next_change(now, at) if ahead else None
        if change is not None and change < at:
            now = change
            continue
        if at < window[1]:
            local = civil.aware(at)
            midnight = step >= 1440 * MINUTE
            yield at, date_words(local.date()) if midnight else f"{local:%H:%M}"
        now = at + step // 2


def _mark(sheet: Sheet, x: float, y: float, *, cut: bool) -> None:
    """A cross for an impulse that was cut, a ring for one that is given again."""
    if cut:
        sheet.path(f"M{x - 1.1:.2f},{y - 1.1:.2f}l2.2,2.2m0,-2.2l-2.2,2.2", s.WARN, 0.5)
    else:
        sheet.path(f"M{x - 1.2:.2f},{y:.2f}a1.2,1.2 0 1 0 2.4,0a1.2,1.2 0 1 0 -2.4,0", s.WARN, 0.4)


# ── words ────────────────────────────────────────────────────────────────────────────────────────


def _foot(sheet: Sheet, dials: Dials) -> None:
    y, size, x = s.HEIGHT - s.MARGIN - 3.4, 2.4, s.MARGIN
    sheet.path(f"M{x},{y - 0.8}h7", s.SOUND, 0.75)
    x = _key_words(sheet, x + 8, y, "what the dials show, as is believed", size)
    sheet.path(f"M{x},{y - 0.8}h7", s.WARN, 0.35, dash="1.6 0.9")
    x = _key_words(sheet, x + 8, y, "true time", size)
    sheet.rect(x, y - 2.4, 5, 2.8, s.TINT, stroke=s.RULE, thick=0.12)
    x = _key_words(sheet, x + 6, y, "not right", size)
    sheet.rect(x, y - 2.4, 5, 2.8, sheet.fill("dark"), stroke=s.RULE, thick=0.12)
    x = _key_words(sheet, x + 6, y, "no power, and starting again", size)
    for cut, words in ((True, "an impulse cut short"), (False, "given again")):
        _mark(sheet, x + 1.2, y - 0.9, cut=cut)
        x = _key_words(sheet, x + 3.4, y, words, size)
    parts = [f"Times of {dials.clock.civil.key}."]
    left = dials.windows[_MOST_WINDOWS:]
    if left:
        said = "; ".join(_moment(dials, start) for start, _ in left[:_MOST_SAID])
        more = f"; and {len(left) - _MOST_SAID} more" if len(left) > _MOST_SAID else ""
        parts.append(f"Not drawn, for want of room: what begins {said}{more}.")
    others = dials.lines[_MOST_LINES:]
    if others:
        parts.append(f"Lines not drawn: {', '.join(line.name for line in others)}.")
    words = " ".join(parts)
    sheet.text(s.MARGIN, y + 3.6, words, size, fill=s.PALE_INK, room=s.WIDTH - 2 * s.MARGIN)


def _key_words(sheet: Sheet, x: float, y: float, words: str, size: float) -> float:
    sheet.text(x, y, words, size)
    return x + len(words) * size * 0.52 + 4.0


def _moment(dials: Dials, at: int) -> str:
    local = dials.clock.civil.aware(at)
    return f"{date_words(local.date())} {local.year} {local:%H:%M}"


def _stretch_words(dials: Dials, stretch: Stretch) -> str:
    """ "02:00:00 to 03:02:04: driven, 62 impulses"."""
    civil = dials.clock.civil
    start, end = civil.aware(stretch.start), civil.aware(stretch.end)
    return f"{start:%H:%M:%S} to {end:%H:%M:%S}: {stretch.words}"


def _described(dials: Dials) -> str:
    """The dials in words, for those who do not see them."""
    parts = [
        f"No power {_moment(dials, start)} for {length_text(end - start)}."
        for start, end in dials.dark[:_MOST_SAID]
    ]
    for story in dials.lines:
        its = "; ".join(
            f"{date_words(dials.clock.civil.date_at(one.start))} {_stretch_words(dials, one)}"
            for one in story.stretches[: 2 * _MOST_SAID]
        )
        more = len(story.stretches) - 2 * _MOST_SAID
        its += f"; and {more} more" if more > 0 else ""
        end = dials.ends.get(story.name)
        words = f", at the end {end.words}" if end is not None else ""
        parts.append(f"{story.name}: {f'not right {its}' if its else 'right throughout'}{words}.")
    return " ".join(parts)
