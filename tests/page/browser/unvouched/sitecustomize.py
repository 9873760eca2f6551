"""Loaded by a daemon under test at its start: its kernel vouches for no clock, wherever it runs."""

from __future__ import annotations

from controller.timekeeping import kernel

kernel.kernel_word = lambda: kernel.word_of(
    kernel.TIME_ERROR, kernel.STA_UNSYNC, kernel.KERNEL_LIMIT_NS // 1000
)
