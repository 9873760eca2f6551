"""The person at a terminal, or at none: what the bench tells and asks there."""

from __future__ import annotations

import contextlib
import os
import sys
import termios
import threading
from collections.abc import Iterator, Sequence

from rich.console import Console, Group
from rich.live import Live
from rich.padding import Padding
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from controller.bench.conduct import Typed, Words
from controller.bench.steps import Announce, Note, Seen

_MARKS = {"well": "ok", "fault": "FAULT"}


class Terminal:
    """Prints to standard output, and reads a line from standard input when it is wanted.

    A terminal that goes away in mid-test is no reason to leave anything undone: from then on
    nothing is printed.
    """

    def __init__(self, words: Words, *, attended: bool, asked_first: bool) -> None:
        self.attended = attended
        self.asked_first = asked_first
        self._words = words
        self._console = Console(highlight=False, soft_wrap=False)
        self._wanted = threading.Semaphore(0)
        self._reading = False
        self._progress: Progress | None = None
        self._live: Live | None = None
        self._shown: object = None
        if attended:
            threading.Thread(target=self._read, name="typed", daemon=True).start()

    # ── what is typed ────────────────────────────────────────────────────────────────────────────

    def listen(self) -> None:
        """Have one line read, which comes as `Typed`."""
        with contextlib.suppress(OSError, ValueError, termios.error):
            if os.isatty(sys.stdin.fileno()):  # what was typed before the question is no answer
                termios.tcflush(sys.stdin.fileno(), termios.TCIFLUSH)
        if not self._reading:
            self._reading = True
            self._wanted.release()

    def _read(self) -> None:
        while True:
            self._wanted.acquire()
            try:
                line = sys.stdin.readline()
            except (OSError, ValueError):
                line = ""
            self._reading = False
            self._words.put(Typed(line or None))
            if not line:
                return

    # ── what is told ─────────────────────────────────────────────────────────────────────────────

    def announce(self, step: Announce) -> None:
        """What comes, what moves, what to do first."""
        self._print("")
        self._print(Text(step.test, style="bold"))
        for line in (step.about, step.moves, step.before):
            self._print(Padding(line, (0, 0, 0, 2), expand=False))

    def say(self, text: str) -> None:
        """A line."""
        self._print(Padding(text, (0, 0, 0, 2), expand=False) if text else "")

    def ask(self, question: str, answers: Sequence[tuple[str, str]]) -> None:
        """A question, and what may be answered."""
        choice = "   ".join(f"{letter} {meaning}" for letter, meaning in answers)
        self._print(f"  {question}  ({choice})")

    def note(self, step: Note) -> None:
        """A result; of many operations, how far they have come."""
        if step.of > 1 and step.done < step.of:
            self._show_progress(step)
            return
        self._end_progress()
        result = step.result
        style = "bold red" if result.verdict == "fault" else ""
        mark = _MARKS.get(result.verdict, result.verdict)
        title = f", {result.title}" if result.title else ""
        self._print(Text(f"  {mark:<10}  {result.what}{title}", style=style))
        for says in result.says:
            self._print(Padding(says, (0, 0, 0, 14), expand=False))

    def show(self, seen: Sequence[Seen], seconds_left: float) -> None:
        """The inputs as they are; drawn anew when something is otherwise, or a second has gone."""
        shown = (seen, int(seconds_left))
        if shown == self._shown:
            return
        self._shown = shown
        table = Table("input", "now", "moved", box=None, pad_edge=False, padding=(0, 3, 0, 0))
        for one in seen:
            now = ("there" if one.closed else "gone") if one.name == "supply" else ""
            now = now or ("closed" if one.closed else "open")
            style = "bold" if one.closed != one.closed_at_first else ""
            table.add_row(one.name, Text(now, style=style), str(one.moves or "not yet"))
        enough = ", or until you press Enter" if self.attended else ""
        left = f"{seconds_left:.0f} s more{enough}"
        with self._if_there():
            if self._live is None:
                self._live = Live(console=self._console, auto_refresh=False)
                self._live.start()
            self._live.update(Padding(Group(table, left), (0, 0, 0, 2)), refresh=True)

    def show_no_more(self) -> None:
        """The inputs are watched no longer."""
        live, self._live = self._live, None
        if live is not None:
            with self._if_there():
                live.stop()
                if not self._console.is_terminal:
                    self._console.print()

    def close(self) -> None:
        """Leave the terminal as it was."""
        self._end_progress()
        self.show_no_more()

    def _show_progress(self, step: Note) -> None:
        if not self._console.is_terminal:
            return
        with self._if_there():
            if self._progress is None:
                self._progress = Progress(
                    TextColumn("  {task.description}"),
                    BarColumn(),
                    MofNCompleteColumn(),
                    TimeRemainingColumn(),
                    console=self._console,
                    auto_refresh=False,
                    transient=True,
                )
                self._progress.start()
            counts = dict(step.result.figures)
            told = "".join(
                f"  {name} {counts[name]:g}" for name in ("missed", "late") if name in counts
            )
            tasks = {task.fields["what"]: task.id for task in self._progress.tasks}
            what = step.result.what
            number = tasks.get(what)
            if number is None:
                number = self._progress.add_task(what, total=step.of, what=what)
            self._progress.update(number, completed=step.done, description=what + told)
            self._progress.refresh()

    def _end_progress(self) -> None:
        progress, self._progress = self._progress, None
        if progress is not None:
            with self._if_there():
                progress.stop()

    def _print(self, what: object) -> None:
        with self._if_there():
            self._console.print(what, markup=False)

    @contextlib.contextmanager
    def _if_there(self) -> Iterator[None]:
        """Where nobody reads any more, or the terminal is gone, nothing is told."""
        try:
            yield
        except OSError:
            self._console.quiet = True
            self._console.file = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
