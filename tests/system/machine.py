"""A small handle on a guest: boot it, run commands there, drive and read its lines, cut its power.

A `Machine` is a disk (a layer over one that nobody writes to) and, while it has power, a qemu. What
its lines did is in `record`, over all its boots: see `recording`.
"""

from __future__ import annotations

import json
import shlex
import shutil
import signal
import socket
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal, NamedTuple

from build_guest import Guest
from recording import Recording

BOOT_SECONDS = 600.0  # of the host's, which may be busy
RUN_SECONDS = 400.0
# The guest's time is counted in its instructions, 2^SHIFT ns each, and stands still while the host
# lets it wait: so a busy host makes its day longer, and no edge later. 2 ns are 500 million
# instructions a second, less than any Pi since the second (a choice; no source).
SHIFT = 1
PULL = "/sys/devices/platform/gpio-sim.0/gpiochip0/sim_gpio{}/{}"
UNIT = "understudy"
SOCKET = "/run/understudy/understudy.sock"


class Told(NamedTuple):
    """What a command in the guest came to."""

    code: int | None  # None: it was not over in its time
    out: str
    err: str


class GuestFault(AssertionError):
    """The guest did not do what it was told, in words."""


class Machine:
    """A machine of its own; `folder` has its disk and what it said."""

    def __init__(
        self,
        guest: Guest,
        folder: Path,
        layer: Path | None = None,
        *,
        harsh: bool = False,
    ) -> None:
        """`layer`: the disk below, the guest's bare one unless given. `harsh`: what the guest
        flushes is really flushed, so that a cut may be judged; else the disk is quicker, and lost
        with a cut.
        """
        self.guest, self.folder = guest, folder
        self.disk, self.record = folder / "disk.qcow2", Recording()
        self.more_drives: list[str] = []  # qemu's words for further disks
        self.wires: tuple[tuple[int, int], ...] = ()
        self.held: dict[int, bool] = {}  # lines held from outside, over boots as well
        self._cache = "writeback" if harsh else "unsafe"
        self._running: subprocess.Popen[bytes] | None = None
        self._agent: _Agent | None = None
        folder.mkdir(parents=True, exist_ok=True)
        new_layer(layer or guest.base, self.disk)

    # ── power ────────────────────────────────────────────────────────────────────────────────────

    def boot(self, clock: datetime) -> None:
        """Give it power, and wait until it carries out what it is told. `clock` is what its own
        clock says as it gets it.
        """
        self._power(clock, [])
        assert self._agent is not None
        if not self._agent.here.wait(BOOT_SECONDS):
            raise GuestFault(f"not up within {BOOT_SECONDS:g} s:\n{self.console()[-3000:]}")
        for line, high in dict(self.held).items():
            self.drive(line, high)
        self.wire(*self.wires)

    def go_on(self, clock: datetime, frozen: Path) -> None:
        """Be what `freeze` wrote down, from that instant on; `clock` is what that one booted with.
        Its disk must be a layer over that one's.
        """
        self._power(clock, ["-incoming", f"exec:cat {frozen}"])
        give_up = time.monotonic() + BOOT_SECONDS
        while not self.record.now:
            if time.monotonic() > give_up:
                raise GuestFault("it does not go on")
            time.sleep(0.02)

    def freeze(self, to: Path) -> None:
        """Write all its memory down, and take its power away; its disk is as it was just then."""
        self._qmp("migrate", uri=f"exec:cat >{to}")
        give_up = time.monotonic() + 120
        while (status := self._qmp("query-migrate").get("status")) != "completed":
            if status == "failed" or time.monotonic() > give_up:
                raise GuestFault(f"its memory could not be written down: {status}")
            time.sleep(0.1)
        self.quit()

    def quit(self) -> None:
        """Take its power away, and let qemu write down what it holds itself."""
        self._qmp("quit")
        assert self._running is not None
        self._running.wait(60)
        self._gone()

    def _power(self, clock: datetime, more: list[str]) -> None:
        assert self._running is None, "it has power"
        self._sockets = Path(tempfile.mkdtemp(prefix="guest-"))  # a socket's path may not be long
        sockets = [self._sockets / name for name in ("agent", "record", "monitor")]
        base = clock.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S")
        with (self.folder / "qemu.log").open("ab") as log:
            self._running = subprocess.Popen(
                ["nice", "-n", "-5", *self._words(*sockets, base), *more],  # a wait of it is judged
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
            )
        agent, record, monitor = sockets
        self.record.listen(self._connected(record))
        self._agent = _Agent(self._connected(agent))
        self._monitor = self._connected(monitor).makefile("rwb")
        self._monitor.readline()  # its greeting
        self._qmp("qmp_capabilities")

    def _connected(self, path: Path) -> socket.socket:
        """A link to one of qemu's sockets, which are there some time after its start."""
        assert self._running is not None
        give_up = time.monotonic() + 20
        while True:
            link = socket.socket(socket.AF_UNIX)
            try:
                link.connect(str(path))
            except OSError:
                link.close()
                if self._running.poll() is not None or time.monotonic() > give_up:
                    log = (self.folder / "qemu.log").read_text(errors="replace")
                    raise GuestFault(f"qemu does not start: {log[-2000:]}") from None
                time.sleep(0.02)
            else:
                return link

    def _qmp(self, order: str, **given: Any) -> dict[str, Any]:
        """Tell qemu itself."""
        self._monitor.write(json.dumps({"execute": order, "arguments": given}).encode() + b"\n")
        self._monitor.flush()
        for line in self._monitor:
            answer = json.loads(line)
            if "return" in answer:
                told: dict[str, Any] = answer["return"]
                return told
            if "error" in answer:
                raise GuestFault(f"qemu, {order}: {answer['error']['desc']}")
        raise GuestFault(f"qemu, {order}: no answer")

    def _words(self, agent: Path, record: Path, monitor: Path, base: str) -> list[str]:
        append = "console=ttyS0 quiet panic=-1 rw root=/dev/vda mitigations=off"
        return [
            "qemu-system-x86_64", "-machine", "pc", "-accel", "tcg,thread=single", "-cpu", "max",
            "-smp", "1", "-icount", f"shift={SHIFT},sleep=on",
            "-qmp", f"unix:{monitor},server=on,wait=off",
            "-m", "640", "-nodefaults", "-no-user-config", "-display", "none", "-nic", "none",
            "-no-reboot", "-rtc", f"base={base},clock=vm",
            "-kernel", str(self.guest.kernel), "-initrd", str(self.guest.initrd),
            "-append", append,
            "-drive", f"file={self.disk},format=qcow2,if=virtio,cache={self._cache},discard=unmap",
            "-drive", f"file={self.guest.brought},format=raw,if=virtio,readonly=on",
            *self.more_drives,
            "-chardev", f"file,id=console,path={self.folder / 'console.log'},append=on",
            "-serial", "chardev:console",
            "-device", "virtio-serial-pci",
            "-chardev", f"socket,id=agent,path={agent},server=on,wait=off",
            "-device", "virtserialport,chardev=agent,name=agent",
            "-chardev", f"socket,id=record,path={record},server=on,wait=on",
            "-device", "isa-debugcon,iobase=0xe9,chardev=record",
        ]  # fmt: skip

    def cut(self) -> None:
        """Take all power away at once."""
        assert self._running is not None, "it has no power"
        self._running.send_signal(signal.SIGKILL)
        self._running.wait()
        self._gone()

    def shut_down(self) -> None:
        """As its user would."""
        assert self._running is not None, "it has no power"
        self.run("systemctl", "poweroff", "--no-block", check=False)
        try:
            self._running.wait(60)
        except subprocess.TimeoutExpired:
            self.cut()
            raise GuestFault(f"it does not shut down:\n{self.console()[-3000:]}") from None
        self._gone()

    def _gone(self) -> None:
        self.record.power_is_away()
        if self._agent is not None:
            self._agent.close()
            self._monitor.close()
        shutil.rmtree(self._sockets, ignore_errors=True)
        self._running = self._agent = None

    def close(self) -> None:
        """No power, whatever became of it, and no disk."""
        if self._running is not None:
            self.cut()
        self.disk.unlink(missing_ok=True)

    @property
    def has_power(self) -> bool:
        return self._running is not None

    def console(self) -> str:
        """What its kernel and its systemd said aloud."""
        log = self.folder / "console.log"
        return log.read_text(errors="replace") if log.exists() else ""

    # ── commands ─────────────────────────────────────────────────────────────────────────────────

    def run(
        self,
        *words: str,
        check: bool = True,
        seconds: float = RUN_SECONDS,
        given: str | None = None,
    ) -> Told:
        """Run a command there as root, and have what it said."""
        assert self._agent is not None, "it has no power"
        told = self._agent.ask(list(words), given, seconds)
        if check and told.code != 0:
            raise GuestFault(f"{shlex.join(words)}: {told.code}\n{told.out}{told.err}"[-4000:])
        return told

    def sh(self, script: str, *, check: bool = True, seconds: float = RUN_SECONDS) -> str:
        """What a shell there says to a script."""
        return self.run("sh", "-c", script, check=check, seconds=seconds).out

    def until(self, script: str, seconds: float = 60.0) -> float:
        """Wait until a shell there finds it true; the seconds that took."""
        began = time.monotonic()
        while self.run("sh", "-c", script, check=False).code != 0:
            if time.monotonic() - began > seconds:
                raise GuestFault(f"{script}: not within {seconds:g} s\n{self.journal()[-3000:]}")
            time.sleep(0.5)  # each look takes the guest's time
        return time.monotonic() - began

    def put(self, path: str, text: str) -> None:
        """A file there."""
        self.run("sh", "-c", 'mkdir -p "$(dirname "$0")" && cat >"$0"', path, given=text)

    def shown(self, *properties: str) -> dict[str, str]:
        """What its systemd says of the daemon's unit."""
        told = self.run("systemctl", "show", UNIT, f"--property={','.join(properties)}").out
        return dict(line.split("=", 1) for line in told.splitlines())

    def journal(self) -> str:
        """What the unit has said in this boot."""
        words = ["journalctl", "-b", f"--unit={UNIT}", "--output=cat", "--no-pager"]
        return self.run(*words, check=False).out

    def order(self, name: str, **keys: Any) -> dict[str, Any]:
        """Give the daemon an order, and have its answer. `GuestFault`: it was not done."""
        asked = json.dumps({"id": 1, "order": name, **keys}) + "\n"
        told = self.run(f"unix:{SOCKET}", given=asked)
        answer: dict[str, Any] = json.loads(told.out)
        if not answer.get("ok"):
            raise GuestFault(f"{name}: {answer}")
        return answer

    def status(self) -> dict[str, Any]:
        """The daemon's own state, as it tells it."""
        state: dict[str, Any] = self.order("status")["state"]
        return state

    def clock(self) -> int:
        """Its own clock now, UTC in ns."""
        return int(self.sh("date +%s%N"))

    def sleep(self, seconds: float) -> None:
        """Let so much of its own time go by."""
        until = self.record.now + round(seconds * 1_000_000_000)
        give_up = time.monotonic() + 20 * seconds + 120
        while self.record.now < until:
            if time.monotonic() > give_up:
                raise GuestFault(f"it stands still: {self.console()[-2000:]}")
            time.sleep(0.02)

    # ── lines ────────────────────────────────────────────────────────────────────────────────────

    def drive(self, line: int, high: bool) -> None:
        """Hold a line from outside, as a contact would; over boots as well."""
        self.held[line] = high
        self.sh(f"echo {'pull-up' if high else 'pull-down'} >{PULL.format(line, 'pull')}")

    def choose_chip(self, chip: Literal["sticky", "stock"]) -> None:
        """Whether a line keeps its level when its holder lets go ("sticky", as the board vendor's
        kernel has it; so from the start), or goes back to its pull ("stock").
        """
        self.sh(f"echo {int(chip == 'sticky')} >/sys/module/gpio_sim/parameters/keeps_level")

    def level(self, line: int) -> int:
        """What stands at a line now."""
        return int(self.sh(f"cat {PULL.format(line, 'value')}"))

    def wire(self, *wires: tuple[int, int]) -> None:
        """Let inputs follow outputs, each as (output, input), and no others; over boots as well."""
        self.wires = wires
        for name, ends in (("from", [a for a, _ in wires]), ("to", [b for _, b in wires])):
            told = ",".join(map(str, ends)) or "-1"
            self.sh(f"echo {told} >/sys/module/gpio_sim/parameters/wired_{name}")


def new_layer(below: Path, layer: Path) -> None:
    """A disk that begins as another one is, which must not change from now on."""
    kind = "raw" if below.suffix == ".img" else "qcow2"
    beside = below.parent.resolve() == layer.parent.resolve()  # these move together
    name = below.name if beside else str(below.resolve())
    words = ["-q", "-f", "qcow2", "-F", kind, "-b", name, str(layer)]
    layer.unlink(missing_ok=True)
    subprocess.run(["qemu-img", "create", *words], check=True, capture_output=True)


@contextmanager
def machine(guest: Guest, folder: Path, layer: Path | None = None, **how: Any) -> Iterator[Machine]:
    """A machine; its power and its disk are away afterwards, and what it said stays."""
    one = Machine(guest, folder, layer, **how)
    try:
        yield one
    finally:
        one.close()


class _Agent:
    """The host's end of the guest's agent."""

    def __init__(self, link: socket.socket) -> None:
        self.here = threading.Event()
        self._link = link
        self._lock = threading.Lock()
        self._number = 0
        self._answers: dict[int, Told] = {}
        self._news = threading.Condition()
        self._ended = False
        threading.Thread(target=self._listen, daemon=True).start()

    def ask(self, words: Sequence[str], given: str | None, seconds: float) -> Told:
        with self._lock:
            self._number += 1
            number = self._number
            asked = {"id": number, "run": list(words), "input": given, "seconds": seconds}
            try:
                self._link.sendall(json.dumps(asked).encode() + b"\n")
            except OSError:
                raise GuestFault(f"{shlex.join(words)}: the guest has no power") from None
        with self._news:
            there = self._news.wait_for(
                lambda: number in self._answers or self._ended, timeout=seconds + 30
            )
            if number not in self._answers:
                why = "the guest went" if there else f"no answer within {seconds + 30:g} s"
                raise GuestFault(f"{shlex.join(words)}: {why}")
            return self._answers.pop(number)

    def _listen(self) -> None:
        try:
            with self._link.makefile("rb") as stream:
                for line in stream:
                    try:
                        answer = json.loads(line)
                    except ValueError:
                        continue
                    if answer["id"] == 0:
                        self.here.set()
                        continue
                    with self._news:
                        told = Told(answer["code"], answer["out"], answer["err"])
                        self._answers[answer["id"]] = told
                        self._news.notify_all()
        except (OSError, ValueError):
            pass
        with self._news:
            self._ended = True
            self._news.notify_all()

    def close(self) -> None:
        self._link.close()
