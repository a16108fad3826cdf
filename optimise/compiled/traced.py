"""Numbers that are not known yet: what is done with them is written down, to be compiled.

A function of columns that is called with such numbers leaves a graph of elementary operations, each
once, at the outermost place where all that it needs is known. The graph has loops (:func:`loop`),
rounds (:func:`go_round`) and detours (:func:`detour`) and no other branches: a Python ``if`` on
such a number is refused.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

_UFUNCS: dict[Any, str] = {
    np.add: "add",
    np.subtract: "subtract",
    np.multiply: "multiply",
    np.divide: "divide",
    np.negative: "negative",
    np.absolute: "absolute",
    np.sqrt: "sqrt",
    np.floor: "floor",
    np.maximum: "maximum",
    np.minimum: "minimum",
    np.fmin: "fmin",
    np.less: "less",
    np.less_equal: "less_equal",
    np.greater: "greater",
    np.greater_equal: "greater_equal",
    np.equal: "equal",
    np.isnan: "isnan",
    np.isfinite: "isfinite",
    np.bitwise_and: "both",
    np.bitwise_or: "either",
    np.invert: "opposite",
}
_MASKS = frozenset(
    (
        *("less", "less_equal", "greater", "greater_equal", "equal", "isnan", "isfinite"),
        *("both", "either", "opposite"),
    )
)
_EVEN = frozenset(("add", "multiply", "both", "either", "equal"))
"""Operations whose two arguments may change places."""


class UntraceableError(Exception):
    """Something was done with an unknown number that cannot be written down."""


Constant: TypeAlias = float | bool
Known: TypeAlias = "Traced | Constant"


@dataclass(eq=False)
class Region:
    """Operations in order: of the whole, of a loop or of a detour.

    Attributes
    ----------
    depth
        How many regions are around it.
    known
        Operations of a detour, which are worked out there alone; None where they move outward.
    """

    depth: int
    known: dict[tuple[Any, ...], Traced] | None = None
    items: list[Traced | Loop | Detour | Round] = field(default_factory=list)


@dataclass(eq=False)
class Loop:
    """Runs until no lane is open, or ``most`` times.

    Attributes
    ----------
    region
        What is done each time.
    params, starts, nexts
        Numbers that change: in the region, before it, and after it was run once.
    open
        Mask of ``nexts`` that says which lanes go on.
    finals
        The numbers after the last time.
    """

    region: Region
    starts: tuple[Known, ...]
    most: int
    params: tuple[Traced, ...] = ()
    nexts: tuple[Known, ...] = ()
    open: Known = True
    finals: tuple[Traced, ...] = ()


@dataclass(eq=False)
class Detour:
    """What is worked out where some lane needs it; else the other answers stand."""

    region: Region
    mask: Traced
    answers: tuple[Known, ...]
    others: tuple[Known, ...]
    finals: tuple[Traced, ...] = ()


@dataclass(eq=False)
class Round:
    """Runs once for each of several cases.

    Attributes
    ----------
    params
        Numbers of the case that is at hand, and what they are in each case.
    answers
        What is worked out in the region, and the numbers that stand for it in each case afterwards.
    """

    region: Region
    outside: Region
    cases: int
    params: list[tuple[Traced, tuple[Known, ...]]] = field(default_factory=list)
    answers: list[tuple[Known, tuple[Traced, ...]]] = field(default_factory=list)


class Traced(NDArrayOperatorsMixin):
    """A number, or a truth value, of every lane."""

    __slots__ = ("args", "is_mask", "op", "region")

    def __init__(self, op: str, args: tuple[Any, ...], region: Region, *, is_mask: bool) -> None:
        self.op = op
        self.args = args
        self.region = region
        self.is_mask = is_mask

    __hash__ = object.__hash__

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **options: Any) -> Any:
        """Write a ufunc down."""
        if method != "__call__" or options or ufunc not in _UFUNCS:
            raise UntraceableError(f"numpy's {ufunc.__name__} ({method}) of an unknown number")
        return record(_UFUNCS[ufunc], *inputs)

    def __array_function__(self, function: Any, types: Any, args: Any, options: Any) -> Any:
        """Write a function of numpy down."""
        if options or function not in _FUNCTIONS:
            raise UntraceableError(f"numpy's {function.__name__} of an unknown number")
        return _FUNCTIONS[function](*args)

    def __bool__(self) -> bool:
        """Never: it is not known."""
        raise UntraceableError("a branch on an unknown number")


@dataclass
class Trace:
    """All that is written down."""

    root: Region = field(default_factory=lambda: Region(0, {}))

    def __post_init__(self) -> None:
        """Begin at the root."""
        self.around = [self.root]
        self.rounds: list[Round] = []

    def input(self, nth: int) -> Traced:
        """A number that is given."""
        return self._add("input", (nth,), self.root, is_mask=False)

    def _add(self, op: str, args: tuple[Any, ...], region: Region, *, is_mask: bool) -> Traced:
        key = (op, *((type(one), str(one)) if _is_constant(one) else id(one) for one in args))
        books = [one.known for one in self.around if one.known is not None]
        for book in books:
            if key in book:
                return book[key]
        made = books[-1][key] = Traced(op, args, region, is_mask=is_mask)
        region.items.append(made)
        return made

    @contextmanager
    def inside(self, region: Region) -> Iterator[None]:
        """Write down in a region meanwhile."""
        self.around.append(region)
        try:
            yield
        finally:
            self.around.pop()

    def record(self, op: str, args: tuple[Any, ...]) -> Traced:
        """An operation, where all that it needs is known; the same one as before if it was met."""
        detours = [one for one in self.around if one.known is not None]
        regions = [detours[-1], *(one.region for one in args if isinstance(one, Traced))]
        region = max(regions, key=lambda one: one.depth)
        masks = [is_mask(one) for one in args]
        masked = op in _MASKS or (op == "where" and masks[1])
        if op in _EVEN and _is_constant(args[0]):
            args = args[::-1]
        return self._add(op, args, region, is_mask=masked)


class _Active(threading.local):
    """What is being written down in a thread, the innermost last."""

    def __init__(self) -> None:
        self.traces: list[Trace] = []


_active = _Active()


def is_tracing() -> bool:
    """Whether what is done with numbers is being written down in this thread."""
    return bool(_active.traces)


@contextmanager
def tracing() -> Iterator[Trace]:
    """Write down what is done with unknown numbers meanwhile."""
    _active.traces.append(Trace())
    try:
        yield _active.traces[-1]
    finally:
        _active.traces.pop()


def _is_constant(value: object) -> bool:
    return isinstance(value, (bool, float, int))


def is_mask(value: Known) -> bool:
    """Whether it is a truth value."""
    return value.is_mask if isinstance(value, Traced) else isinstance(value, bool)


def plain(value: Any) -> Known:
    """What stands for a single number: Python's own, or the unknown one."""
    if isinstance(value, Traced):
        return value
    array = np.asarray(value)
    if array.size != 1 or array.dtype == object:
        raise UntraceableError(f"an array of shape {array.shape} with an unknown number")
    one = array.reshape(()).item()
    return one if isinstance(one, bool) else float(one)


def record(op: str, *inputs: Any) -> Any:
    """Write an operation down; what leaves a number as it is is left out."""
    args = tuple(plain(one) for one in inputs)
    kept = _unchanged(op, args)
    return _active.traces[-1].record(op, args) if kept is None else kept


def _unchanged(op: str, args: tuple[Known, ...]) -> Known | None:
    """Answer of an operation that changes nothing."""
    if op == "where":
        if isinstance(args[0], bool):
            return args[1] if args[0] else args[2]
        return args[1] if args[1] is args[2] else None
    if op in ("multiply", "divide") and _is_constant(args[1]) and args[1] == 1.0:
        return args[0]
    if op == "multiply" and _is_constant(args[0]) and args[0] == 1.0:
        return args[1]
    if op in ("both", "either"):
        for one, other in (args, args[::-1]):
            if isinstance(one, bool):
                return other if one is (op == "both") else one
    return None


def _clip(value: Any, least: Any, most: Any) -> Any:
    return record("minimum", record("maximum", value, least), most)


def _broadcast(value: Any, shape: tuple[int, ...]) -> Any:
    if shape != ():
        raise UntraceableError(f"an unknown number in the shape {shape}")
    return value


_FUNCTIONS: dict[Any, Callable[..., Any]] = {
    np.where: lambda mask, yes, no: record("where", mask, yes, no),
    np.clip: _clip,
    np.shape: lambda _: (),
    np.ndim: lambda _: 0,
    np.broadcast_to: _broadcast,
}


def loop(
    starts: Sequence[Any], body: Callable[[list[Any]], tuple[Sequence[Any], Any]], most: int
) -> tuple[Any, ...]:
    """Numbers that are changed again and again until no lane is open.

    Parameters
    ----------
    starts
        The numbers before.
    body
        Makes the next numbers from the last, and the mask of the lanes that go on. Lanes that are
        closed are changed too as long as others are open.
    most
        How often at most.
    """
    trace = _active.traces[-1]
    outside = trace.around[-1]
    made = Loop(Region(outside.depth + 1), tuple(plain(one) for one in starts), most)
    masks = [is_mask(one) for one in made.starts]
    made.params = tuple(
        trace._add("param", (made, nth), made.region, is_mask=mask)
        for nth, mask in enumerate(masks)
    )
    with trace.inside(made.region):
        nexts, still = body(list(made.params))
    made.nexts, made.open = tuple(plain(one) for one in nexts), plain(still)
    outside.items.append(made)
    made.finals = tuple(
        Traced("final", (made, nth), outside, is_mask=mask) for nth, mask in enumerate(masks)
    )
    return made.finals


def detour(
    mask: Traced, act: Callable[[], Sequence[Any]], otherwise: Sequence[Any]
) -> tuple[Any, ...]:
    """Answers of a function, worked out only where the mask holds in some lane.

    Parameters
    ----------
    mask
        Lanes that need it.
    act
        Its answers must be the others in all other lanes.
    otherwise
        The others.
    """
    trace = _active.traces[-1]
    outside = trace.around[-1]
    region = Region(outside.depth + 1, {})
    with trace.inside(region):
        answers = tuple(plain(one) for one in act())
    made = Detour(region, mask, answers, tuple(plain(one) for one in otherwise))
    outside.items.append(made)
    made.finals = tuple(
        Traced("final", (made, nth), outside, is_mask=is_mask(one))
        for nth, one in enumerate(answers)
    )
    return made.finals


def go_round(cases: int, body: Callable[[], None]) -> None:
    """Do the same for each of several cases.

    Parameters
    ----------
    cases
        How many.
    body
        Asks :func:`of_case` for what differs and hands its answers to :func:`to_cases`.
    """
    trace = _active.traces[-1]
    outside = trace.around[-1]
    made = Round(Region(outside.depth + 1), outside, cases)
    trace.rounds.append(made)
    with trace.inside(made.region):
        body()
    trace.rounds.pop()
    outside.items.append(made)


@dataclass(eq=False)
class Function:
    """What is written down once and called wherever it is met."""

    trace: Trace
    answer: Known


_functions: dict[Callable[..., Any], Function] = {}


def once(act: Callable[..., Any], inputs: Sequence[Any]) -> Any:
    """Answer of a function of numbers, which is compiled once for all its calls."""
    if not any(isinstance(one, Traced) for one in inputs):
        return act(*inputs)
    args = tuple(plain(one) for one in inputs)
    if act not in _functions:
        with tracing() as trace:
            answer = plain(act(*(trace.input(nth) for nth in range(len(args)))))
        _functions.setdefault(act, Function(trace, answer))
    return _active.traces[-1].record("call", (_functions[act], *args))


def of_case(columns: Sequence[Any]) -> Any:
    """Number of the case at hand, out of those of all cases."""
    trace = _active.traces[-1]
    made = trace.rounds[-1]
    param = Traced("param", (made, len(made.params)), made.region, is_mask=False)
    made.params.append((param, tuple(plain(one) for one in columns)))
    return param


def to_cases(answer: Any) -> tuple[Any, ...]:
    """Numbers that stand for an answer in each case, for use after the round."""
    made = _active.traces[-1].rounds[-1]
    nth = len(made.answers)
    finals = tuple(
        Traced("final", (made, nth, case), made.outside, is_mask=False)
        for case in range(made.cases)
    )
    made.answers.append((plain(answer), finals))
    return finals


def is_going_round() -> bool:
    """Whether a round is being written down."""
    return is_tracing() and bool(_active.traces[-1].rounds)
