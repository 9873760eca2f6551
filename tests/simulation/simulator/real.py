"""The service's own code, on virtual time: copies of its modules that read the world's clocks.

`EngineRoom`, `JournalThread` and `Backlog` are the controller's, line for line; only what they call
`time` is another. The originals stay as they are, for whoever else uses them in this process.
"""

from __future__ import annotations

import sys
from importlib.util import find_spec, module_from_spec, spec_from_file_location
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulator.world import World


class WorldTime:
    """The module `time`, as far as the service uses it, in the world that runs now."""

    world: World

    def time_ns(self) -> int:
        return self.world.t + self.world.clock.shift

    def monotonic_ns(self) -> int:
        return self.world.t - self.world.clock.mono_zero

    def monotonic(self) -> float:
        return self.monotonic_ns() / 1e9


TIME = WorldTime()


def _copy(name: str) -> ModuleType:
    original = find_spec(name)
    assert original is not None
    assert original.origin is not None
    copied = f"{name} on virtual time"
    spec = spec_from_file_location(copied, original.origin)
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    sys.modules[copied] = module
    spec.loader.exec_module(module)
    module.time = TIME  # type: ignore[attr-defined]
    return module


_backlog = _copy("controller.service.backlog")
_journal = _copy("controller.service.journal_thread")
_journal.Backlog = _backlog.Backlog  # type: ignore[attr-defined]
_room = _copy("controller.service.engine_room")

Backlog = _backlog.Backlog
Batch = _journal.Batch
EngineRoom = _room.EngineRoom
JournalThread = _journal.JournalThread
