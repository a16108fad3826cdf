"""Cases looked for by the lines of code that they reach: one process for each part of the tool.

A process knows its part, mutates as the other cases do or byte by byte, and keeps what reached new
lines in ``.fuzz/PART/corpus``; the next run goes on from there. Findings lie beside it, for each
kind an input and what came of it.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import time
from pathlib import Path

PARTS = ("study", "list", "units", "set", "answer", "table")
PLACE = Path(".fuzz")


def guided(seconds: float, parts: list[str]) -> int:
    """Run so many seconds, shared among the parts; exit code 1 where one of them found anything."""
    if importlib.util.find_spec("atheris") is None:
        print("a guided run needs atheris: pip install '.[fuzz]'", file=sys.stderr)
        return 2
    unknown = set(parts) - set(PARTS)
    if unknown:
        print(f"no such part: {', '.join(unknown)}; known: {', '.join(PARTS)}", file=sys.stderr)
        return 2
    chosen = parts or list(PARTS)
    share = max(1, round(seconds / len(chosen)))
    found = 0
    for part in chosen:
        started, before = time.monotonic(), os.times()
        ended = subprocess.run(
            [sys.executable, "-m", "tests.fuzz.guided_part", part, str(share)], check=False
        ).returncode
        after = os.times()
        used = after.children_user + after.children_system
        used -= before.children_user + before.children_system
        kinds = sorted((PLACE / part / "findings").glob("*.txt"))
        print(
            f"{part}: {time.monotonic() - started:.0f} s ({used:.0f} s of processor), "
            f"{len(kinds)} kinds of findings, exit code {ended}",
            flush=True,
        )
        for kind in kinds:
            print(f"--- {kind}\n{kind.read_text(encoding='utf-8')[-1500:]}")
        found += len(kinds) + (ended != 0)
    return int(found > 0)
