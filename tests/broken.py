"""Files broken on purpose."""

from __future__ import annotations

SQLITE_PAGE = 4096
"""Bytes of a page; the tables of a file and what they are called begin on the first two."""
SQLITE_CHANGES = 27
"""Last byte of the count of changes: SQLite reads again what it has read where that is another."""


def torn(base: bytes) -> bytes:
    """SQLite file whose tables are garbage while what tells of them is whole."""
    head = bytearray(base[: 2 * SQLITE_PAGE])
    head[SQLITE_CHANGES] ^= 1
    return bytes(head) + b"\xff" * (len(base) - len(head))
