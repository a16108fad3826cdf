"""One number or a column of numbers, and a solver that closes every lane of a column by itself."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from typing import Any, TypeAlias, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Lanes: TypeAlias = NDArray[np.intp]
Column: TypeAlias = float | Array
"""A float, or a float64 array with one entry per machine."""

MOST_STEPS = 80
FURTHEST_AHEAD = 2.0
"""Steps as long as the last one over which a trail is trusted to run straight on."""

_Tree = TypeVar("_Tree")
_Answer = TypeVar("_Answer")
_NUMBERS = frozenset({float, int, bool, np.ndarray, np.float64})
"""Classes that are told at once from those that hold others."""
THINNED = 0.6
"""Share of lanes still open under which the closed ones are left out of further steps."""


@cache
def _field_names(kind: type[Any]) -> tuple[str, ...] | None:
    """Names of the fields of a dataclass, None for any other class."""
    if not dataclasses.is_dataclass(kind):
        return None
    return tuple(field.name for field in dataclasses.fields(kind))


def map_columns(tree: _Tree, change: Callable[[Column], Column]) -> _Tree:
    """Same dataclass or tuple, nested as it is, with every number or column in it changed.

    Words, tables and what is not stated (text, dict, None) stay as they are, and so does an object
    in which nothing changes.
    """
    kind: Any = type(tree)
    if kind in _NUMBERS:
        return cast(_Tree, change(cast(Column, tree)))
    if tree is None or isinstance(tree, (str, dict)):
        return tree
    if isinstance(tree, tuple):
        return cast(_Tree, tuple([map_columns(item, change) for item in tree]))
    names = _field_names(kind)
    if names is None:
        return cast(_Tree, change(cast(Column, tree)))
    stays, changed = True, []
    for name in names:
        before = getattr(tree, name)
        after = map_columns(before, change)
        stays = stays and after is before
        changed.append(after)
    return tree if stays else cast(_Tree, kind(**dict(zip(names, changed, strict=True))))


def _columns_in(tree: object) -> Iterator[Column]:
    kind: Any = type(tree)
    if kind in _NUMBERS:
        yield cast(Column, tree)
    elif isinstance(tree, tuple):
        for item in tree:
            yield from _columns_in(item)
    elif tree is not None and not isinstance(tree, (str, dict)):
        names = _field_names(kind)
        if names is None:
            yield cast(Column, tree)
        else:
            for name in names:
                yield from _columns_in(getattr(tree, name))


def _add_shapes(tree: object, shapes: set[tuple[int, ...]]) -> None:
    kind: Any = type(tree)
    if kind is np.ndarray:
        shapes.add(cast(Array, tree).shape)
    elif isinstance(tree, tuple):
        for item in tree:
            _add_shapes(item, shapes)
    elif tree is not None and kind not in _NUMBERS and not isinstance(tree, (str, dict)):
        names = _field_names(kind)
        if names is None:
            shapes.add(np.shape(cast(Column, tree)))
        else:
            for name in names:
                _add_shapes(getattr(tree, name), shapes)


def shape_of(tree: object) -> tuple[int, ...]:
    """Shape to which all columns of a tree broadcast."""
    shapes: set[tuple[int, ...]] = set()
    _add_shapes(tree, shapes)
    return np.broadcast_shapes(*shapes)


def flattened(tree: _Tree, shape: tuple[int, ...]) -> _Tree:
    """Tree whose columns are broadcast to ``shape`` and laid flat; single numbers stay numbers.

    They become numpy's, so that a division by zero gives an infinity in one lane as in many.
    """

    def flatten(column: Column) -> Column:
        array = np.asarray(column, dtype=np.float64)
        if array.size == 1:
            return np.float64(array.reshape(()))
        if array.shape != shape:
            array = np.broadcast_to(array, shape)
        return np.ascontiguousarray(array).reshape(-1)

    return map_columns(tree, flatten)


def lanes_of(tree: _Tree, lanes: Lanes) -> _Tree:
    """Tree with only the lanes asked for in its flat columns; single numbers stay."""
    return map_columns(
        tree, lambda column: np.asarray(column)[lanes] if np.ndim(column) else column
    )


def together(
    act: Callable[[_Tree], _Answer], cases: Sequence[_Tree], axes: int
) -> tuple[_Answer, ...]:
    """Answer of an elementwise function to each of several like trees, from one call of it.

    Parameters
    ----------
    act
        Takes a tree like those of ``cases`` whose columns have one axis more, in front.
    cases
        Trees of one shape; at least one.
    axes
        Axes of the largest column that the function meets besides, and of those in ``cases``.
    """

    def stacked(columns: Sequence[Column]) -> Array:
        arrays = [np.asarray(column, dtype=np.float64) for column in columns]
        shape = np.broadcast_shapes(*{array.shape for array in arrays})
        level = np.stack([np.broadcast_to(array, shape) for array in arrays])
        return level.reshape(len(arrays), *(1,) * (axes - len(shape)), *shape)

    columns = [list(_columns_in(case)) for case in cases]
    piles = iter([stacked(pile) for pile in zip(*columns, strict=True)])
    answer = act(map_columns(cases[0], lambda _: next(piles)))

    def of_case(nth: int) -> _Answer:
        def pick(column: Column) -> Column:
            if np.ndim(column) <= axes:
                return column
            array = np.asarray(column)
            return cast(Column, array[nth if len(array) > 1 else 0])

        return map_columns(answer, pick)

    return tuple(of_case(nth) for nth in range(len(cases)))


class Trail:
    """What solves found at the last two points of a course, lane by lane: guesses for the next."""

    def __init__(self, lanes: int) -> None:
        self.lanes = lanes
        self.found: dict[str, tuple[Array, Array, Array, Array]] = {}


@dataclasses.dataclass(frozen=True)
class Waypoint:
    """A point ``x`` on a trail, for the lanes given or all."""

    trail: Trail
    x: Array
    lanes: Lanes | None


def trail_of(lanes: int) -> Trail:
    """Trail without any point."""
    return Trail(lanes)


def waypoint_at(trail: Trail, x: Array, lanes: Lanes | None) -> Waypoint:
    """Point on a trail at which solves are about to be made."""
    return Waypoint(trail, x, lanes)


def guessed(waypoint: Waypoint | None, name: str) -> Array | None:
    """Straight on from the last two answers of a solve, shape (..., lanes); NaN without one."""
    if waypoint is None or name not in waypoint.trail.found:
        return None
    picked = [
        part if waypoint.lanes is None else part[..., waypoint.lanes]
        for part in waypoint.trail.found[name]
    ]
    x_before, before, x_last, last = picked
    with np.errstate(divide="ignore", invalid="ignore"):
        ahead = (waypoint.x - x_last) / (x_last - x_before)
        straight = last + (last - before) * ahead
    near = np.isfinite(straight) & (np.abs(ahead) <= FURTHEST_AHEAD)
    return np.where(near, straight, last)


def keep(waypoint: Waypoint | None, name: str, answer: Column) -> None:
    """Add the answer of a solve, shape (..., lanes)."""
    if waypoint is None:
        return
    answers = np.asarray(answer)
    shape = (*answers.shape[:-1], waypoint.trail.lanes)
    if name not in waypoint.trail.found:
        nothing = np.full(waypoint.trail.lanes, np.nan), np.full(shape, np.nan)
        waypoint.trail.found[name] = (*nothing, nothing[0].copy(), nothing[1].copy())
    x_before, before, x_last, last = waypoint.trail.found[name]
    at = slice(None) if waypoint.lanes is None else waypoint.lanes
    x_before[at], before[..., at] = x_last[at], last[..., at]
    x_last[at], last[..., at] = waypoint.x, answers


def piled(columns: Sequence[Column], shape: tuple[int, ...]) -> Array:
    """Columns laid flat from ``shape``, one above the other."""
    return np.stack([np.broadcast_to(np.asarray(one), shape).reshape(-1) for one in columns])


def solve_falling(
    residual: Callable[[Array, Lanes | None], Array],
    lower: Array,
    upper: Array,
    start: Array,
    tolerance: Array,
    width: float,
) -> tuple[Array, NDArray[np.bool_]]:
    """Root of a falling function in every lane: secant steps kept inside a shrinking bracket.

    A step out of the bracket goes to its end where the function was not looked at there yet, else
    to the middle.

    A lane stops at its own first step that meets the tolerance and is not touched again, so that
    its bits do not depend on which lanes stand beside it.

    Parameters
    ----------
    residual
        Called as ``residual(x, lanes)``; ``lanes`` is None for all lanes or the indices that ``x``
        stands for. Must fall (not necessarily strictly) with ``x`` and have its unit: the first
        step is to ``x + residual``.
    lower, upper
        Bracket, shape (n,). The root is looked for inside; where the residual has no change of
        sign the nearer end is the answer.
    start
        First guess, shape (n,), inside the bracket.
    tolerance
        Largest step, in the unit of ``x``, at which a lane counts as closed, shape (n,).
    width
        Width of the bracket, over the tolerance, at which a lane counts as closed: no secant gets
        nearer to a jump.

    Returns
    -------
    tuple
        Roots and a mask of the lanes that closed, both of shape (n,). A lane that met a NaN or ran
        out of steps is False there and NaN in the roots.
    """
    root = np.full(start.shape, np.nan)
    closed = np.zeros(root.shape, dtype=np.bool_)
    if root.size == 0:
        return root, closed
    lanes: Lanes | None = None
    low, high, now = lower.copy(), upper.copy(), start.copy()
    allowed = tolerance
    before = np.full_like(now, np.nan)
    value_before = np.full_like(now, np.nan)
    low_known = np.zeros(root.shape, dtype=np.bool_)
    high_known = np.zeros(root.shape, dtype=np.bool_)
    open_lanes: NDArray[np.bool_] = np.ones(root.shape, dtype=np.bool_)
    for _ in range(MOST_STEPS):
        value = residual(now, lanes)
        falls_here = value > 0.0
        low, high = np.where(falls_here, now, low), np.where(falls_here, high, now)
        low_known, high_known = low_known | falls_here, high_known | ~falls_here
        with np.errstate(divide="ignore", invalid="ignore"):
            step = now - value * (now - before) / (value - value_before)
        step = np.where(np.isnan(before), now + value, step)
        inside = (step > low) & (step < high)
        narrow = (high - low) <= width * allowed
        to_low, to_high = (step <= low) & ~low_known, (step >= high) & ~high_known
        outside = np.where(to_low, low, np.where(to_high, high, 0.5 * (low + high)))
        step = np.where(inside, step, outside)
        done = (np.abs(step - now) <= allowed) | (value == 0.0) | narrow
        failed = np.isnan(value)
        ended = open_lanes & (done | failed)
        before, value_before = now, value
        if ended.any():
            where = np.flatnonzero(ended) if lanes is None else lanes[ended]
            answer = np.where(value == 0.0, now, step)[ended]
            root[where] = np.where(failed[ended], np.nan, answer)
            closed[where] = ~failed[ended]
            open_lanes = open_lanes & ~ended
            left = np.count_nonzero(open_lanes)
            if left == 0:
                return root, closed
            if left < THINNED * open_lanes.size:
                lanes = np.flatnonzero(open_lanes) if lanes is None else lanes[open_lanes]
                low, high, allowed = low[open_lanes], high[open_lanes], allowed[open_lanes]
                before, value_before = before[open_lanes], value_before[open_lanes]
                low_known, high_known = low_known[open_lanes], high_known[open_lanes]
                step = step[open_lanes]
                open_lanes = np.ones(left, dtype=np.bool_)
        now = step
    return root, closed
