"""Wall time and peak memory of whole commands, start included."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.bench.common import STUDIES, Row

REPEATS = 5


def starts(name: str) -> Iterator[Row]:
    """Medians of some runs; memory is the most of any."""
    study = str(STUDIES / name)
    with tempfile.TemporaryDirectory() as folder:
        calls = {
            "--help": ["--help"],
            "check": ["check", study],
            "steps": ["steps", study],
            "sweep": ["sweep", study, "pump"],
            "lineup": ["lineup", study],
            "front": ["front", study, "--out", folder],
            "report": ["report", study, "--out", folder],
        }
        for what, words in calls.items():
            found = [run(words) for _ in range(REPEATS)]
            wall = float(np.median([one[0] for one in found]))
            most = max(one[1] for one in found)
            yield Row(f"{name}: commands", what, wall, "s", note=f"{most:.0f} MB at most")


def run(words: list[str]) -> tuple[float, float]:
    """Wall time [s] of a command and peak memory [MB] of its first process."""
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "optimise", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    )
    assert process.stderr is not None
    said = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        raise RuntimeError(f"{words} ended with {status}: {said}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024
