"""Time of the exact front as the price lists grow, one list doubled after another.

The last size is written as a study and asked of the whole command too.
"""

from __future__ import annotations

import csv
import dataclasses
import io
import resource
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from optimise.machine.parts import CATEGORIES, physical
from optimise.machine.quantities import quantities
from optimise.search.exact import exact_front
from optimise.study.model import PriceList
from optimise.study.space import Space
from optimise.units import show
from tests.bench.common import STUDIES, Row, problem
from tests.bench.starts import run

LARGEST = 10**13
DIGITS = 12
"""Digits of a quantity in a list that is written."""


def denser(prices: PriceList, seed: int) -> PriceList:
    """List with a made-up part beside each: quantities and prices within 3 % of it.

    Those of one unit move together, so that a part stays one that a study may list.
    """
    chance = np.random.default_rng(seed)
    specs = quantities(CATEGORIES[prices.category])
    moved = {*physical(CATEGORIES[prices.category]), "price"}
    count = len(prices.names)
    factors = {
        kind: chance.uniform(0.97, 1.03, count) for kind in {s.kind: None for s in specs.values()}
    }
    changed = {}
    for field in dataclasses.fields(prices.parts):
        column = np.asarray(getattr(prices.parts, field.name), dtype=np.float64)
        kind = specs[field.name].kind if field.name in moved else "money"
        factor = factors[kind] if field.name in {*moved, "outlay"} else np.ones(count)
        changed[field.name] = np.concatenate([column, column * factor])
    names = (*prices.names, *(f"{name}, another make" for name in prices.names))
    return PriceList(
        category=prices.category, names=names, parts=dataclasses.replace(prices.parts, **changed)
    )


def list_text(prices: PriceList) -> str:
    """Price list as a file of a study holds it."""
    specs = quantities(CATEGORIES[prices.category])
    columns = [np.asarray(getattr(prices.parts, field), dtype=np.float64) for field in specs]
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow(["name", *specs])
    for part, *numbers in zip(prices.names, *columns, strict=True):
        shown = [
            show(float(number), spec.kind, "metric", DIGITS)
            for number, spec in zip(numbers, specs.values(), strict=True)
        ]
        lines.writerow([part, *shown])
    return text.getvalue()


def whole_command(name: str, space: Space) -> Row:
    """The command ``front`` with two workers on a study with the lists of a space."""
    with tempfile.TemporaryDirectory() as folder:
        study = Path(folder) / name
        study.mkdir()
        shutil.copy(STUDIES / name / "study.toml", study)
        for prices in space.lists:
            (study / f"{prices.category}.csv").write_text(list_text(prices), encoding="utf-8")
        wall, most = run(["front", str(study), "--workers", "2", "--out", folder])
    what = f"front --workers 2, {space.size:.3g} machines"
    return Row(f"{name}: growth", what, wall, "s", note=f"{most:,.0f} MB in its first process")


def growth(name: str) -> Iterator[Row]:
    """Wall time, machines worked out and members of the front for each size."""
    space, setting = problem(name)
    place, first = 0, 0.0
    while True:
        start = time.perf_counter()
        front = exact_front(space, setting)
        spent = time.perf_counter() - start
        first = first or spent
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        note = (
            f"{front.evaluated:,} worked out, {len(front.designs.indices):,} on the front, "
            f"{memory:,.0f} MB at most so far"
        )
        yield Row(f"{name}: growth", f"{space.size:.3g} machines", spent, "s", spent / first, note)
        if space.size >= LARGEST:
            yield whole_command(name, space)
            return
        lists = list(space.lists)
        lists[place] = denser(lists[place], place)
        space, place = Space(lists), (place + 1) % len(lists)
