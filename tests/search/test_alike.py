"""A few machines stand for a whole front, and the front stays as it is."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise.errors import CallError
from optimise.machine.sheet import Sheet
from optimise.search.alike import apart, read_apart
from optimise.search.front import FrontAnswer, find_front
from optimise.study.load import load_study
from optimise.study.space import space_of

STUDIES = Path(__file__).parents[2] / "studies"


def front_of(rows: list[tuple[float, float, float]]) -> FrontAnswer:
    """Made-up front: cycle time, force and outlay of each machine, whose price is 1000."""
    times, forces, outlays = (np.array(column) for column in zip(*rows, strict=True))
    results = {
        "cycle.total_s": times,
        "force_N": forces,
        "cost.outlay": outlays,
        "cost.price": np.full(len(rows), 1000.0),
    }
    nothing = np.zeros((len(rows), 1), dtype=np.intp)
    return FrontAnswer(nothing, Sheet(results, ()), True, "", 1, 1, 0.0, (), nothing[:0])


def test_the_middle_stands_for_both_its_neighbours() -> None:
    """Hand-made: 0.04 s and 20 of money apart, all alike to the middle, the ends not."""
    rows = [(5.00, 9.0, 330.0), (5.04, 9.0, 310.0), (5.08, 9.0, 290.0), (4.0, 9.0, 900.0)]
    view = apart(front_of(rows), 0.05, 0.02)
    assert view.shown.tolist() == [1, 3]
    assert view.stand_in.tolist() == [1, 1, 1, 3]
    assert apart(front_of(rows), 0.03, 0.015).shown.tolist() == [0, 1, 2, 3]
    assert apart(front_of(rows), 0.05, 0.015).shown.tolist() == [1, 2, 3]


def test_a_weaker_machine_stands_for_none_that_is_stronger() -> None:
    view = apart(front_of([(5.0, 9.0, 300.0), (5.0, 10.0, 301.0)]), 1.0, 1.0)
    assert view.shown.tolist() == [1]
    view = apart(front_of([(5.0, 9.0, 300.0), (5.0, 10.0, 301.0)]), 0.0, 0.0)
    assert view.shown.tolist() == [0, 1]


@given(
    rows=st.lists(
        st.tuples(st.floats(1.0, 9.0), st.sampled_from([1.0, 2.0]), st.floats(0.0, 500.0)),
        min_size=1,
        max_size=30,
    ),
    time=st.floats(0.0, 2.0),
    share=st.floats(0.0, 0.3),
)
def test_each_is_stood_for_within_the_distance(
    rows: list[tuple[float, float, float]], time: float, share: float
) -> None:
    view = apart(front_of(rows), time, share)
    for own, other in zip(rows, (rows[at] for at in view.stand_in), strict=True):
        assert other[0] <= own[0] + time
        assert other[1] >= own[1]
        assert other[2] <= own[2] + share * 1000.0
    assert (view.stand_in[view.shown] == view.shown).all()


def test_a_demonstration_front_shrinks_and_stays() -> None:
    study = load_study(STUDIES / "kvarnby")
    answer = find_front(space_of(study), study.setting)
    before = dataclasses.replace(answer, indices=answer.indices.copy())
    view = apart(answer)
    assert 2 < len(view.shown) < len(answer.indices) / 4
    assert np.array_equal(answer.indices, before.indices)
    quickest = answer.sheet.results["cycle.total_s"]
    assert quickest[view.shown].min() <= quickest.min() + view.time


@pytest.mark.parametrize("words", ["", "0.05 s", "0.05 s, -2 %", "2 %, 0.05 s", "a, b"])
def test_words_that_cannot_be_read_are_refused(words: str) -> None:
    with pytest.raises(CallError, match=r"0\.05 s, 2 %"):
        read_apart(words)


def test_both_halves_that_cannot_be_read_are_told() -> None:
    with pytest.raises(CallError) as refused:
        read_apart("0.1 kg, much")
    told = str(refused.value)
    assert told.startswith('--apart "0.1 kg, much": expected a time and a share of the price')
    assert 'found "0.1 kg", expected a time' in told
    assert 'found "much", expected a share' in told


def test_words_are_read_with_their_units() -> None:
    assert read_apart("50 ms, 0.02") == pytest.approx((0.05, 0.02))
