"""One number or a column of numbers, and a solver that closes every lane of a column by itself."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import TypeAlias, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Lanes: TypeAlias = NDArray[np.intp]
Column: TypeAlias = float | Array
"""A float, or a float64 array with one entry per machine."""

MOST_STEPS = 80

_Tree = TypeVar("_Tree")
THINNED = 0.6
"""Share of lanes still open under which the closed ones are left out of further steps."""


def map_columns(tree: _Tree, change: Callable[[Column], Column]) -> _Tree:
    """Same dataclass or tuple, nested as it is, with every number or column in it changed.

    Words, tables and what is not stated (text, dict, None) stay as they are.
    """
    if tree is None or isinstance(tree, (str, dict)):
        return tree
    if isinstance(tree, tuple):
        return cast(_Tree, tuple(map_columns(item, change) for item in tree))
    if dataclasses.is_dataclass(tree) and not isinstance(tree, type):
        changed = {
            field.name: map_columns(getattr(tree, field.name), change)
            for field in dataclasses.fields(tree)
        }
        return cast(_Tree, type(tree)(**changed))
    return cast(_Tree, change(cast(Column, tree)))


def shape_of(tree: object) -> tuple[int, ...]:
    """Shape to which all columns of a tree broadcast."""
    shapes: list[tuple[int, ...]] = []

    def note(column: Column) -> Column:
        shapes.append(np.shape(column))
        return column

    map_columns(tree, note)
    return np.broadcast_shapes(*shapes)


def flattened(tree: _Tree, shape: tuple[int, ...]) -> _Tree:
    """Tree whose columns are broadcast to ``shape`` and laid flat; single numbers stay numbers.

    They become numpy's, so that a division by zero gives an infinity in one lane as in many.
    """

    def flatten(column: Column) -> Column:
        array = np.asarray(column, dtype=np.float64)
        if array.size == 1:
            return np.float64(array.reshape(()))
        return np.ascontiguousarray(np.broadcast_to(array, shape)).reshape(-1)

    return map_columns(tree, flatten)


def lanes_of(tree: _Tree, lanes: Lanes) -> _Tree:
    """Tree with only the lanes asked for in its flat columns; single numbers stay."""
    return map_columns(
        tree, lambda column: np.asarray(column)[lanes] if np.ndim(column) else column
    )


def solve_falling(
    residual: Callable[[Array, Lanes | None], Array],
    lower: Array,
    upper: Array,
    start: Array,
    tolerance: Array,
) -> tuple[Array, NDArray[np.bool_]]:
    """Root of a falling function in every lane: secant steps kept inside a shrinking bracket.

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
    open_lanes: NDArray[np.bool_] = np.ones(root.shape, dtype=np.bool_)
    for _ in range(MOST_STEPS):
        value = residual(now, lanes)
        falls_here = value > 0.0
        low = np.where(falls_here, now, low)
        high = np.where(falls_here, high, now)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = now - value * (now - before) / (value - value_before)
        step = np.where(np.isnan(before), now + value, step)
        inside = (step > low) & (step < high)
        at_end = ~inside & ((high - low) <= allowed)
        step = np.where(inside, step, 0.5 * (low + high))
        done = (np.abs(step - now) <= allowed) | (value == 0.0) | at_end
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
                step = step[open_lanes]
                open_lanes = np.ones(left, dtype=np.bool_)
        now = step
    return root, closed
