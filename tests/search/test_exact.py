"""The exact front equals brute force, bit for bit, ties included, under limits of every kind."""

from __future__ import annotations

import dataclasses
import math
from functools import cache
from itertools import count
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise.errors import CallError
from optimise.machine.parts import take
from optimise.machine.results import result_named
from optimise.machine.setting import LimitChange, Setting, UserLimit
from optimise.machine.wood import levels_of
from optimise.search import exact, problem
from optimise.search.archive import Archive, not_dominated
from optimise.search.brute import Designs, brute_front, evaluate_fully
from optimise.search.crew import Effort
from optimise.search.exact import ExactFront, exact_front
from optimise.search.front import OBJECTIVES, find_front
from optimise.search.goals import STANDARD, Goals, read_goals
from optimise.study.load import load_study
from optimise.study.model import PriceList
from optimise.study.space import Space, space_of

pytestmark = pytest.mark.usefixtures("coarse_wood")
STUDIES = Path(__file__).parents[2] / "studies"
NAMES = ("alder-yard", "kvarnby")
LEAST, MOST = 10_000, 11_000


@cache
def whole(name: str) -> tuple[Space, Setting, Designs]:
    study = load_study(STUDIES / name)
    space = space_of(study)
    return space, study.setting, exact_front(space, study.setting).designs


def user_limits(chance: np.random.Generator) -> tuple[UserLimit, ...]:
    """Limits of a study's own, among them such as a better part crosses sooner."""
    offered = (
        UserLimit(name="dear", result="cost.price", at_most=float(chance.uniform(2500, 9000))),
        UserLimit(
            name="hurry", result="work.pieces_per_h", at_least=float(chance.uniform(60, 200))
        ),
        UserLimit(name="not too cool", result="oil.steady_degC", at_least=273.15 + 45.0),
        UserLimit(
            name="hand warm",
            result="oil.steady_degC",
            at_most=273.15 + float(chance.uniform(40.0, 70.0)),
        ),
        UserLimit(name="not too stout", result="strength.buckling_factor", at_most=9.0),
        UserLimit(
            name="soft", result="pressure.cap_back_Pa", at_most=float(chance.uniform(1e5, 9e5))
        ),
    )
    return tuple(limit for limit in offered if chance.random() < 0.25)


def changed_limits(chance: np.random.Generator) -> dict[str, LimitChange]:
    offered = {
        "oil_temperature": LimitChange(bound=float(chance.uniform(325.0, 365.0))),
        "retract_stage": LimitChange(kind="advisory"),
        "extend_stage": LimitChange(kind="advisory"),
        "suction_velocity": LimitChange(kind="hard"),
        "rod_buckling": LimitChange(bound=float(chance.uniform(2.0, 4.0))),
        "return_velocity": LimitChange(bound=float(chance.uniform(2.0, 8.0))),
        "cold_engine": LimitChange(bound=float(chance.uniform(0.5, 0.95))),
        "cold_relief": LimitChange(bound=float(chance.uniform(1.0e5, 6.0e5))),
        "cold_out": LimitChange(bound=float(chance.uniform(4.0e5, 12.0e5)), kind="hard"),
        "cold_stroke_load": LimitChange(kind="hard"),
    }
    return {name: change for name, change in offered.items() if chance.random() < 0.25}


def sub_catalogue(seed: int) -> tuple[Space, Setting]:
    """Random part of a demonstration list around a member of its front, prices drawn anew."""
    chance = np.random.default_rng(seed)
    space, setting, front = whole(NAMES[seed % 2])
    member = front.indices[chance.integers(len(front.indices))]
    while True:
        sizes = [int(chance.integers(1, min(size, 5) + 1)) for size in space.sizes]
        if LEAST <= math.prod(sizes) <= MOST:
            break
    lists = []
    for price_list, kept, size in zip(space.lists, member, sizes, strict=True):
        others = np.setdiff1d(np.arange(len(price_list.names)), [kept])
        lanes = np.sort(np.append(chance.permutation(others)[: size - 1], kept))
        part = take(price_list.parts, lanes)
        step = float(chance.choice([0.01, 5.0, 50.0]))
        outlay = np.round(np.asarray(part.price) * chance.uniform(0.2, 2.0, size) / step) * step
        outlay[chance.random(size) < 0.15] = 0.0
        part = dataclasses.replace(part, outlay=outlay)
        names = tuple(price_list.names[lane] for lane in lanes)
        lists.append(PriceList(category=price_list.category, names=names, parts=part))
    own = dataclasses.replace(
        setting,
        user_limits=user_limits(chance) if seed % 3 == 0 else (),
        limit_changes=changed_limits(chance) if seed % 4 == 0 else {},
    )
    return Space(lists), own


def in_order(designs: Designs) -> tuple[np.ndarray, np.ndarray]:  # type: ignore[type-arg]
    order = np.lexsort(designs.indices.T[::-1])
    return designs.indices[order], designs.points[order]


OTHER_GOALS = (
    ("cycle.loaded_total_s", "force_N"),
    ("cycle.retract_s", "cost.price"),
    ("work.pieces_per_h", "force_N", "strength.buckling_factor"),
    ("cycle.extend_s", "cycle.retract_s", "force_N"),
    ("force_N", "strength.buckling_factor"),
    ("cycle.loaded_total_s", "cycle.retract_s", "cost.price"),
)


def goals_of(seed: int) -> Goals:
    """The standard goals for two seeds of three, others in turn for the third."""
    return STANDARD if seed % 3 else read_goals(OTHER_GOALS[seed // 3 % len(OTHER_GOALS)])


def test_exact_front_equals_brute_force_bit_for_bit(sublists: int) -> None:
    sizes, full = [], 0
    for seed in range(sublists):
        space, setting = sub_catalogue(seed)
        assert space.size >= LEAST
        goals = goals_of(seed)
        plain = brute_front(space, setting, goals)
        quick = exact_front(space, setting, goals=goals)
        rows, points = in_order(plain)
        found_rows, found_points = in_order(quick.designs)
        assert np.array_equal(rows, found_rows), seed
        assert np.array_equal(points, found_points), seed
        sizes.append(len(rows))
        full += len(rows) > 0
    assert full >= 0.8 * sublists
    assert max(sizes) > 30


def test_goals_that_cannot_be_are_refused_all_at_once() -> None:
    with pytest.raises(CallError) as caught:
        read_goals(["cycle.total_s", "cycle.total_s", "oil.heat_W", "cycle.back", "cost.price"])
    for words in ('"oil.heat_W" is neither', '"cycle.back" is no result', "once", "force_N"):
        assert words in str(caught.value)
    with pytest.raises(CallError, match="money alone"):
        read_goals(["cost.price"])


def test_a_wanted_result_that_hoses_move_is_refused() -> None:
    """An objective must have a direction or rest on the core alone: seen, not believed."""
    space, setting, _ = whole("alder-yard")
    power = dataclasses.replace(result_named("engine.mean_power_W"), wanted=-1)
    with pytest.raises(CallError, match="no declared bound"):
        exact_front(space, setting, goals=Goals((power,)))


def test_equal_machines_are_all_kept() -> None:
    """Two tanks alike but for their names: every member of the front comes in pairs."""
    space, setting = sub_catalogue(1)
    tanks = space.lists[space.categories.index("tank")]
    twice = PriceList(
        category="tank",
        names=(*tanks.names, *(f"{name} again" for name in tanks.names)),
        parts=take(tanks.parts, np.tile(np.arange(len(tanks.names)), 2)),
    )
    doubled = Space([twice if part is tanks else part for part in space.lists])
    once, pairs = exact_front(space, setting), exact_front(doubled, setting)
    assert len(once.designs.indices) > 0
    assert len(pairs.designs.indices) == 2 * len(once.designs.indices)


@pytest.mark.parametrize("name", NAMES)
def test_demonstration_front_is_sound(name: str) -> None:
    """Members are feasible, none beats another, and no random feasible machine beats one."""
    space, setting, front = whole(name)
    answer = find_front(space, setting)
    assert answer.proven
    assert answer.designs_in_space == space.size >= 10**9
    assert 0 < answer.designs_evaluated < space.size // 1000
    assert bool(answer.sheet.feasible.all())
    assert not_dominated(front.points).all()
    assert len(answer.indices) == len(front.indices)
    shown = np.stack([answer.sheet.results[key] for key in OBJECTIVES], axis=1)
    archive = Archive(STANDARD.solved)
    archive.add(shown * [1.0, -1.0, 1.0])
    chance = np.random.default_rng(3)
    beaten = 0
    for _ in range(20):
        rows = front.indices[chance.integers(len(front.indices), size=2000)].copy()
        for _ in range(3):
            place = chance.integers(len(space.sizes))
            rows[:, place] = chance.integers(space.sizes[place], size=len(rows))
        points, feasible = evaluate_fully(space.machine(rows), setting, levels_of(setting))
        for point in points[feasible]:
            better = (point <= archive.points).all(axis=1) & (point < archive.points).any(axis=1)
            assert not better.any()
        beaten += int(feasible.sum())
    assert beaten > 1000


def test_same_question_same_answer() -> None:
    space, setting, front = whole("alder-yard")
    again = exact_front(space, setting).designs
    assert np.array_equal(front.indices, again.indices)
    assert np.array_equal(front.points, again.points)


def test_nothing_feasible_names_what_stands_in_the_way() -> None:
    space, setting, _ = whole("alder-yard")
    hopeless = dataclasses.replace(
        setting, user_limits=(UserLimit(name="miracle", result="cycle.total_s", at_most=0.5),)
    )
    answer = find_front(space, hopeless)
    assert len(answer.indices) == 0
    assert "miracle" in {block.name for block in answer.blocking}
    assert next(b for b in answer.blocking if b.name == "miracle").crossed == 1.0
    assert len(answer.nearest) == 5


def test_a_search_that_is_stopped_gives_true_machines(monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock that goes on by one whenever it is read stands for the time."""
    space, setting = sub_catalogue(2)
    cool = UserLimit(name="cool", result="oil.heat_W", at_most=4000.0)
    setting = dataclasses.replace(setting, user_limits=(cool,))
    true = brute_front(space, setting)
    monkeypatch.setattr(exact, "SHARE", 4)
    monkeypatch.setattr(exact, "time", SimpleNamespace(monotonic=lambda: 0.0))

    def stopped(ticks: float) -> tuple[ExactFront, int]:
        clock = count()
        monkeypatch.setattr(problem, "time", SimpleNamespace(monotonic=clock.__next__))
        return exact_front(space, setting, effort=Effort(seconds=ticks)), next(clock)

    whole, ticks = stopped(math.inf)
    assert whole.gone_through == 1.0
    assert whole.blind == ("Cool",)
    assert np.array_equal(in_order(whole.designs)[0], in_order(true)[0])
    some = 0
    for share in (0.1, 0.3, 0.5, 0.7, 0.9):
        found, _ = stopped(share * ticks)
        assert found.gone_through < 1.0
        points, feasible = evaluate_fully(
            space.machine(found.designs.indices), setting, levels_of(setting)
        )
        assert feasible.all()
        assert np.array_equal(points, found.designs.points)
        assert not_dominated(points).all()
        assert all((true.points <= point).all(axis=1).any() for point in points)
        some += 0 < len(points) < len(true.points)
    assert some > 0


def test_archive_beats_only_what_is_strictly_slower() -> None:
    archive = Archive((True, False))
    archive.add(np.array([[5.0, -10.0, 100.0], [4.0, -8.0, 150.0], [6.0, -10.0, 100.0]]))
    assert len(archive.points) == 2
    times = np.array([5.0, 5.1, 5.1, 5.1, 4.5, 9.0])
    forces = np.array([-10.0, -10.0, -10.5, -9.0, -8.0, -1.0])
    costs = np.array([100.0, 100.0, 100.0, 99.0, 150.0, 99.0])
    beaten = archive.beats(np.stack([times, forces], axis=1), costs)
    assert beaten.tolist() == [False, True, False, False, True, False]


@given(st.data())
def test_archive_tells_what_comparing_with_each_point_tells(data: st.DataObject) -> None:
    solved = tuple(data.draw(st.lists(st.booleans(), min_size=1, max_size=3)))
    figure = st.integers(0, 4).map(float)
    vector = st.lists(figure, min_size=len(solved) + 1, max_size=len(solved) + 1)
    points = np.array(data.draw(st.lists(vector, min_size=1, max_size=12)))
    asked = np.array(data.draw(st.lists(vector, min_size=1, max_size=12)))
    archive = Archive(solved)
    archive.add(points)
    for row, beaten in zip(asked, archive.beats(asked[:, :-1], asked[:, -1]), strict=True):
        better, least = points[:, :-1] < row[:-1], points <= row
        sure = least.all(axis=1) & better[:, np.array(solved, dtype=bool)].all(axis=1)
        if not any(solved):
            sure &= (points < row).any(axis=1)
        assert beaten == sure.any()


def test_not_dominated_keeps_equals() -> None:
    points = np.array([[1.0, 2.0, 3.0], [1.0, 2.0, 3.0], [2.0, 2.0, 3.0], [2.0, 1.0, 3.0]])
    assert not_dominated(points).tolist() == [True, True, False, True]
