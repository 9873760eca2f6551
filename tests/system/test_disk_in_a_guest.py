"""The guest's own disk full, and remounted read-only: bells and dials go on, the fault is loud, and
storing resumes by itself.
"""

from __future__ import annotations

import pytest
from figures import note
from judging import HALL_LINE, drive, exact, wrong_edges
from machine import Machine

pytestmark = pytest.mark.system

STATE = "/var/lib/understudy"
# A file that takes all room that is left, and a disk that can be filled without the guest's own.
FULL = (
    f"dd if=/dev/zero of={STATE}/filler bs=64k 2>/dev/null; dd if=/dev/zero of={STATE}/more bs=512"
)


def on_a_small_disk(work: Machine) -> None:
    """The store's folder on a disk of its own, which is small."""
    work.sh("systemctl stop understudy")
    work.sh("truncate -s 12M /small.img && mkfs.ext4 -q -F -m 0 /small.img")
    work.sh(f"mount -o loop /small.img /mnt && cp -a {STATE}/. /mnt")
    work.sh(f"chown --reference={STATE} /mnt && chmod --reference={STATE} /mnt")
    work.sh(f"umount /mnt && mount -o loop /small.img {STATE}")
    work.sh("systemctl start understudy")


@pytest.mark.parametrize("how", ["full", "read-only"])
def test_bells_and_dials_go_on_and_storing_resumes(work: Machine, how: str) -> None:
    on_a_small_disk(work)
    begin = work.record.mark()
    since = drive(work, HALL_LINE, "03:00")
    work.sleep(3)
    if how == "full":
        work.sh(FULL, check=False)
    else:
        work.sh(f"mount -o remount,ro {STATE}")
    work.order("follow", date="2026-12-24", plan="none") if how == "full" else None
    work.sleep(6)
    mark = work.record.mark()
    work.sleep(5)
    relays = [edge.line for edge in work.record.since(mark) if edge.what == "level"]
    impulses = sum(line in HALL_LINE.relays for line in relays) // 2
    note(f"impulses in 5 s while the disk is {how}", impulses, "impulses")
    assert impulses >= 2
    if how == "read-only":
        assert any(one["name"] == "store" for one in lasting(work)), work.status()["faults"]
        work.sh(f"mount -o remount,rw {STATE}")
    else:
        work.sh(f"rm {STATE}/filler {STATE}/more")
    work.sleep(15)
    assert not any(one["name"] == "store" for one in lasting(work)), work.status()["faults"]
    exact(work, HALL_LINE, since, "03:00")
    assert wrong_edges(work.record.since(begin)) == []


def lasting(work: Machine) -> list[dict]:
    return [one for one in work.status()["faults"] if one["until"] is None]
