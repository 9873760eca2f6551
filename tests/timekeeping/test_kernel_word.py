"""The kernel's word on its clock: what counts as synchronised, and how wrong it may be."""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.timekeeping.kernel import (
    KERNEL_LIMIT_NS,
    MOST_ERROR_NS,
    STA_DEL,
    STA_INS,
    STA_UNSYNC,
    TIME_ERROR,
    Timex,
    boot_id,
    error_text,
    kernel_word,
    word_of,
)

SECOND = 10**9
TIME_OK, TIME_INS, TIME_DEL = 0, 1, 2  # linux/timex.h


def test_a_clock_that_is_kept_is_synchronised_and_wrong_by_no_more_than_its_bound():
    assert word_of(TIME_OK, 0, 250_000, 37) == (True, SECOND // 4, "", 37, "")


def test_a_clock_that_nobody_has_put_right_is_not_synchronised():
    """So a machine starts, and so setting the clock leaves it: `ntp_clear`, kernel/time/ntp.c."""
    word = word_of(TIME_ERROR, STA_UNSYNC, 16_000_000)
    assert (word.synchronised, word.error_ns) == (False, KERNEL_LIMIT_NS)
    assert word.why == "no time server has put the clock right"


def test_a_clear_mark_alone_is_not_enough_where_the_bound_is_at_its_limit():
    """Some daemons leave the mark clear and the bound at 16 s (systemd, commit bca5a0eacc)."""
    word = word_of(TIME_OK, 0, 16_000_000)
    assert not word.synchronised
    assert "it may be 16 s wrong" in word.why


def test_a_small_bound_alone_is_not_enough_where_the_mark_is_set():
    """A time daemon may set it to keep the kernel from writing the RTC (same commit)."""
    word = word_of(TIME_ERROR, STA_UNSYNC, 1000)
    assert (word.synchronised, word.error_ns) == (False, KERNEL_LIMIT_NS)
    assert "rtcsync" in word.why


def test_our_limit_is_four_seconds_and_four_seconds_are_too_many():
    assert word_of(TIME_OK, 0, 3_999_999).synchronised
    assert not word_of(TIME_OK, 0, 4_000_000).synchronised


def test_one_answer_that_is_lost_does_not_make_the_word_waver():
    """500 µs a second between two questions, 2,048 s at most (timesyncd.conf(5)); one is lost."""
    assert MOST_ERROR_NS > 2 * 2048 * 500 * 1000


def test_a_fault_of_the_clock_is_no_synchronised_clock():
    word = word_of(TIME_ERROR, 0x1000, 0)  # STA_CLOCKERR
    assert not word.synchronised
    assert word.why == "the kernel reports a fault of its clock"


@pytest.mark.parametrize(
    ("state", "status", "leap"),
    [(TIME_OK, 0, ""), (TIME_INS, STA_INS, "inserted"), (TIME_DEL, STA_DEL, "deleted")],
)
def test_a_leap_second_is_announced_and_the_clock_still_kept(state, status, leap):
    word = word_of(state, status, 1000, 37)
    assert (word.synchronised, word.leap, word.tai_seconds) == (True, leap, 37)


@given(
    st.sampled_from(range(6)),
    st.integers(0, 0xFFFF),
    st.integers(-(2**63), 2**63 - 1),
)
def test_whatever_the_kernel_answers_there_is_a_word_and_a_reason_for_a_no(state, status, maxerror):
    word = word_of(state, status, maxerror)
    assert 0 <= word.error_ns <= KERNEL_LIMIT_NS
    assert word.synchronised == (word.why == "")
    if word.synchronised:
        assert word.error_ns < MOST_ERROR_NS
        assert not status & STA_UNSYNC


# ── this kernel ──────────────────────────────────────────────────────────────────────────────────


def test_this_kernel_answers_and_twice_the_same():
    word = kernel_word()
    assert "adjtimex" not in word.why, word.why
    assert kernel_word().synchronised == word.synchronised


def test_a_kernel_that_may_not_be_asked_gives_no_word_and_says_what_forbids_it():
    """A process under the filter that ProtectClock= sets up: adjtimex ends in EPERM.

    The filter is set up in a child that asks and ends. systemd.exec(5): ProtectClock= blocks the
    system call altogether, whether it sets or only asks.
    """
    done = subprocess.run(
        [sys.executable, "-c", FORBIDDEN], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("False 16000000000 ")
    assert "ProtectClock=" in done.stdout


FORBIDDEN = """
import ctypes, os, platform, struct
from controller.timekeeping.kernel import kernel_word
NUMBERS = {"x86_64": (159, 305), "aarch64": (171, 266)}  # adjtimex, clock_adjtime
numbers = NUMBERS.get(platform.machine(), (124, 372, 405))
libc = ctypes.CDLL(None, use_errno=True)
EPERM, ALLOW, ERRNO = 1, 0x7FFF0000, 0x00050000  # linux/seccomp.h
code = [struct.pack("=HBBI", 0x20, 0, 0, 0)]  # load the number of the system call
for number in numbers:
    code += [struct.pack("=HBBI", 0x15, 0, 1, number), struct.pack("=HBBI", 6, 0, 0, ERRNO | EPERM)]
code.append(struct.pack("=HBBI", 6, 0, 0, ALLOW))
text = ctypes.create_string_buffer(b"".join(code))
class Program(ctypes.Structure):
    _fields_ = [("length", ctypes.c_ushort), ("code", ctypes.c_void_p)]
program = Program(len(code), ctypes.addressof(text))
assert libc.prctl(38, 1, 0, 0, 0) == 0  # PR_SET_NO_NEW_PRIVS
assert libc.prctl(22, 2, ctypes.byref(program), 0, 0) == 0  # PR_SET_SECCOMP
word = kernel_word()
print(word.synchronised, word.error_ns, word.why)
"""


def test_a_run_of_the_machine_has_one_identifier():
    assert boot_id() == boot_id()
    assert len(boot_id()) == 36


# ── the layout of the answer, against the C compiler ─────────────────────────────────────────────


def compiler() -> str:
    found = shutil.which("gcc")
    if found is None:
        assert "CI" not in os.environ, "CI has a compiler, and skips nothing"
        pytest.skip("no C compiler here")
    return found


def asserted(header: str, fields: list[tuple[str, type]]) -> str:
    """A C program that compiles only where `struct timex` of `header` is laid out as `fields`."""
    layout = type("Layout", (ctypes.Structure,), {"_fields_": fields})
    lines = ["#include <stddef.h>", f"#include <{header}>"]
    lines.append(f"_Static_assert(sizeof(struct timex) == {ctypes.sizeof(layout)}, {header!r});")
    for name, _ in fields:
        if name not in ("reserved", "time_usec"):
            member = "time" if name == "time_sec" else name
            place = getattr(layout, name).offset
            lines.append(f'_Static_assert(offsetof(struct timex, {member}) == {place}, "{name}");')
    return "\n".join(lines).replace("'", '"')


def compile_text(text: str, folder: Path, *flags: str) -> None:
    source = folder / "layout.c"
    source.write_text(text)
    done = subprocess.run(
        [compiler(), "-fsyntax-only", *flags, str(source)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("header", ["sys/timex.h", "linux/timex.h"])
def test_the_answer_is_laid_out_as_the_c_library_and_the_kernel_lay_it_out(header, tmp_path):
    compile_text(asserted(header, list(Timex._fields_)), tmp_path)


def test_on_a_32_bit_machine_it_is_laid_out_with_32_bit_numbers(tmp_path):
    """The C library's symbol `adjtimex` keeps the kernel's older layout there, of 128 bytes.

    Only numbers of 32 bits are in it, so it is the same on every such machine; here it is compiled
    for the 32-bit mode of x86.
    """
    fields = [
        (name, ctypes.c_int32 if kind is ctypes.c_long else kind) for name, kind in Timex._fields_
    ]
    folders = [f"-I{path}" for path in Path("/usr/include").glob("x86_64-linux-gnu")]
    if not folders:
        pytest.skip("the 32-bit mode is x86's")
    compile_text(asserted("linux/timex.h", fields), tmp_path, "-m32", *folders)


# ── in words ─────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("nanoseconds", "words"),
    [
        (0, "0.1 s"),
        (1, "0.1 s"),
        (SECOND // 10, "0.1 s"),
        (SECOND // 10 + 1, "0.2 s"),
        (2_400_000_000, "2.4 s"),
        (10 * SECOND, "10.0 s"),
        (10 * SECOND + 1, "11 s"),
        (120 * SECOND, "120 s"),
        (120 * SECOND + 1, "3 min"),
        (7200 * SECOND, "120 min"),
        (7200 * SECOND + 1, "3 h"),
        (172_800 * SECOND, "48 h"),
        (172_801 * SECOND, "3 days"),
    ],
)
def test_an_error_is_told_in_words_that_never_make_it_less(nanoseconds, words):
    assert error_text(nanoseconds) == words
