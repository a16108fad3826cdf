"""Machines out of a study: the one owned, the one asked about, and the numbered space."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimise.errors import CallError
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import limits_of
from optimise.machine.parts import CATEGORIES, Machine
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.study.space import Space, fitted_machine, machine_of, owned_machine, space_of
from optimise.study.starter import write_starter
from tests.study.starter import write_changed


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("starter") / "s"
    write_starter(path)
    return path


@pytest.fixture(scope="module")
def study(folder: Path) -> Study:
    return load_study(folder)


def fields_of(machine: Machine) -> dict[tuple[str, str], Any]:
    return {
        (category, field.name): getattr(getattr(machine, category), field.name)
        for category in CATEGORIES
        for field in dataclasses.fields(getattr(machine, category))
    }


def test_owned_machine_keeps_every_hard_limit(study: Study) -> None:
    evaluation = Evaluation(fitted_machine(study), study.setting)
    for limit in limits_of(study.setting):
        if limit.kind == "hard":
            assert limit.margin(evaluation) >= 0.0, limit.name


def test_machines_hold_floats(study: Study) -> None:
    for machine in (owned_machine(study), fitted_machine(study), machine_of(study, {})):
        assert all(type(value) is float for value in fields_of(machine).values())


def test_owned_machine_costs_nothing(study: Study) -> None:
    machine = owned_machine(study)
    assert all(getattr(machine, category).outlay == 0.0 for category in CATEGORIES)
    assert machine == machine_of(study, study.owned)
    assert machine == fitted_machine(study)


def test_fitted_part_costs_its_outlay(folder: Path) -> None:
    """Pump: 250 and 1 h at 45, less 75 for the old one."""
    study = load_study(folder, ["pump=two-stage 22 gpm"])
    machine = fitted_machine(study)
    assert machine.pump.outlay == pytest.approx(250 + 45 - 75)
    assert machine.pump == machine_of(study, {"pump": "two-stage 22 gpm"}).pump
    assert owned_machine(study).pump.outlay == 0.0


def test_changed_fields_are_on_the_fitted_machine_alone(folder: Path) -> None:
    study = load_study(folder, ["rod.diameter=2.25 in", "bore.wall=10 mm"])
    machine = fitted_machine(study)
    assert machine.rod.diameter == pytest.approx(0.05715)
    assert machine.bore.wall == 0.01
    assert machine.rod.outlay == 0.0
    changed = fields_of(machine)
    before = fields_of(owned_machine(study))
    assert {key for key in before if before[key] != changed[key]} == {
        ("rod", "diameter"),
        ("bore", "wall"),
    }


def test_changed_price_counts_in_the_outlay_of_a_part_that_is_bought(folder: Path) -> None:
    sets = ["rod=3 in rod", "rod.price=300", "rod.fitting_time=1 h", "tank.price=1"]
    machine = fitted_machine(load_study(folder, sets))
    assert machine.rod.outlay == pytest.approx(300 + 45 - 30)
    assert machine.tank.outlay == 0.0


@pytest.mark.parametrize(
    ("names", "told"),
    [
        ({"rod": "3 in rodd"}, 'did you mean "3 in rod"?'),
        ({"rodd": "3 in rod"}, 'did you mean "rod"?'),
    ],
)
def test_unknown_names(names: dict[str, str], told: str, study: Study) -> None:
    with pytest.raises(CallError, match="no part") as caught:
        machine_of(study, names)
    assert told in str(caught.value)


def test_size_is_exact_and_unbounded(study: Study) -> None:
    space = Space(list(study.lists.values()))
    assert space.categories == tuple(CATEGORIES)
    assert space.sizes == tuple(len(study.lists[category].names) for category in CATEGORIES)
    product = 1
    for size in space.sizes:
        product *= size
    assert space.size == product
    assert type(space.size) is int
    many = dataclasses.replace(study.lists["rod"], names=("rod",) * 10**6)
    wide = Space([dataclasses.replace(many, category=category) for category in CATEGORIES])
    assert wide.size == 10**78


def test_every_index_is_the_machine_of_its_names(study: Study) -> None:
    space = space_of(study)
    chance = np.random.default_rng(7)
    rows = np.stack([chance.integers(0, size, 40) for size in space.sizes], axis=1)
    columns = fields_of(space.machine(rows))
    for lane, row in enumerate(rows):
        names = space.names(row)
        assert space.indices_of(names) == tuple(row)
        single = fields_of(machine_of(study, names))
        assert {key: column[lane] for key, column in columns.items()} == single


def test_no_rows_give_no_machines(study: Study) -> None:
    machine = space_of(study).machine(np.empty((0, len(CATEGORIES)), dtype=np.intp))
    assert np.shape(machine.rod.diameter) == (0,)


@pytest.mark.parametrize("shape", [(13,), (3, 12), (2, 13, 1)])
def test_indices_of_another_shape_are_refused(shape: tuple[int, ...], study: Study) -> None:
    with pytest.raises(ValueError, match="shape"):
        space_of(study).machine(np.zeros(shape, dtype=np.intp))


def test_space_needs_each_category_once(study: Study) -> None:
    lists = list(study.lists.values())
    for wrong in (lists[1:], [*lists, lists[0]]):
        with pytest.raises(ValueError, match="each part category"):
            Space(wrong)


def test_indices_of_what_is_not_there(study: Study) -> None:
    space = space_of(study)
    with pytest.raises(CallError, match="no part named for pump"):
        space.indices_of({key: name for key, name in study.owned.items() if key != "pump"})
    with pytest.raises(CallError, match='no part "x" in the list cooler'):
        space.indices_of({**study.owned, "cooler": "x"})


def test_only_what_is_allowed_is_in_the_space(study: Study) -> None:
    assert study.allowed["valve"] == (study.owned["valve"],)
    assert study.allowed["cooler"] == ("none", "small cooler")
    assert study.allowed["rod"] == study.lists["rod"].names
    space = space_of(study)
    for category, prices in zip(space.categories, space.lists, strict=True):
        assert prices.names == study.allowed[category]
    with pytest.raises(CallError):
        space.indices_of({**study.owned, "cooler": "large cooler"})


def test_without_a_space_table_everything_is_allowed(tmp_path: Path) -> None:
    changes = [
        ("study.toml", '[space]\nkeep = ["valve"]\nonly.cooler = ["none", "small cooler"]\n', "")
    ]
    study = load_study(write_changed(tmp_path / "s", changes))
    assert study.allowed == {name: prices.names for name, prices in study.lists.items()}


def test_allowed_names_stand_in_list_order(folder: Path) -> None:
    study = load_study(folder, ['space.only.rod=["3 in rod", "2 in rod"]'])
    assert study.allowed["rod"] == ("2 in rod", "3 in rod")
