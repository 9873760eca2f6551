"""The guest's disk full, and made read-only: bells and dials go on, and storing with them again."""

from __future__ import annotations

import pytest
from figures import note
from guest_at_work import NORTH, at_rest
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


def test_with_a_full_disk_bells_and_dials_go_on(work: Machine) -> None:
    """There is room kept for a day of impulses, so that nothing is amiss as yet."""
    on_a_small_disk(work)
    begin = work.record.mark()
    since = drive(work, HALL_LINE, "03:00")
    work.sleep(3)
    work.sh(FULL, check=False)
    assert work.sh(f"df --output=avail {STATE} | tail -1").strip() == "0"
    work.order("follow", date="2026-12-24", plan="none")
    goes_on(work, "full")
    work.sh(f"rm {STATE}/filler {STATE}/more")
    is_well_after_all(work, since, begin)


def test_with_a_read_only_disk_the_fault_is_loud_and_a_restart_on_a_mended_one_is_exact(
    work: Machine,
) -> None:
    on_a_small_disk(work)
    begin = work.record.mark()
    since = drive(work, HALL_LINE, "03:00")
    work.sleep(3)
    work.sh(f"mount -o remount,abort {STATE}")  # what the kernel does at an error of the disk
    assert work.run("touch", f"{STATE}/there", check=False).code != 0
    goes_on(work, "read-only")
    assert any(one["name"] == "store" for one in lasting(work)), work.status()["faults"]
    # No disk comes back from that under open files. What it lacks is in the runtime folder.
    work.sh("systemctl stop understudy")
    work.sh(f"umount {STATE}; e2fsck -fp /small.img", check=False)
    work.sh(f"mount -o loop /small.img {STATE}")
    work.sh("systemctl start understudy")
    is_well_after_all(work, since, begin)


def test_where_a_flush_is_answered_and_nothing_written_the_fault_is_loud_and_ends_by_itself(
    work: Machine,
) -> None:
    """All disks read-only under open files, by the kernel's own key for emergencies."""
    begin = work.record.mark()
    since = drive(work, HALL_LINE, "03:00")
    work.sleep(3)
    work.sh("echo u >/proc/sysrq-trigger")
    work.sleep(3)
    assert "ro," in work.sh("grep ' / ext4 ' /proc/mounts")
    goes_on(work, "read-only, and says nothing")
    assert any(one["name"] == "store" for one in lasting(work)), work.status()["faults"]
    work.sh("mount -o remount,rw /")
    is_well_after_all(work, since, begin)


def goes_on(work: Machine, disk: str) -> None:
    work.sleep(6)
    mark = work.record.mark()
    work.sleep(5)
    relays = [edge.line for edge in work.record.since(mark) if edge.what == "level"]
    impulses = sum(line in HALL_LINE.relays for line in relays) // 2
    note(f"impulses in 5 s while the disk is {disk}", impulses, "impulses")
    assert impulses >= 2
    at_rest(work)  # where the minute's own ring sounds, this one would join it
    mark = work.record.mark()
    work.order("ring", zones=["north"], **{"for": "1s"})
    work.record.wait_for(NORTH, 1, mark, 60)


def is_well_after_all(work: Machine, since: int, begin: int) -> None:
    work.sleep(15)
    assert not any(one["name"] == "store" for one in lasting(work)), work.status()["faults"]
    exact(work, HALL_LINE, since, "03:00")
    assert wrong_edges(work.record.since(begin)) == []


def lasting(work: Machine) -> list[dict]:
    return [one for one in work.status()["faults"] if one["until"] is None]
