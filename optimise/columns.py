"""One number or a column of numbers, and trees of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from typing import Any, TypeAlias, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from optimise.compiled.traced import Traced, detour, go_round, is_tracing, of_case, to_cases

Array: TypeAlias = NDArray[np.float64]
Lanes: TypeAlias = NDArray[np.intp]
Mask: TypeAlias = NDArray[np.bool_]
Column: TypeAlias = float | Array
"""A float, or a float64 array with one entry per machine."""

_Tree = TypeVar("_Tree")
_Answer = TypeVar("_Answer")
_NUMBERS = frozenset({float, int, bool, np.ndarray, np.float64})
"""Classes that are told at once from those that hold others."""


def as_column(value: Any) -> Any:
    """Number or column of numpy's, so that a comparison with it gives a mask."""
    return value if isinstance(value, Traced) else np.asarray(value)


def as_numbers(value: Column) -> Column:
    """The same in 64 bits; a single number becomes numpy's."""
    return value if isinstance(value, Traced) else np.asarray(value, dtype=np.float64)[()]


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


def columns_in(tree: object) -> Iterator[Column]:
    """All numbers and columns of a tree, in the order of :func:`map_columns`."""
    kind: Any = type(tree)
    if kind in _NUMBERS:
        yield cast(Column, tree)
    elif isinstance(tree, tuple):
        for item in tree:
            yield from columns_in(item)
    elif tree is not None and not isinstance(tree, (str, dict)):
        names = _field_names(kind)
        if names is None:
            yield cast(Column, tree)
        else:
            for name in names:
                yield from columns_in(getattr(tree, name))


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


def where_any(mask: Any, act: Callable[[], _Tree], otherwise: _Tree) -> _Tree:
    """Answer of a function, worked out only where the mask holds in some lane; the other else.

    In lanes where the mask does not hold the function must answer with the other, in a tree of the
    same form.
    """
    if not isinstance(mask, Traced):
        return act() if np.any(mask) else otherwise
    kept: list[_Tree] = []

    def answers() -> list[Column]:
        kept.append(act())
        return list(columns_in(kept[0]))

    finals = iter(detour(mask, answers, list(columns_in(otherwise))))
    return map_columns(kept[0], lambda _: next(finals))


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
        if isinstance(column, Traced):
            return column
        array = np.asarray(column, dtype=np.float64)
        if array.size == 1:
            return np.float64(array.reshape(()))
        if array.shape != shape:
            array = np.broadcast_to(array, shape)
        return np.ascontiguousarray(array).reshape(-1)

    return map_columns(tree, flatten)


def _one_after_the_other(
    act: Callable[[_Tree], _Answer], like: _Tree, columns: list[list[Column]]
) -> tuple[_Answer, ...]:
    kept: list[tuple[_Answer, list[tuple[Any, ...]]]] = []

    def body() -> None:
        piles = iter([of_case(pile) for pile in zip(*columns, strict=True)])
        answer = act(map_columns(like, lambda _: next(piles)))
        kept.append((answer, [to_cases(column) for column in columns_in(answer)]))

    go_round(len(columns), body)
    answer, finals = kept[0]

    def of(nth: int) -> _Answer:
        following = iter(finals)
        return map_columns(answer, lambda _: next(following)[nth])

    return tuple(of(nth) for nth in range(len(columns)))


def spread_to(column: Column, tree: object) -> Column:
    """Column, its lanes laid flat, in the shape to which the columns of a tree broadcast."""
    if isinstance(column, Traced):
        return column
    shape = shape_of(tree)
    array = np.asarray(column)
    return np.broadcast_to(array, shape) if array.ndim == 0 else array.reshape(shape)


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

    columns = [list(columns_in(case)) for case in cases]
    if is_tracing():
        return _one_after_the_other(act, cases[0], columns)
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
