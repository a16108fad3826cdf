"""A solver that closes every lane of a column by itself, and guesses along a course of solves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Column, Lanes, flattened, lanes_of, shape_of
from optimise.compiled.traced import is_going_round, is_tracing, loop, of_case, to_cases

MOST_STEPS = 80
FURTHEST_AHEAD = 2.0
"""Steps as long as the last one over which a trail is trusted to run straight on."""
THINNED = 0.6
"""Share of lanes still open under which the closed ones are left out of further steps."""

_Tree = TypeVar("_Tree")
Answers = Sequence[tuple[str, Sequence[Column]]]
"""What the solves of each name found: one column, or one for each case of
:func:`~optimise.columns.together`."""
Found = tuple[Any, Any, Any, Any]
"""Point before the last and what was found there, the last point and what was found there."""


class Trail:
    """What solves found at the last two points of a course, lane by lane: guesses for the next.

    Parameters
    ----------
    start
        First point.
    answers
        What was found there.
    shape
        Shape of the lanes, which are laid flat.
    """

    def __init__(self, start: Column, answers: Answers, shape: tuple[int, ...]) -> None:
        self.found: dict[str, Found] = {}
        for name, columns in answers:
            last = _piled(columns, shape)
            nothing = np.full(last.shape[-1], np.nan), np.full(last.shape, np.nan)
            self.found[name] = (*nothing, np.full(last.shape[-1], start), last)


def _piled(columns: Sequence[Column], shape: tuple[int, ...]) -> Array:
    """Columns laid flat from ``shape``, one above the other; one alone has no axis for that."""
    flat = [np.broadcast_to(np.asarray(one), shape).reshape(-1) for one in columns]
    return np.stack(flat) if len(flat) > 1 else flat[0].copy()


class TracedTrail:
    """The same for numbers that are not known yet, cases one after the other.

    Attributes
    ----------
    columns
        Name and case of each solve.
    state
        Point before the last and what each found there, then the last point and the same.
    """

    def __init__(self, start: Column, answers: Answers) -> None:
        self.columns = [(name, nth) for name, many in answers for nth in range(len(many))]
        lasts = [one for _, many in answers for one in many]
        nothing: list[Column] = [np.nan] * (1 + len(lasts))
        self.state: list[Column] = [*nothing, start, *lasts]


class _TracedWaypoint:
    """A point on such a trail, and what is found there."""

    def __init__(self, trail: TracedTrail, state: Sequence[Any], x: Any) -> None:
        half = len(state) // 2
        self.before = dict(zip(["x", *trail.columns], state[:half], strict=True))
        self.last = dict(zip(["x", *trail.columns], state[half:], strict=True))
        self.x = x
        self.now = dict(self.last) | {"x": x}

    @staticmethod
    def of(found: dict[Any, Any], name: str) -> Any:
        """What was found by a name, in the case at hand where there are several."""
        answers = [one for place, one in found.items() if place[0] == name]
        return of_case(answers) if is_going_round() else answers[0]

    def add(self, name: str, answer: Any) -> None:
        """Keep what is found by a name, in each case where there are several."""
        answers = to_cases(answer) if is_going_round() else [answer]
        self.now |= {(name, nth): one for nth, one in enumerate(answers)}

    @property
    def state(self) -> list[Any]:
        return [*self.last.values(), *self.now.values()]


@dataclass(frozen=True)
class Waypoint:
    """A point ``x`` on a trail, for the lanes given or all."""

    trail: Trail
    x: Array
    lanes: Lanes | None


AnyTrail = Trail | TracedTrail
AnyWaypoint = Waypoint | _TracedWaypoint


def trail_of(start: Column, answers: Answers, shape: tuple[int, ...]) -> AnyTrail:
    """Trail that begins at a point at which solves were made; see :class:`Trail`."""
    return TracedTrail(start, answers) if is_tracing() else Trail(start, answers, shape)


def _straight_on(x: Any, found: Found) -> Any:
    x_before, before, x_last, last = found
    with np.errstate(divide="ignore", invalid="ignore"):
        ahead = (x - x_last) / (x_last - x_before)
        straight = last + (last - before) * ahead
    near = np.isfinite(straight) & (np.abs(ahead) <= FURTHEST_AHEAD)
    return np.where(near, straight, last)


def guessed(waypoint: AnyWaypoint | None, name: str) -> Any:
    """Straight on from the last two answers of a solve, shape (..., lanes); NaN without one."""
    if waypoint is None:
        return None
    if isinstance(waypoint, _TracedWaypoint):
        before, last = waypoint.before, waypoint.last
        found = before["x"], waypoint.of(before, name), last["x"], waypoint.of(last, name)
        return _straight_on(waypoint.x, found)
    x_before, before, x_last, last = (
        part if waypoint.lanes is None else part[..., waypoint.lanes]
        for part in waypoint.trail.found[name]
    )
    return _straight_on(waypoint.x, (x_before, before, x_last, last))


def keep(waypoint: AnyWaypoint | None, name: str, answer: Column) -> None:
    """Add the answer of a solve, shape (..., lanes)."""
    if waypoint is None:
        return
    if isinstance(waypoint, _TracedWaypoint):
        waypoint.add(name, answer)
        return
    answers = np.asarray(answer)
    x_before, before, x_last, last = waypoint.trail.found[name]
    at = slice(None) if waypoint.lanes is None else waypoint.lanes
    x_before[at], before[..., at] = x_last[at], last[..., at]
    x_last[at], last[..., at] = waypoint.x, answers


@dataclass(frozen=True)
class _Search:
    """Where the search for a root stands.

    Attributes
    ----------
    low, high
        Bracket.
    now
        Where to look next.
    before, value_before
        Where it was looked at last, and what was there; NaN at first.
    low_known, high_known
        Whether the function was looked at there.
    allowed
        Tolerance.
    """

    low: Any
    high: Any
    now: Any
    before: Any
    value_before: Any
    low_known: Any
    high_known: Any
    allowed: Any


_MOVING = ("low", "high", "now", "before", "value_before", "low_known", "high_known")


@dataclass(frozen=True)
class _Look:
    """What a look at the function gave: the search after it, whether it ended, and with what."""

    search: _Search
    ended: Any
    answer: Any


def _looked(at: _Search, value: Any, width: float, stride: float) -> _Look:
    falls_here = value > 0.0
    low, high = np.where(falls_here, at.now, at.low), np.where(falls_here, at.high, at.now)
    low_known, high_known = at.low_known | falls_here, at.high_known | ~falls_here
    with np.errstate(divide="ignore", invalid="ignore"):
        step = at.now - value * (at.now - at.before) / (value - at.value_before)
    step = np.where(np.isnan(at.before), at.now + value, step)
    if np.isfinite(stride):
        step = np.where(high_known, step, np.minimum(step, at.now + stride))
    inside = (step > low) & (step < high)
    narrow = (high - low) <= width * at.allowed
    to_low, to_high = (step <= low) & ~low_known, (step >= high) & ~high_known
    outside = np.where(to_low, low, np.where(to_high, high, 0.5 * (low + high)))
    step = np.where(inside, step, outside)
    done = (np.abs(step - at.now) <= at.allowed) | (value == 0.0) | narrow
    failed = np.isnan(value)
    answer = np.where(failed, np.nan, np.where(value == 0.0, at.now, step))
    search = _Search(low, high, step, at.now, value, low_known, high_known, at.allowed)
    return _Look(search, done | failed, answer)


def solve_falling(
    residual: Callable[[_Tree, Any, Any], Any],
    tree: _Tree,
    bracket: tuple[Column, Column],
    start: Column,
    tolerance: Column,
    width: float,
    first: Column | None = None,
    trail: AnyTrail | None = None,
    stride: float = np.inf,
) -> Any:
    """Root of a falling function in every lane: secant steps kept inside a shrinking bracket.

    A step out of the bracket goes to its end where the function was not looked at there yet, else
    to the middle.

    A lane stops at its own first step that meets the tolerance and is not touched again, so that
    its bits do not depend on which lanes stand beside it.

    Parameters
    ----------
    residual
        Called as ``residual(tree, x, waypoint)`` with the lanes of the tree that ``x`` stands for;
        the waypoint lies on ``trail``. Must fall (not necessarily strictly) with ``x`` and have its
        unit: the first step is to ``x + residual``.
    tree
        All columns that the residual depends on.
    bracket
        The root is looked for inside; where the residual has no change of sign the nearer end is
        the answer.
    start
        First guess, inside the bracket.
    tolerance
        Largest step, in the unit of ``x``, at which a lane counts as closed.
    width
        Width of the bracket, over the tolerance, at which a lane counts as closed: no secant gets
        nearer to a jump.
    first
        The residual at the start, where that is known.
    trail
        Answers of solves inside the residual.
    stride
        Longest step beyond all that was looked at: the lowest root is found where, as far as that
        from the start, the residual does not bend upwards again.

    Returns
    -------
    Column
        Roots in the shape of all columns together; NaN in lanes that met a NaN or ran out of steps.
    """
    if is_tracing():
        return _written_down(residual, tree, bracket, start, tolerance, width, first, trail, stride)
    shape = shape_of((tree, bracket, start, tolerance, first))
    count = int(np.prod(shape, dtype=int))
    root: Array = np.full(count, np.nan)
    if count == 0:
        return root.reshape(shape)

    def laid_flat(column: Column) -> Array:
        return np.broadcast_to(np.asarray(column, dtype=np.float64), shape).reshape(-1)

    no, unknown = np.zeros(count, dtype=np.bool_), np.full(count, np.nan)
    search = _Search(
        laid_flat(bracket[0]),
        laid_flat(bracket[1]),
        laid_flat(start),
        unknown,
        unknown,
        no,
        no,
        laid_flat(tolerance),
    )
    flat = here = flattened(tree, shape)
    lanes: Lanes | None = None
    open_lanes: NDArray[np.bool_] = ~no
    for nth in range(MOST_STEPS):
        if nth == 0 and first is not None:
            value = laid_flat(first)
        else:
            waypoint = Waypoint(trail, search.now, lanes) if isinstance(trail, Trail) else None
            value = residual(here, search.now, waypoint)
        look = _looked(search, value, width, stride)
        search = look.search
        ended = open_lanes & look.ended
        if not ended.any():
            continue
        root[np.flatnonzero(ended) if lanes is None else lanes[ended]] = look.answer[ended]
        open_lanes = open_lanes & ~ended
        left = np.count_nonzero(open_lanes)
        if left == 0:
            break
        if left < THINNED * open_lanes.size:
            kept = np.flatnonzero(open_lanes)
            lanes = kept if lanes is None else lanes[kept]
            here = lanes_of(flat, lanes)
            search = replace(search, **{name: part[kept] for name, part in vars(search).items()})
            open_lanes = np.ones(left, dtype=np.bool_)
    return root.reshape(shape)


def _written_down(
    residual: Callable[[Any, Any, Any], Any],
    tree: Any,
    bracket: tuple[Any, Any],
    start: Any,
    tolerance: Any,
    width: float,
    first: Any,
    trail: Any,
    stride: float,
) -> Any:
    """The same as a loop over numbers that are not known yet."""
    search = _Search(*bracket, start, np.nan, np.nan, False, False, tolerance)
    root: Any = np.nan
    still: Any = True
    if first is not None:
        look = _looked(search, first, width, stride)
        search, still, root = look.search, ~look.ended, np.where(look.ended, look.answer, root)
    moving = [getattr(search, name) for name in _MOVING]
    carried = [] if trail is None else list(trail.state)
    own = len(moving)

    def body(state: list[Any]) -> tuple[list[Any], Any]:
        at = replace(search, **dict(zip(_MOVING, state[:own], strict=True)))
        waypoint = None if trail is None else _TracedWaypoint(trail, state[own + 2 :], at.now)
        look = _looked(at, residual(tree, at.now, waypoint), width, stride)
        still, root = state[own : own + 2]
        root = np.where(still & look.ended, look.answer, root)
        still = still & ~look.ended
        after = [getattr(look.search, name) for name in _MOVING]
        return [*after, still, root, *(() if waypoint is None else waypoint.state)], still

    most = MOST_STEPS if first is None else MOST_STEPS - 1
    finals = loop([*moving, still, root, *carried], body, most)
    return finals[own + 1]
