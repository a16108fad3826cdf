"""Functions of columns, compiled: the same bits, without a pass over memory for each operation."""

from __future__ import annotations

import ctypes
import dataclasses
import functools
from collections.abc import Callable, Sequence
from typing import Any, Generic, TypeVar

import numpy as np

from optimise.columns import Array, Column, columns_in, map_columns, shape_of
from optimise.compiled.traced import Traced, is_mask, is_tracing, once, plain, tracing
from optimise.compiled.vector_code import LANES, vector_code

try:
    import llvmlite.binding as llvm
except (ImportError, OSError):  # No wheel for this computer: everything is the same, and slower.
    llvm = None

_Tree = TypeVar("_Tree")
_Answer = TypeVar("_Answer")
_NAME = "kernel"
MUCH = 1_000_000
"""Lanes of a small function from which it pays to compile it for speed."""
LONG = 256
"""Lanes from which a compiled function of some columns is quicker than numpy."""
SORTED_FROM = 1024
"""Lanes from which it pays to put like ones together."""


@functools.cache
def _target() -> Any:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    return llvm.Target.from_default_triple()


def processor() -> tuple[str, str]:
    """Name and features of the processor that is compiled for."""
    return llvm.get_host_cpu_name(), llvm.get_host_cpu_features().flatten()


def _compiler(code: str, *, thorough: bool) -> Any:
    cpu, features = processor()
    machine = _target().create_target_machine(
        cpu=cpu,
        features=features,
        opt=2 if thorough else 0,
        codemodel="jitdefault",
        jit=True,
    )
    module = llvm.parse_assembly(code)
    if thorough:
        passes = llvm.create_new_module_pass_manager()
        passes.add_always_inliner_pass()
        passes.run(
            module,
            llvm.create_pass_builder(machine, llvm.create_pipeline_tuning_options(speed_level=0)),
        )
    engine = llvm.create_mcjit_compiler(module, machine)
    engine.finalize_object()
    return engine


def form_of(tree: object, *, values: bool) -> Any:
    """What two trees have in common that one kernel serves.

    Parameters
    ----------
    tree
        Dataclasses and tuples of columns.
    values
        Whether single numbers have to be the same.
    """
    if isinstance(tree, tuple):
        return (tuple, *(form_of(item, values=values) for item in tree))
    if tree is None or isinstance(tree, str):
        return tree
    if isinstance(tree, dict):
        # What stands in a dict is never a column.
        return (dict, *((key, form_of(item, values=True)) for key, item in tree.items()))
    if dataclasses.is_dataclass(tree):
        return (
            type(tree),
            *(form_of(getattr(tree, one.name), values=values) for one in dataclasses.fields(tree)),
        )
    if np.ndim(tree) or not values:  # type: ignore[arg-type]
        return Column
    return float(tree).hex()  # type: ignore[arg-type]


class Kernel:
    """Machine code of a function of some columns.

    Parameters
    ----------
    act
        Called once, with unknown numbers; its answers are numbers or masks of each lane.
    inputs
        How many columns it takes.
    thorough
        Whether it is compiled for speed, which takes three times as long.

    Raises
    ------
    UntraceableError
        The function does something that cannot be written down.
    """

    def __init__(
        self, act: Callable[..., Sequence[Any]], inputs: int, *, thorough: bool = True
    ) -> None:
        with tracing() as trace:
            outputs = [plain(one) for one in act(*(trace.input(nth) for nth in range(inputs)))]
        self.masks = [is_mask(one) for one in outputs]
        self._engine = _compiler(vector_code(trace, outputs, _NAME), thorough=thorough)
        kind = ctypes.CFUNCTYPE(None, ctypes.c_int64, *([ctypes.c_void_p] * 3))
        self._call = kind(self._engine.get_function_address(_NAME))

    def __call__(self, columns: Sequence[Array], lanes: int) -> Array:
        """Answers, shape (outputs, lanes), to columns of that many lanes or of one number."""
        answers = np.empty((len(self.masks), lanes))
        whole = lanes // LANES * LANES
        if whole:
            spread = [column if column.size > 1 else _same(column) for column in columns]
            self._run(whole // LANES, spread, list(answers))
        if whole < lanes:
            rest = [
                _padded(column[whole:]) if column.size > 1 else _same(column) for column in columns
            ]
            last = np.empty((len(self.masks), LANES))
            self._run(1, rest, list(last))
            answers[:, whole:] = last[:, : lanes - whole]
        return answers

    def _run(self, blocks: int, inputs: Sequence[Array], outputs: Sequence[Array]) -> None:
        places = np.array([column.ctypes.data for column in inputs], dtype=np.int64)
        strides = np.array([int(column.size > LANES) for column in inputs], dtype=np.int64)
        answers = np.array([row.ctypes.data for row in outputs], dtype=np.int64)
        self._call(blocks, places.ctypes.data, strides.ctypes.data, answers.ctypes.data)


def _same(column: Array) -> Array:
    return np.full(LANES, column.reshape(-1)[0])


def _padded(column: Array) -> Array:
    return np.concatenate([column, np.full(LANES - column.size, column[-1])])


class Compiled(Generic[_Tree, _Answer]):
    """An elementwise function of a tree of columns, compiled as soon as that pays.

    The answers have the same bits before and after.

    Parameters
    ----------
    act
        Makes a tree of columns from one, lane by lane.
    worth, much
        Lanes that have been asked for when it is compiled, and when it is compiled for speed.
    alike
        Column by which lanes that take equally long are put together.
    values
        Whether single numbers are compiled in; else they are given anew with each call.
    """

    def __init__(
        self,
        act: Callable[[_Tree], _Answer],
        worth: int,
        much: int,
        alike: Callable[[_Tree], Column] | None = None,
        *,
        values: bool = False,
    ) -> None:
        self._act = act
        self._worth = worth
        self._much = much
        self._alike = alike
        self._values = values
        self._asked = 0
        self._known: dict[Any, tuple[Kernel, _Answer, bool]] = {}

    def __call__(self, tree: _Tree) -> _Answer:
        """Answer to a tree."""
        if is_tracing() or llvm is None:
            return self._act(tree)
        shape = shape_of(tree)
        lanes = int(np.prod(shape, dtype=int))
        self._asked += lanes
        if self._asked < self._worth:
            return self._act(tree)
        kernel, like = self._kernel(tree)
        order = self._order(tree, shape, lanes)
        given = [_flat(column, shape, order) for column in self._inputs(tree)]
        found = kernel(given, lanes)
        if order is not None:
            sorted_back = np.empty_like(found)
            sorted_back[:, order] = found
            found = sorted_back
        rows = iter(
            row.reshape(shape) != 0.0 if is_mask else row.reshape(shape)
            for row, is_mask in zip(found, kernel.masks, strict=True)
        )
        return map_columns(like, lambda _: next(rows))

    def _inputs(self, tree: _Tree) -> list[Column]:
        return [one for one in columns_in(tree) if np.ndim(one) or not self._values]

    def _order(self, tree: _Tree, shape: tuple[int, ...], lanes: int) -> Any:
        if self._alike is None or lanes < SORTED_FROM:
            return None
        return np.argsort(np.broadcast_to(self._alike(tree), shape).reshape(-1))

    def _kernel(self, tree: _Tree) -> tuple[Kernel, _Answer]:
        form = form_of(tree, values=self._values)
        thorough = self._asked >= self._much
        # No lock: a cached property has its own in Python 3.11, and a thread that holds that may be
        # on its way here. Two threads may compile the same; either kernel will do.
        if form not in self._known or (thorough and not self._known[form][2]):
            kept: list[_Answer] = []

            def act(*given: Traced) -> list[Column]:
                following = iter(given)

                def put(column: Column) -> Any:
                    return next(following) if np.ndim(column) or not self._values else column

                answer = self._act(map_columns(tree, put))
                kept.append(map_columns(answer, lambda _: 0.0))
                return list(columns_in(answer))

            kernel = Kernel(act, len(self._inputs(tree)), thorough=thorough)
            self._known[form] = kernel, kept[0], thorough
        kernel, like, _ = self._known[form]
        return kernel, like


_kept: dict[Callable[[Any], Any], Compiled[Any, Any]] = {}


def compiled(act: Callable[[_Tree], _Answer], tree: _Tree) -> _Answer:
    """Answer of an elementwise function of a module to a tree, compiled; see :class:`Compiled`."""
    answer: _Answer = _made_for(act, act)(tree)
    return answer


def quick(act: Callable[..., Column], *columns: Column) -> Column:
    """Answer of a function of a module to columns, compiled for long ones.

    In other compiled functions it is called, not repeated.
    """
    if is_tracing():
        answer: Column = once(act, columns)
        return answer
    if max(np.size(column) for column in columns) < LONG:
        return act(*columns)
    answer = _made_for(act, lambda tree: act(*tree))(columns)
    return answer


def _made_for(key: Callable[..., Any], act: Callable[[Any], Any]) -> Compiled[Any, Any]:
    return _kept.setdefault(key, Compiled(act, 0, MUCH))


def _flat(column: Column, shape: tuple[int, ...], order: Any) -> Array:
    array = np.asarray(column, dtype=np.float64)
    if array.size == 1:
        return array.reshape(-1)
    flat = np.broadcast_to(array, shape).reshape(-1)
    return np.ascontiguousarray(flat) if order is None else flat[order]
