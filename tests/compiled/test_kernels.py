"""Compiled functions give the bits that numpy gives."""

from __future__ import annotations

import platform
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.columns import together, where_any
from optimise.compiled import kernels
from optimise.compiled.kernels import Compiled, Kernel
from optimise.compiled.traced import Traced, UntraceableError, once, tracing
from optimise.elementary import log10, power
from optimise.roots import solve_falling

DRAW = np.random.default_rng(11)
EDGES = [0.0, -0.0, 1.0, -1.0, np.inf, -np.inf, np.nan, 1e-300, 1e300, 2.5]
TWO = {
    "add": np.add,
    "subtract": np.subtract,
    "multiply": np.multiply,
    "divide": np.divide,
    "maximum": np.maximum,
    "minimum": np.minimum,
    "fmin": np.fmin,
}
OTHERS = (
    [("x86-64", ""), ("haswell", "+avx2")] if platform.machine() == "x86_64" else [("generic", "")]
)
"""Names and features of processors whose code runs here."""
ONE = {"negative": np.negative, "absolute": np.abs, "floor": np.floor, "sqrt": np.sqrt}
MASKED = {
    "less": np.less,
    "less_equal": np.less_equal,
    "greater": np.greater,
    "greater_equal": np.greater_equal,
    "equal": np.equal,
}


def compiled(act: Any, *columns: np.ndarray, thorough: bool = True) -> np.ndarray:
    kernel = Kernel(act, len(columns), thorough=thorough)
    return kernel(columns, columns[0].size)


def same(one: Any, other: Any) -> bool:
    """Same bits, but for the sign of a zero and the bits of what is no number."""
    return np.array_equal(np.asarray(one), np.asarray(other), equal_nan=True)


def pairs() -> tuple[np.ndarray, np.ndarray]:
    grid = np.array(np.meshgrid(EDGES, EDGES)).reshape(2, -1)
    draw = np.random.default_rng(3)
    wild = draw.normal(size=(2, 33)) * 10.0 ** draw.uniform(-9, 9, (2, 33))
    first, second = np.concatenate([grid, wild], axis=1)
    return np.ascontiguousarray(first), np.ascontiguousarray(second)


@pytest.mark.parametrize("thorough", [False, True])
def test_operations_on_two_numbers(thorough: bool) -> None:
    x, y = pairs()
    with np.errstate(all="ignore"):
        found = compiled(
            lambda x, y: [
                *(act(x, y) for act in TWO.values()),
                *(act(x, 0.5) for act in TWO.values()),
                *(act(0.5, y) for act in TWO.values()),
                *(np.where(act(x, y), x, y) for act in MASKED.values()),
            ],
            x,
            y,
            thorough=thorough,
        )
        expected = [
            *(act(x, y) for act in TWO.values()),
            *(act(x, 0.5) for act in TWO.values()),
            *(act(0.5, y) for act in TWO.values()),
            *(np.where(act(x, y), x, y) for act in MASKED.values()),
        ]
    for one, other in zip(found, expected, strict=True):
        assert same(one, other)


@pytest.mark.parametrize("known", OTHERS)
def test_other_processors(known: tuple[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    plain = compiled(lambda x, y: [log10(x), power(x, y), x * y + x / y], *pairs())
    monkeypatch.setattr(kernels, "processor", lambda: known)
    other = compiled(lambda x, y: [log10(x), power(x, y), x * y + x / y], *pairs())
    assert same(plain, other)


def test_operations_on_one_number_and_on_masks() -> None:
    def act(x: Any, y: Any) -> list[Any]:
        high, odd = x > 0.0, np.isfinite(y)
        return [
            *(one(x) for one in ONE.values()),
            np.clip(x, -1.0, y),
            np.where(high & odd, x, y),
            np.where(high | ~odd, x, y),
            np.where(np.where(high, odd, np.isnan(y)), x, y),
            high,
        ]

    x, y = pairs()
    with np.errstate(all="ignore"):
        for one, other in zip(compiled(act, x, y), act(x, y), strict=True):
            assert same(one, other)


def falling(tree: Any, x: Any, _: Any) -> Any:
    root, bend = tree
    return (root - x) * (1.0 + bend * (root - x) * (root - x))


@settings(deadline=None, max_examples=30)
@given(
    st.lists(
        st.tuples(st.floats(-1.0, 11.0) | st.just(np.nan), st.floats(0.0, 5.0)),
        min_size=1,
        max_size=40,
    )
)
def test_roots(lanes: list[tuple[float, float]]) -> None:
    roots, bends = (np.array(column) for column in zip(*lanes, strict=True))

    def solved(root: Any, bend: Any) -> Any:
        return solve_falling(falling, (root, bend), (0.0, 10.0), 5.0, 1e-9, 1.0)

    assert same(KERNEL_OF_ROOTS([roots, bends], roots.size)[0], solved(roots, bends))


KERNEL_OF_ROOTS = Kernel(
    lambda root, bend: [solve_falling(falling, (root, bend), (0.0, 10.0), 5.0, 1e-9, 1.0)], 2
)


def test_what_is_known_first_starts_a_search() -> None:
    def solved(root: Any, bend: Any) -> Any:
        first = falling((root, bend), 5.0, None)
        return solve_falling(falling, (root, bend), (0.0, 10.0), 5.0, 1e-9, 1.0, first)

    roots, bends = DRAW.uniform(-1.0, 11.0, 21), DRAW.uniform(0.0, 3.0, 21)
    found = compiled(lambda root, bend: [solved(root, bend)], roots, bends)[0]
    assert same(found, solved(roots, bends))


@dataclass(frozen=True)
class _Case:
    factor: Any
    shift: Any


def test_cases_one_after_the_other_and_searches_within() -> None:
    def act(x: Any) -> list[Any]:
        cases = [_Case(0.5 + nth, 0.1 * nth * x) for nth in range(4)]

        def one(case: _Case) -> tuple[Any, Any]:
            root = solve_falling(falling, (case.shift + x, case.factor), (0.0, 9.0), 1.0, 1e-9, 1.0)
            return root, case.factor * x

        return [number for answer in together(one, cases, 1) for number in answer]

    x = DRAW.uniform(0.0, 9.0, 19)
    for found, expected in zip(compiled(act, x), act(x), strict=True):
        assert same(found, expected)


def test_a_detour_answers_with_the_other_where_no_lane_needs_it() -> None:
    def act(x: Any) -> list[Any]:
        high = x > 0.5
        (a, b) = where_any(
            high, lambda: (np.where(high, x * 7.0, x), np.where(high, 1.0, 0.0)), (x, 0.0)
        )
        return [a, b, x * 7.0]

    for x in (DRAW.uniform(0.0, 1.0, 37), np.zeros(16), np.ones(8), np.repeat([0.0, 1.0], 8)):
        for found, expected in zip(compiled(act, x), act(x), strict=True):
            assert same(found, np.broadcast_to(expected, x.shape))


def test_a_function_that_is_written_once_is_called_from_everywhere() -> None:
    def bending(x: Any, y: Any) -> Any:
        return np.where(x > y, x * x - y, np.sqrt(np.abs(y)))

    def bent(x: Any, y: Any) -> Any:
        return once(bending, (x, y))

    def act(x: Any, y: Any) -> list[Any]:
        return [bent(x, y), bent(y, 0.3), bent(bent(0.2, x), y), bent(2.0, 1.0) * x]

    x, y = DRAW.normal(size=(2, 23))
    for thorough in (False, True):
        for found, expected in zip(compiled(act, x, y, thorough=thorough), act(x, y), strict=True):
            assert same(found, expected)


@pytest.mark.parametrize(
    "act",
    [
        lambda x: [x if x > 0.0 else -x],
        lambda x: [np.sort(x)],
        lambda x: [np.add.reduce(x)],
        lambda x: [np.sum(x)],
        lambda x: [x + np.arange(3.0)],
        lambda x: [np.hypot(x, x)],
    ],
)
def test_what_cannot_be_written_down_is_refused(act: Any) -> None:
    with pytest.raises(UntraceableError):
        Kernel(act, 1)


def test_an_operation_is_written_down_once_and_outside_of_loops() -> None:
    with tracing() as trace:
        x, y = trace.input(0), trace.input(1)
        assert x * y is x * y
        assert x * 2.0 is 2.0 * x
        assert x - y is not y - x
        assert x * 1.0 is x
        seen = []

        def residual(tree: Any, now: Any, _: Any) -> Any:
            seen.append(tree[0] / tree[1])
            return tree[0] / tree[1] - now

        solve_falling(residual, (x, y), (0.0, 1.0), 0.5, 1e-9, 1.0)
    assert isinstance(seen[0], Traced)
    assert any(item is seen[0] for item in trace.root.items)


def act_on(tree: tuple[Any, _Case]) -> tuple[Any, Any]:
    x, case = tree
    return x * case.factor + case.shift, x > case.shift


@pytest.mark.parametrize("values", [False, True])
@pytest.mark.parametrize("alike", [None, lambda tree: tree[0]])
@pytest.mark.parametrize("shape", [(), (1,), (7,), (8,), (3, 5), (1500,)])
def test_trees_of_any_shape(values: bool, alike: Any, shape: tuple[int, ...]) -> None:
    made = Compiled(act_on, 0, 10**9, alike, values=values)
    x = DRAW.normal(size=shape)
    for tree in (
        (x, _Case(2.0, 0.25)),
        (x, _Case(3.0, 0.5)),
        (1.5, _Case(x, 0.25)),
        (x, _Case(x, x + 1.0)),
        (x[..., None], _Case(DRAW.normal(size=4), 0.1)),
    ):
        found, expected = made(tree), act_on(tree)
        for one, other in zip(found, expected, strict=True):
            assert same(one, np.broadcast_to(other, np.shape(one)))
        assert np.asarray(found[1]).dtype == np.bool_


@dataclass(frozen=True)
class _Named:
    factor: Any
    how: str
    changes: dict[str, float]


def act_by_words(tree: tuple[Any, _Named]) -> Any:
    x, named = tree
    shifted = x + named.changes.get("shift", 0.0)
    return shifted * named.factor if named.how == "times" else shifted / named.factor


def test_words_and_numbers_that_are_compiled_in_tell_kernels_apart() -> None:
    act = Compiled(act_by_words, 0, 10**9, values=True)
    x = DRAW.normal(size=11)
    for factor in (3.0, 3.0 * (1.0 + 1e-15), np.float64(7.0), -0.0, 0.0, np.nan, np.inf):
        for how in ("times", "over"):
            for changes in ({}, {"shift": 1.0}, {"shift": 1.0 + 1e-15}, {"other": 1.0}):
                tree = x, _Named(factor, how, changes)
                with np.errstate(all="ignore"):
                    expected = act_by_words(tree)
                assert same(act(tree), expected)
                assert np.array_equal(np.signbit(act(tree)), np.signbit(expected))


def test_threads_do_not_disturb_each_other() -> None:
    """Eight at once compile and ask; one that is written down leaves the others alone."""
    interval = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    acts = [Compiled(act_by_words, 0, 40, values=True) for _ in range(3)]

    def ask(nth: int) -> bool:
        x = np.random.default_rng(nth).normal(size=12)
        for _ in range(9):
            root = solve_falling(falling, (x, 0.5), (-9.0, 9.0), 0.0, 1e-9, 1.0)
        trees = [(x, _Named(float(n), "times", {})) for n in range(1, 7)]
        answers = [same(act(tree), act_by_words(tree)) for act in acts for tree in trees]
        return all(answers) and bool(np.all(np.abs(root - x) < 1e-6))

    try:
        with ThreadPoolExecutor(8) as pool:
            assert all(pool.map(ask, range(24)))
    finally:
        sys.setswitchinterval(interval)


def test_it_is_compiled_when_that_pays_and_again_for_speed(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[bool] = []
    kernel = kernels.Kernel

    def counted(act: Any, inputs: int, *, thorough: bool) -> Kernel:
        made.append(thorough)
        return kernel(act, inputs, thorough=thorough)

    monkeypatch.setattr(kernels, "Kernel", counted)
    act = Compiled(act_on, 20, 60)
    for _ in range(8):
        act((np.zeros(10), _Case(1.0, 2.0)))
    assert made == [False, True]


def test_without_the_compiler_the_answers_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    tree = (DRAW.normal(size=12), _Case(2.0, 0.25))
    compiled_answer = Compiled(act_on, 0, 0)(tree)
    monkeypatch.setattr(kernels, "llvm", None)
    monkeypatch.setattr(kernels, "Kernel", None)
    plain = Compiled(act_on, 0, 0)(tree)
    for one, other in zip(plain, compiled_answer, strict=True):
        assert same(one, other)
