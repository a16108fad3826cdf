"""Sweep: one or two dimensions varied, the limits crossed on the way, and where enough is enough.

Parts are columns of one evaluation; every value of the setting is an evaluation of its own.

Diminishing returns. Along parts of a price list, *stairs* are the machines that keep every hard
limit and split a piece quicker than any that costs no more. A second off every piece is worth what
it saves until an upgrade has to have paid (``Evaluation.second_worth`` of the machine asked about),
so the stair to stop at is the one with the most left over: worth of the seconds off the piece, less
outlay. Up to it the seconds of the stairs' lower hull cost less than they are worth, beyond it
more. Seconds are those of the time per piece: a return that is quicker than the hands has none.
The knee of the same stairs is a second opinion that knows no money's worth.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Lanes, lanes_of, map_columns
from optimise.errors import CallError
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, limits_of
from optimise.machine.parts import Machine, take
from optimise.machine.setting import Setting
from optimise.machine.sheet import LimitReading, Sheet, sheet_of
from optimise.search.plan import knee
from optimise.search.priors import Belief
from optimise.search.uncertainty import spread_of
from optimise.search.unknowns import LANES, Unknowns, with_error
from optimise.study.dimensions import Dimension, read_dimensions, setting_at, study_at
from optimise.study.model import Study
from optimise.study.space import fitted_machine

PERIOD = "work.piece_period_s"
OUTLAY = "cost.outlay"
DRAWS = 128
SEED = 0
LEAST_GAIN = 1e-6
"""Time [s] under which a piece counts as no quicker."""
POINTS_ALONE, POINTS_WITH_PARTS, POINTS_OF_SETTINGS = 13, 7, 4
"""Points of a range without a step: of one dimension, beside parts, and of two of the setting."""
MOST_POINTS, MOST_LINES = 2500, 200
"""Points of a sweep, and those of its dimensions that are no parts: each is an evaluation."""
_TURNS = 40
_CLOSE = 1e-6
"""Margin, and share of the bracket, within which a crossing is found."""

Place = tuple[int, ...]
Mask = NDArray[np.bool_]


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


@dataclass(frozen=True, eq=False)
class Doubt:
    """How sure a point is over draws of constants, tolerances and the model's own error.

    Attributes
    ----------
    share
        Share of the draws in which the same point is chosen.
    places, shares
        Points chosen in 5 % of the draws or more, by rising outlay, and their shares.
    """

    share: float
    places: tuple[Place, ...]
    shares: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Stop:
    """Diminishing returns over the parts at one point of the other dimensions.

    Attributes
    ----------
    line
        Point of the dimensions that are no parts, by place of dimension.
    stairs
        Places from the cheapest machine up; the machine asked about counts (None) where it is in
        none of the places.
    outlays, periods
        Of the stairs.
    prices
        Money per second from the stair before; NaN for the first.
    second_worth
        Money for a second off every piece; 0 where the study states no hourly worth.
    worth_stair, knee_stair
        Stairs to stop at.
    worth_doubt, knee_doubt
        How sure they are; None where nothing is known of the constants or there is no choice.
    saved
        5, 50 and 95 % points of the seconds off the piece at the worth stair against the machine
        asked about.
    kept
        Chance of the worth stair to keep every hard limit.
    next_price
        Money per second of the best way on from the worth stair; infinite where there is none.
    next_stair
        Where that way leads; the worth stair itself where there is none.
    """

    line: dict[int, int]
    stairs: tuple[Place | None, ...]
    outlays: Array
    periods: Array
    prices: Array
    second_worth: float
    worth_stair: int
    knee_stair: int
    worth_doubt: Doubt | None
    knee_doubt: Doubt | None
    saved: Array | None
    kept: float | None
    next_price: float
    next_stair: int


@dataclass(frozen=True, eq=False)
class Sweep:
    """Answer of a sweep; sheets have the shape of the dimensions.

    ``bases`` holds the sheet of the machine asked about at every point of the dimensions that are
    no parts, in the same shape with 1 where parts vary.
    """

    study: Study
    dimensions: tuple[Dimension, ...]
    sheet: Sheet
    bases: Sheet
    crossings: tuple[Crossing, ...]
    stops: tuple[Stop, ...]

    @property
    def shape(self) -> Place:
        """Points of each dimension."""
        return tuple(len(dimension) for dimension in self.dimensions)

    @property
    def saved(self) -> Array:
        """Seconds off every piece against the machine asked about."""
        saved: Array = self.bases.results[PERIOD] - self.sheet.results[PERIOD]
        return saved

    def crossed(self, place: Place, kind: str = "hard") -> list[Limit]:
        """Limits that are not kept at a point."""
        return [
            reading.limit
            for reading in self.sheet.limits
            if reading.limit.kind == kind and not reading.kept[place]
        ]


# --- evaluation ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Question:
    """What is swept: enough to work out any point of it."""

    path: str | os.PathLike[str]
    sets: Sequence[str]
    study: Study
    dimensions: tuple[Dimension, ...]

    @property
    def setting_places(self) -> list[int]:
        return [place for place, one in enumerate(self.dimensions) if one.of_setting]

    @property
    def part_places(self) -> list[int]:
        return [place for place, one in enumerate(self.dimensions) if not one.of_setting]

    def study_on(self, line: dict[int, int]) -> Study:
        """Study with a point of each dimension of the setting put in."""
        study = self.study
        sets = list(self.sets)
        for place, nth in line.items():
            dimension = self.dimensions[place]
            setting = (
                None
                if dimension.values is None
                else setting_at(dimension, float(dimension.values[nth]), study.setting)
            )
            if setting is None:
                study = study_at(dimension, nth, study, self.path, sets)
            else:
                study = dataclasses.replace(study, setting=setting)
            sets.append(dimension.change(nth))
        return study

    def machine(self, study: Study, places: dict[int, Any]) -> Machine:
        """Machine with points of part dimensions put in: numbers in SI, or list positions."""
        columns: dict[str, dict[str, Any]] = {}
        whole: dict[str, Any] = {}
        for place, points in places.items():
            dimension = self.dimensions[place]
            if dimension.of_parts:
                names = study.lists[dimension.key].names
                at = np.array([names.index(name) for name in dimension.names], dtype=np.intp)
                whole[dimension.key] = take(study.lists[dimension.key].parts, at[points])
            else:
                category, *field = dimension.steps
                columns.setdefault(category, {})[".".join(field)] = points
        return dataclasses.replace(fitted_machine(study, columns), **whole)

    def grid(self) -> dict[int, Any]:
        """Points of the part dimensions, each along its own axis of the answer."""
        found: dict[int, Any] = {}
        for place in self.part_places:
            dimension = self.dimensions[place]
            shape = [1] * len(self.dimensions)
            shape[place] = len(dimension)
            column: Any = (
                np.arange(len(dimension)) if dimension.values is None else dimension.values
            )
            found[place] = column.reshape(shape)
        return found

    def points(self, spots: Sequence[Place]) -> dict[int, Any]:
        """Points of the part dimensions at some places of the answer, in one column."""
        found: dict[int, Any] = {}
        for place in self.part_places:
            at = np.array([spot[place] for spot in spots], dtype=np.intp)
            numbers = self.dimensions[place].values
            found[place] = at if numbers is None else numbers[at]
        return found

    def lines(self) -> list[dict[int, int]]:
        """Every combination of points of the setting."""
        ranges = [range(len(self.dimensions[place])) for place in self.setting_places]
        return [
            dict(zip(self.setting_places, chosen, strict=True))
            for chosen in itertools.product(*ranges)
        ]


def _slot(line: dict[int, int], count: int) -> tuple[Any, ...]:
    return tuple(
        slice(line[place], line[place] + 1) if place in line else slice(None)
        for place in range(count)
    )


def _joined(question: _Question, sheets: list[tuple[dict[int, int], Sheet]], shape: Place) -> Sheet:
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
    question = _Question(path, sets, study, dimensions)
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
        bases.append(
            (line, _upright(sheet_of(fitted_machine(here), here.setting), count) if grid else sheet)
        )
    whole = _joined(question, found, shape)
    base_shape = tuple(
        size if place in question.setting_places else 1 for place, size in enumerate(shape)
    )
    base = _joined(question, bases, base_shape)
    crossings = _crossings(question, whole, studies)
    stops: list[Stop] = []
    if any(dimension.of_parts for dimension in question.dimensions):
        for line, here in studies:
            stops.extend(_stops(question, line, here, whole, base, belief))
    return Sweep(study, question.dimensions, whole, base, crossings, tuple(stops))


def _not_too_many(question: _Question) -> None:
    points = math.prod(len(dimension) for dimension in question.dimensions)
    lines = math.prod(len(question.dimensions[place]) for place in question.setting_places)
    if points > MOST_POINTS:
        raise CallError(f"{points:,} points; a sweep takes {MOST_POINTS:,}: make the steps longer")
    if lines > MOST_LINES:
        raise CallError(
            f"{lines:,} points of what is no part; a sweep takes {MOST_LINES:,} of these: make the "
            "steps longer"
        )


# --- crossings ----------------------------------------------------------------------------------


def _crossings(
    question: _Question, sheet: Sheet, studies: list[tuple[dict[int, int], Study]]
) -> tuple[Crossing, ...]:
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
    question: _Question, sheet: Sheet, nth: int, place: int, before: Place, kept_below: bool
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
    question: _Question, found: list[Crossing], studies: list[tuple[dict[int, int], Study]]
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
    question: _Question, study: Study, place: int, lanes: list[int], found: list[Crossing]
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


def _along_setting(question: _Question, one: Crossing) -> Crossing:
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


# --- diminishing returns ------------------------------------------------------------------------


def stairs_of(periods: Array, outlays: Array) -> NDArray[np.intp]:
    """Places of points that are quicker than every one that costs no more, cheapest first."""
    order = np.lexsort((periods, outlays))
    quickest = np.minimum.accumulate(periods[order])
    first = np.ones(len(order), dtype=np.bool_)
    first[1:] = quickest[1:] < quickest[:-1] - LEAST_GAIN
    places: NDArray[np.intp] = order[first]
    return places


def worth_stop(periods: Array, outlays: Array, second_worth: float) -> int:
    """Stair with the most left over: worth of the seconds less the outlay; the first of equals."""
    return int(np.argmax(-second_worth * periods - outlays))


@dataclass(frozen=True, eq=False)
class Returns:
    """Diminishing returns over some machines.

    Attributes
    ----------
    places
        Of the stairs among the machines, cheapest first.
    outlays, periods, prices
        Of the stairs; price is money per second from the stair before, NaN for the first.
    worth_stair, knee_stair
        Stairs to stop at.
    next_price, next_stair
        Money per second of the best way on from the worth stair, and where it leads: infinite, and
        the worth stair itself, where there is none.
    """

    places: NDArray[np.intp]
    outlays: Array
    periods: Array
    prices: Array
    worth_stair: int
    knee_stair: int
    next_price: float
    next_stair: int


def returns_of(periods: Array, outlays: Array, second_worth: float) -> Returns:
    """Stairs of one machine or more, and where to stop on them."""
    stairs = stairs_of(periods, outlays)
    outlays, periods = outlays[stairs], periods[stairs]
    best = worth_stop(periods, outlays, second_worth)
    prices = np.full(len(stairs), np.nan)
    prices[1:] = np.diff(outlays) / -np.diff(periods)
    onward = (outlays[best + 1 :] - outlays[best]) / (periods[best] - periods[best + 1 :])
    return Returns(
        places=stairs,
        outlays=outlays,
        periods=periods,
        prices=prices,
        worth_stair=best,
        knee_stair=knee(periods, outlays),
        next_price=float(onward.min()) if len(onward) else np.inf,
        next_stair=best + 1 + int(np.argmin(onward)) if len(onward) else best,
    )


def _stops(
    question: _Question,
    line: dict[int, int],
    study: Study,
    sheet: Sheet,
    bases: Sheet,
    belief: Belief | None,
) -> list[Stop]:
    """Stops at every point of the dimensions that are no parts, on one line of the setting."""
    numbers = [place for place in question.part_places if not question.dimensions[place].of_parts]
    ranges = [range(len(question.dimensions[place])) for place in numbers]
    found = []
    for chosen in itertools.product(*ranges):
        at = {**line, **dict(zip(numbers, chosen, strict=True))}
        found.append(_stop(question, at, study, sheet, bases, belief))
    return found


def _stop(
    question: _Question,
    line: dict[int, int],
    study: Study,
    sheet: Sheet,
    bases: Sheet,
    belief: Belief | None,
) -> Stop:
    shape = sheet.results[PERIOD].shape
    feasible = sheet.feasible & np.isfinite(sheet.results[PERIOD])
    spots = [
        place
        for place in np.ndindex(shape)
        if feasible[place] and all(place[axis] == nth for axis, nth in line.items())
    ]
    base = tuple(
        line[place] if place in question.setting_places else 0 for place in range(len(shape))
    )
    candidates: list[Place | None] = list(spots)
    outlays = [float(sheet.results[OUTLAY][spot]) for spot in spots]
    periods = [float(sheet.results[PERIOD][spot]) for spot in spots]
    base_period = float(bases.results[PERIOD][base])
    asked = (float(bases.results[OUTLAY][base]), base_period)
    if bool(bases.feasible[base]) and asked not in zip(outlays, periods, strict=True):
        candidates.insert(0, None)
        outlays.insert(0, asked[0])
        periods.insert(0, asked[1])
    worth = float(bases.results["work.second_worth"][base])
    if not candidates:
        nothing = np.zeros(0)
        return Stop(
            line, (), nothing, nothing, nothing, worth, -1, -1, None, None, None, None, np.inf, -1
        )
    found = returns_of(np.array(periods), np.array(outlays), worth)
    stairs, best = found.places, found.worth_stair
    worth_doubt = knee_doubt = saved = kept = None
    if belief is not None and len(candidates) > 1:
        drawn, drawn_base = _drawn(question, line, study, candidates, belief)
        worths = worth * base_period / drawn_base
        chosen = candidates[stairs[best]]
        machine = fitted_machine(study)
        if chosen is not None:
            machine = question.machine(study, question.points([chosen]))
        kept = float(
            np.ravel(spread_of(machine, study.setting, belief, keys=(), draws=DRAWS).all_kept)[0]
        )
        worth_doubt, knee_doubt, saved = _doubts(
            candidates,
            np.array(outlays),
            drawn,
            worths,
            drawn_base,
            stairs[best],
            stairs[found.knee_stair],
        )
    return Stop(
        line=line,
        stairs=tuple(candidates[nth] for nth in stairs),
        outlays=found.outlays,
        periods=found.periods,
        prices=found.prices,
        second_worth=worth,
        worth_stair=best,
        knee_stair=found.knee_stair,
        worth_doubt=worth_doubt,
        knee_doubt=knee_doubt,
        saved=saved,
        kept=kept,
        next_price=found.next_price,
        next_stair=found.next_stair,
    )


def _drawn(
    question: _Question,
    line: dict[int, int],
    study: Study,
    candidates: list[Place | None],
    belief: Belief,
) -> tuple[Array, Array]:
    """Time per piece of each candidate, (candidates, draws), and of the machine asked about."""
    unknowns = Unknowns(belief)
    uniform = unknowns.points(DRAWS, SEED)
    errors = unknowns.model_errors(uniform)

    def periods(machine: Machine) -> Array:
        with np.errstate(all="ignore"):
            evaluation = unknowns.evaluation(machine, study.setting, uniform)
            cycle = with_error(evaluation, "cycle.loaded_total_s", errors)
            return np.asarray(cycle - evaluation.loaded_cycle_time + evaluation.piece_period)

    base = np.broadcast_to(periods(fitted_machine(study)), (DRAWS,))
    found = np.empty((len(candidates), DRAWS))
    listed = [nth for nth, spot in enumerate(candidates) if spot is not None]
    found[[nth for nth, spot in enumerate(candidates) if spot is None]] = base
    step = max(1, LANES // DRAWS)
    for first in range(0, len(listed), step):
        some = listed[first : first + step]
        spots = [spot for nth in some if (spot := candidates[nth]) is not None]
        machine = map_columns(
            question.machine(study, question.points(spots)),
            lambda column: np.asarray(column)[:, None] if np.ndim(column) else column,
        )
        found[some] = np.broadcast_to(periods(machine), (len(some), DRAWS))
    return found, base


def _doubts(
    candidates: list[Place | None],
    outlays: Array,
    drawn: Array,
    worths: Array,
    drawn_base: Array,
    best: np.intp,
    bend: np.intp,
) -> tuple[Doubt, Doubt, Array]:
    """The same two choices in every draw, and the seconds saved at the first."""
    by_worth, by_knee = [], []
    for draw in range(drawn.shape[1]):
        periods = np.nan_to_num(drawn[:, draw], nan=np.inf)
        stairs = stairs_of(periods, outlays)
        by_worth.append(stairs[worth_stop(periods[stairs], outlays[stairs], float(worths[draw]))])
        by_knee.append(stairs[knee(periods[stairs], outlays[stairs])])
    saved = np.quantile(drawn_base - drawn[best], (0.05, 0.5, 0.95))
    return (
        _doubt(candidates, outlays, np.array(by_worth), best),
        _doubt(candidates, outlays, np.array(by_knee), bend),
        saved,
    )


def _doubt(
    candidates: list[Place | None], outlays: Array, chosen: NDArray[np.intp], best: np.intp
) -> Doubt:
    count = np.bincount(chosen, minlength=len(candidates)) / len(chosen)
    often = [int(nth) for nth in np.argsort(outlays, kind="stable") if count[nth] >= 0.05]
    places = [(candidates[nth], float(count[nth])) for nth in often]
    return Doubt(
        float(count[best]),
        tuple(place if place is not None else () for place, _ in places),
        tuple(share for _, share in places),
    )
