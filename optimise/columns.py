"""One number or a column of numbers, and a solver that closes every lane of a column by itself."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any, TypeAlias, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Lanes: TypeAlias = NDArray[np.intp]
Column: TypeAlias = float | Array
"""A float, or a float64 array with one entry per machine."""

MOST_STEPS = 80

_Tree = TypeVar("_Tree")
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

    Words, tables and what is not stated (text, dict, None) stay as they are.
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
    changed = {name: map_columns(getattr(tree, name), change) for name in names}
    return cast(_Tree, kind(**changed))


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


def shape_of(tree: object) -> tuple[int, ...]:
    """Shape to which all columns of a tree broadcast."""
    return np.broadcast_shapes(*{np.shape(column) for column in _columns_in(tree)})


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
