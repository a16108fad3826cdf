"""Where limits are crossed between the points of a sweep along numbers."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimise.columns import Array, Lanes, lanes_of
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, limits_of
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.machine.sheet import Sheet
from optimise.search.question import Place, Question
from optimise.study.dimensions import setting_at
from optimise.study.model import Study
from optimise.study.space import fitted_machine

_TURNS = 40
_CLOSE = 1e-6
"""Margin, and share of the bracket, within which a crossing is found."""


@dataclass(frozen=True)
class Crossing:
    """Where a limit's margin changes its sign between two neighbours along numbers.

    Attributes
    ----------
    limit
        Which limit.
    dimension
        Place of the dimension along which it is crossed.
    before
        Place of the point on the lower side; the other dimension stands still.
    value
        Number at which it is crossed, SI.
    kept_below
        Whether it is kept at lower values and crossed at higher ones.
    exact
        Whether the model was asked between the points; else the margin is taken as straight.
    """

    limit: Limit
    dimension: int
    before: Place
    value: float
    kept_below: bool
    exact: bool


def crossings_of(
    question: Question, sheet: Sheet, studies: list[tuple[dict[int, int], Study]]
) -> tuple[Crossing, ...]:
    """Every change of a margin's sign between neighbours; ``studies`` are those of each line."""
    found: list[Crossing] = []
    for place, dimension in enumerate(question.dimensions):
        if dimension.values is None:
            continue
        for nth, reading in enumerate(sheet.limits):
            kept = np.moveaxis(reading.kept, place, 0)
            for at in zip(*np.nonzero(kept[1:] != kept[:-1]), strict=True):
                spot = [int(one) for one in at[1:]]
                spot.insert(place, int(at[0]))
                found.append(
                    _crossing(question, sheet, nth, place, tuple(spot), bool(kept[tuple(at)]))
                )
    return tuple(_sharpened(question, found, studies))


def _crossing(
    question: Question, sheet: Sheet, nth: int, place: int, before: Place, kept_below: bool
) -> Crossing:
    """Crossing with the margin taken as straight between two points."""
    values = question.dimensions[place].values
    assert values is not None
    after = tuple(one + 1 if axis == place else one for axis, one in enumerate(before))
    margin = sheet.limits[nth].margin
    low, high = float(values[before[place]]), float(values[after[place]])
    one, other = float(margin[before]), float(margin[after])
    share = one / (one - other) if np.isfinite(one - other) and one != other else 0.5
    return Crossing(
        sheet.limits[nth].limit, place, before, low + share * (high - low), kept_below, False
    )


def _sharpened(
    question: Question, found: list[Crossing], studies: list[tuple[dict[int, int], Study]]
) -> list[Crossing]:
    """Crossings along numbers of parts, and of one number of the setting alone, by halving."""
    sharp: dict[int, Crossing] = {}
    for line, here in studies:
        lanes = [
            nth
            for nth, one in enumerate(found)
            if one.dimension in question.part_places
            and all(one.before[place] == at for place, at in line.items())
        ]
        for place in question.part_places:
            along = [nth for nth in lanes if found[nth].dimension == place]
            if along:
                sharp.update(_along_parts(question, here, place, along, found))
    if question.setting_places == [0] and len(question.dimensions) == 1:
        for nth, one in enumerate(found):
            sharp[nth] = _along_setting(question, one)
    return [sharp.get(nth, one) for nth, one in enumerate(found)]


def _along_parts(
    question: Question, study: Study, place: int, lanes: list[int], found: list[Crossing]
) -> dict[int, Crossing]:
    values = question.dimensions[place].values
    assert values is not None
    below = np.array([found[nth].before[place] for nth in lanes])
    low, high = values[below], values[below + 1]
    others: dict[int, Any] = {}
    for other in question.part_places:
        if other != place:
            at = np.array([found[nth].before[other] for nth in lanes], dtype=np.intp)
            numbers = question.dimensions[other].values
            others[other] = at if numbers is None else numbers[at]
    limits = [found[nth].limit for nth in lanes]

    def margins(numbers: Array, open_lanes: Lanes) -> Array:
        points = {place: numbers, **{other: at[open_lanes] for other, at in others.items()}}
        some = [limits[lane] for lane in open_lanes]
        return _margins(question.machine(study, points), study.setting, some)

    roots = sign_changes(margins, low, high)
    return {
        nth: dataclasses.replace(found[nth], value=float(value), exact=True)
        for nth, value in zip(lanes, roots, strict=True)
    }


def _margins(machine: Machine, setting: Setting, limits: Sequence[Limit]) -> Array:
    """Margin, lane by lane, of the limit of that lane; its screen where there is one."""
    found = np.empty(len(limits))
    for name in {limit.name for limit in limits}:
        mine = np.flatnonzero([limit.name == name for limit in limits])
        limit = limits[int(mine[0])]
        with np.errstate(all="ignore"):
            margin = (limit.screen or limit.margin)(Evaluation(lanes_of(machine, mine), setting))
        found[mine] = margin
    return found


def sign_changes(margins: Callable[[Array, Lanes], Array], low: Array, high: Array) -> Array:
    """Where margins change between kept and crossed inside brackets, lane by lane.

    Chord and halving by turns, so that a jump is found as a smooth change is. An unknown margin
    counts as crossed.

    Parameters
    ----------
    margins
        Called as ``margins(numbers, lanes)``: margin of each of some lanes at a number of its own.
    low, high
        Brackets with one end kept and one crossed, shape (n,).
    """
    low, high = low.astype(np.float64), high.astype(np.float64)
    found = 0.5 * (low + high)
    lanes: Lanes = np.arange(len(low))
    reach = _CLOSE * (high - low)
    at_low, at_high = margins(low, lanes), margins(high, lanes)
    kept_below = at_low >= 0.0
    for turn in range(_TURNS):
        middle = 0.5 * (low + high)
        with np.errstate(all="ignore"):
            chord = low + (high - low) * at_low / (at_low - at_high)
        inside = np.isfinite(chord) & (chord > low) & (chord < high)
        now = np.where(inside, chord, middle) if turn % 2 == 0 else middle
        value = margins(now, lanes)
        found[lanes] = now
        lower = (value >= 0.0) == kept_below
        low, at_low = np.where(lower, now, low), np.where(lower, value, at_low)
        high, at_high = np.where(lower, high, now), np.where(lower, at_high, value)
        stay = ~((np.abs(value) <= _CLOSE) | (high - low <= reach))
        if not stay.any():
            break
        lanes, reach, kept_below = lanes[stay], reach[stay], kept_below[stay]
        low, high, at_low, at_high = low[stay], high[stay], at_low[stay], at_high[stay]
    return found


def _along_setting(question: Question, one: Crossing) -> Crossing:
    dimension = question.dimensions[0]
    numbers = dimension.values
    if numbers is None or setting_at(dimension, float(numbers[0]), question.study.setting) is None:
        return one

    def margins(at: Array, _lanes: Lanes) -> Array:
        setting = setting_at(dimension, float(at[0]), question.study.setting)
        assert setting is not None
        limit = next(limit for limit in limits_of(setting) if limit.name == one.limit.name)
        here = dataclasses.replace(question.study, setting=setting)
        return _margins(fitted_machine(here), setting, [limit])

    below = one.before[0]
    root = sign_changes(margins, numbers[below : below + 1], numbers[below + 1 : below + 2])
    return dataclasses.replace(one, value=float(root[0]), exact=True)
