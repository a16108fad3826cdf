"""Trees of columns."""

import numpy as np
import pytest

from optimise.columns import together, where_any


@pytest.mark.parametrize("shape", [(), (4,), (3, 4)])
@pytest.mark.parametrize("case_shapes", [[(), ()], [(), (4,)], [(4,), (1, 4), ()]])
def test_cases_together_answer_as_one_by_one(shape, case_shapes):
    draw = np.random.default_rng(7)
    besides = draw.normal(size=shape)
    cases = [(draw.normal(size=case), draw.normal(size=case)) for case in case_shapes]
    axes = max(len(shape), *(len(case) for case in case_shapes))

    def act(case):
        return (case[0] * besides + case[1], besides, 3.0)

    found = together(act, cases, axes)
    assert len(found) == len(cases)
    for case, answer in zip(cases, found, strict=True):
        for one, other in zip(answer, act(case), strict=True):
            assert np.array_equal(
                np.broadcast_arrays(one, other)[0], np.broadcast_arrays(one, other)[1]
            )


def test_a_detour_is_taken_for_the_lanes_that_need_it() -> None:
    taken = []

    def act():
        taken.append(True)
        return (np.where(mask, 7.0, column),)

    column, mask = np.array([1.0, 2.0]), np.array([False, True])
    assert where_any(mask, act, (column,))[0].tolist() == [1.0, 7.0]
    mask = np.array([False, False])
    assert where_any(mask, act, (column,))[0] is column
    assert taken == [True]
