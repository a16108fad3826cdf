"""Sweep: one or two dimensions varied, the limits crossed on the way, and where enough is enough.

Parts are columns of one evaluation; every value of the setting is an evaluation of its own.
"""

from __future__ import annotations

import dataclasses
import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimise.columns import Array
from optimise.errors import CallError
from optimise.machine.limits import Limit
from optimise.machine.sheet import LimitReading, Sheet, sheet_of
from optimise.search.crossings import Crossing, crossings_of
from optimise.search.goals import PIECE
from optimise.search.priors import Belief
from optimise.search.question import Place, Question
from optimise.search.stops import DRAWS, Stop, stops_of
from optimise.search.uncertainty import spread_of
from optimise.study.dimensions import Dimension, read_dimensions
from optimise.study.model import Study

POINTS_ALONE, POINTS_WITH_PARTS, POINTS_OF_SETTINGS = 13, 7, 4
"""Points of a range without a step: of one dimension, beside parts, and of two of the setting."""
MOST_POINTS, MOST_LINES = 2500, 200
"""Points of a sweep, and those of its dimensions that are no parts: each is an evaluation."""


@dataclass(frozen=True, eq=False)
class Sweep:
    """Answer of a sweep; sheets have the shape of the dimensions.

    ``bases`` holds the sheet of the machine asked about at every point of the dimensions that are
    no parts, and of numbers of parts that vary beside whole ones, in the same shape with 1 for the
    other dimensions. ``kept`` is the chance that :attr:`quickest` keeps every hard limit; None
    where parts vary, which have stops, or where nothing is known of the constants.
    """

    study: Study
    dimensions: tuple[Dimension, ...]
    sheet: Sheet
    bases: Sheet
    crossings: tuple[Crossing, ...]
    stops: tuple[Stop, ...]
    kept: float | None = None

    @property
    def shape(self) -> Place:
        """Points of each dimension."""
        return tuple(len(dimension) for dimension in self.dimensions)

    @property
    def saved(self) -> Array:
        """Seconds off every piece against the machine asked about."""
        saved: Array = self.bases.results[PIECE] - self.sheet.results[PIECE]
        return saved

    @property
    def quickest(self) -> Place | None:
        """Point with the least time per piece that keeps every hard limit; None without one."""
        periods = np.where(self.sheet.feasible, self.sheet.results[PIECE], np.inf)
        at = np.unravel_index(int(np.argmin(periods)), self.shape)
        return tuple(int(nth) for nth in at) if np.isfinite(periods).any() else None

    def crossed(self, place: Place, kind: str = "hard") -> list[Limit]:
        """Limits that are not kept at a point."""
        return [
            reading.limit
            for reading in self.sheet.limits
            if reading.limit.kind == kind and not reading.kept[place]
        ]


def _slot(line: dict[int, int], count: int) -> tuple[Any, ...]:
    return tuple(
        slice(line[place], line[place] + 1) if place in line else slice(None)
        for place in range(count)
    )


def _joined(question: Question, sheets: list[tuple[dict[int, int], Sheet]], shape: Place) -> Sheet:
    """Sheets of all points of the setting in one."""
    first = sheets[0][1]

    def join(read: Any) -> Array:
        whole = np.empty(shape)
        for line, sheet in sheets:
            whole[_slot(line, len(shape))] = read(sheet)
        return whole

    def reading(nth: int, name: str) -> Array:
        return join(lambda sheet: getattr(sheet.limits[nth], name))

    return Sheet(
        {key: join(lambda sheet, key=key: sheet.results[key]) for key in first.results},
        tuple(
            LimitReading(
                one.limit, reading(nth, "value"), reading(nth, "bound"), reading(nth, "margin")
            )
            for nth, one in enumerate(first.limits)
        ),
    )


def _upright(sheet: Sheet, dimensions: int) -> Sheet:
    """Sheet of one machine with an axis of one for each dimension."""
    shape = (1,) * dimensions
    return Sheet(
        {key: column.reshape(shape) for key, column in sheet.results.items()},
        tuple(
            LimitReading(
                one.limit,
                one.value.reshape(shape),
                one.bound.reshape(shape),
                one.margin.reshape(shape),
            )
            for one in sheet.limits
        ),
    )


def sweep(
    path: str | os.PathLike[str],
    sets: Sequence[str],
    study: Study,
    texts: Sequence[str],
    belief: Belief | None,
) -> Sweep:
    """Vary one or two dimensions of the machine asked about.

    Parameters
    ----------
    path, sets, study
        The study as loaded, and from where.
    texts
        Dimensions as written, see :mod:`optimise.study.dimensions`.
    belief
        What is known of the constants; None where nothing is.

    Raises
    ------
    StudyError
        Faults of the dimensions.
    CallError
        Too many points.
    """
    most = (POINTS_ALONE, POINTS_ALONE)
    if len(texts) > 1:
        most = (POINTS_WITH_PARTS, POINTS_OF_SETTINGS)
    return sweep_along(study, read_dimensions(path, sets, study, texts, most), belief, path, sets)


def sweep_along(
    study: Study,
    dimensions: tuple[Dimension, ...],
    belief: Belief | None,
    path: str | os.PathLike[str] = "",
    sets: Sequence[str] = (),
) -> Sweep:
    """Vary dimensions that have been read; the files of the study serve for words only.

    Raises
    ------
    CallError
        Too many points.
    """
    question = Question(path, sets, study, dimensions)
    count = len(question.dimensions)
    _not_too_many(question)
    grid = question.grid()
    studies = [(line, question.study_on(line)) for line in question.lines()]
    shape = tuple(len(dimension) for dimension in question.dimensions)
    found, bases = [], []
    for line, here in studies:
        machine = question.machine(here, grid)
        sheet = sheet_of(machine, here.setting)
        if not grid:
            sheet = _upright(sheet, count)
        found.append((line, sheet))
        base = sheet if not grid else sheet_of(question.base(here, grid), here.setting)
        bases.append((line, base if base.feasible.ndim == count else _upright(base, count)))
    whole = _joined(question, found, shape)
    base_shape = tuple(
        size if place in [*question.setting_places, *question.kept_numbers()] else 1
        for place, size in enumerate(shape)
    )
    compared = _joined(question, bases, base_shape)
    crossings = crossings_of(question, whole, studies)
    stops: list[Stop] = []
    if any(dimension.of_parts for dimension in question.dimensions):
        for line, here in studies:
            stops.extend(stops_of(question, line, here, whole, compared, belief))
    swept = Sweep(study, question.dimensions, whole, compared, crossings, tuple(stops))
    if stops or belief is None or swept.quickest is None:
        return swept
    return dataclasses.replace(swept, kept=_kept(question, swept.quickest, belief))


def _kept(question: Question, place: Place, belief: Belief) -> float:
    """Chance that a point keeps every hard limit."""
    here = question.study_on({one: place[one] for one in question.setting_places})
    machine = question.machine(here, question.points([place]))
    spread = spread_of(machine, here.setting, belief, keys=(), draws=DRAWS)
    return float(np.ravel(spread.all_kept)[0])


def _not_too_many(question: Question) -> None:
    points = math.prod(len(dimension) for dimension in question.dimensions)
    lines = math.prod(len(question.dimensions[place]) for place in question.setting_places)
    if points > MOST_POINTS:
        raise CallError(f"{points:,} points; a sweep takes {MOST_POINTS:,}: make the steps longer")
    if lines > MOST_LINES:
        raise CallError(
            f"{lines:,} points of what is no part; a sweep takes {MOST_LINES:,} of these: make the "
            "steps longer"
        )
