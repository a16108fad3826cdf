"""Where to stop along the parts of a sweep, and how sure that is.

The stairs are those of the machines that keep every hard limit; a second is worth
``Evaluation.second_worth`` of the machine asked about, and seconds are those of the time per piece:
a return that is quicker than the hands has none.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, map_columns
from optimise.machine.parts import Machine
from optimise.machine.sheet import Sheet
from optimise.physics.work import split_period
from optimise.search.goals import PIECE
from optimise.search.plan import bends, knee
from optimise.search.priors import Belief
from optimise.search.question import Place, Question
from optimise.search.returns import returns_of, stairs_of, worth_stop
from optimise.search.uncertainty import spread_of
from optimise.search.unknowns import LANES, Unknowns, with_error
from optimise.study.model import Study

OUTLAY = "cost.outlay"
DRAWS = 128
SEED = 0


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

    @property
    def bends(self) -> bool:
        """Whether the stairs have a knee at all."""
        return bends(self.periods, self.outlays)


def stops_of(
    question: Question,
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
    question: Question,
    line: dict[int, int],
    study: Study,
    sheet: Sheet,
    bases: Sheet,
    belief: Belief | None,
) -> Stop:
    shape = sheet.results[PIECE].shape
    feasible = sheet.feasible & np.isfinite(sheet.results[PIECE])
    spots = [
        place
        for place in np.ndindex(shape)
        if feasible[place] and all(place[axis] == nth for axis, nth in line.items())
    ]
    base = tuple(
        line.get(place, 0) if size > 1 else 0
        for place, size in enumerate(bases.results[PIECE].shape)
    )
    asked_about = question.base(study, _numbers(question, line))
    candidates: list[Place | None] = list(spots)
    outlays = [float(sheet.results[OUTLAY][spot]) for spot in spots]
    periods = [float(sheet.results[PIECE][spot]) for spot in spots]
    base_period = float(bases.results[PIECE][base])
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
        drawn, drawn_base = _drawn(question, asked_about, study, candidates, belief)
        worths = worth * base_period / drawn_base
        chosen = candidates[stairs[best]]
        machine = asked_about
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


def _numbers(question: Question, line: dict[int, int]) -> dict[int, float]:
    """Numbers of parts that hold along a line, by place of dimension, in SI."""
    found: dict[int, float] = {}
    for place in question.kept_numbers():
        values = question.dimensions[place].values
        assert values is not None
        found[place] = float(values[line[place]])
    return found


def _drawn(
    question: Question,
    asked_about: Machine,
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
            period = cycle - evaluation.loaded_cycle_time + evaluation.piece_period
            return np.asarray(split_period(period, evaluation.unsplit_share))

    base = np.broadcast_to(periods(asked_about), (DRAWS,))
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
