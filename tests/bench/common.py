"""What the benchmarks share: the study, a clock of processor time, rows of a table."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.machine.setting import Setting
from optimise.study.load import load_study
from optimise.study.space import Space, space_of

STUDIES = Path(__file__).parents[2] / "studies"


@dataclass(frozen=True)
class Row:
    """One measurement: what, its value with a unit, and its ratio to the first of its group."""

    group: str
    what: str
    value: float
    unit: str
    ratio: float | None = None
    note: str = ""


def problem(name: str) -> tuple[Space, Setting]:
    """Whole price list of a demonstration and its setting."""
    study = load_study(STUDIES / name)
    return space_of(study), study.setting


def random_rows(space: Space, count: int, seed: int = 1) -> NDArray[np.intp]:
    """Random machines of a space."""
    chance = np.random.default_rng(seed)
    return np.stack([chance.integers(0, size, count) for size in space.sizes], axis=1)


def seconds(action: Callable[[], Any], repeats: int = 3) -> float:
    """Median processor time of this process for an action [s]."""
    found = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        found.append(time.process_time() - start)
    return float(np.median(found))
