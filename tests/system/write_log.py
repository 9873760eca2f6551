"""What a disk was told, write by write, and the disk as if its power had gone at some point.

The log is qemu's (`driver=blklogwrites`), in the format of the kernel's dm-log-writes
(Documentation/admin-guide/device-mapper/log-writes.rst).
"""

from __future__ import annotations

import random
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

_MAGIC = 0x6A736677736872
_SECTOR = 512
_FLUSH, _FUA, _DISCARD = 1, 2, 4


class Write(NamedTuple):
    """One entry: what was written where, or a flush of all before."""

    number: int
    ends_at: int  # in the log, bytes: it was there when the log was so long
    offset: int  # on the disk, bytes
    data: bytes
    flush: bool


def writes(log: Path) -> Iterator[Write]:
    """Every entry of a log, in order. Discards are left out: they need not be carried out."""
    with log.open("rb") as stream:
        magic, version, count, size = struct.unpack("<QQQL", stream.read(28))
        assert (magic, version) == (_MAGIC, 1), "this is no log of writes"
        place = size
        for number in range(count):
            stream.seek(place)
            sector, sectors, flags, _ = struct.unpack("<QQQQ", stream.read(32))
            place += size
            data = b""
            if not flags & _DISCARD:
                stream.seek(place)
                data = stream.read(sectors * size)
                place += sectors * size
            yield Write(number, place, sector * size, data, bool(flags & (_FLUSH | _FUA)))


class Disk:
    """A disk's image as a log goes on. Points are asked for in rising order, or the same again."""

    def __init__(self, before: Path, log: Path) -> None:
        self._certain = bytearray(before.read_bytes())  # all up to the last flush
        self._after: list[Write] = []  # what came since
        self._rest = writes(log)
        self._at = 0  # so long was the log when the newest of these was in it

    def crashed(self, ends_at: int, chance: random.Random) -> bytes:
        """The disk had its power gone when its log was `ends_at` long: all up to the last flush,
        and of what came after it a random half, sector by sector.
        """
        while self._at < ends_at and (one := next(self._rest, None)) is not None:
            self._at = one.ends_at
            if one.flush:
                for held in (*self._after, one):
                    self._put(self._certain, held)
                self._after.clear()
            else:
                self._after.append(one)
        image = bytearray(self._certain)
        for held in self._after:
            for at in range(0, len(held.data), _SECTOR):
                if chance.random() < 0.5:
                    data = held.data[at : at + _SECTOR]
                    self._put(image, held._replace(offset=held.offset + at, data=data))
        return bytes(image)

    @staticmethod
    def _put(image: bytearray, one: Write) -> None:
        image[one.offset : one.offset + len(one.data)] = one.data
