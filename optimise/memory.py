"""Memory of freed columns stays with the process that freed it."""

from __future__ import annotations

import ctypes

_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Parameters of ``mallopt`` in glibc."""
KEPT = 1 << 30
"""Free memory [bytes] at the end of the heap that is not given back."""
MAPPED = 1 << 25
"""Blocks [bytes] from which on the system is asked for each: the most that glibc takes."""


def keep_freed() -> None:
    """Have the C library keep what columns free, where it is glibc.

    It would give a column of some 100 kB back to the system and ask for another at the next step
    of a formula, and the system clears each page anew: a third of the time of a search.
    """
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):
        return
    mallopt(_MMAP_THRESHOLD, MAPPED)
    mallopt(_TRIM_THRESHOLD, KEPT)
