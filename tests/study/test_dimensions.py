"""Dimensions of a sweep as a person writes them, and what is said of those that cannot be."""

from __future__ import annotations

import numpy as np
import pytest

from optimise.errors import StudyError
from optimise.study.dimensions import Dimension, read_dimensions
from optimise.study.load import load_study
from optimise.study.model import Study

ALDER = "studies/alder-yard"
MOST = (13, 5)


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study(ALDER)


def read(study: Study, *texts: str) -> tuple[Dimension, ...]:
    return read_dimensions(ALDER, (), study, texts, MOST)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("rod.diameter=1.5..3.5 in by 0.5", 0.0254 * np.array([1.5, 2.0, 2.5, 3.0, 3.5])),
        ("rod.diameter=1.5 in..80 mm by 10 mm", np.array([0.0381, 0.0481, 0.0581, 0.0681, 0.0781])),
        ("rod.diameter=1-1/2..2-1/2 in by 1/2", 0.0254 * np.array([1.5, 2.0, 2.5])),
        ("rod.diameter=2.5 | 2 in", 0.0254 * np.array([2.0, 2.5])),
        ("frame.stroke=20 in | 600 mm", np.array([0.508, 0.6])),
        ("surroundings.air_temperature=-10..35 degC by 15", np.array([-10, 5, 20, 35]) + 273.15),
        ("surroundings.air_temperature=0..40 degC", np.linspace(273.15, 313.15, 5)),
        ("work.overlapped_share=0..100 % by 50 %", np.array([0.0, 0.5, 1.0])),
        ("work.pieces_per_round=2..6 by 2", np.array([2.0, 4.0, 6.0])),
        ("money.hourly_worth=10 | 20", np.array([10.0, 20.0])),
        ("wood.2.share=0.1 | 0.5", np.array([0.1, 0.5])),
        ("user_limits.1.at_most=200 kN | 250 kN", np.array([2e5, 2.5e5])),
        ("limits.oil_temperature.bound=70 degC | 80 degC", np.array([343.15, 353.15])),
    ],
)
def test_numbers(study: Study, text: str, values: np.ndarray) -> None:
    (dimension,) = read(study, text)
    assert dimension.values == pytest.approx(values, rel=1e-12)


def test_a_range_of_a_part_has_points_of_our_own(study: Study) -> None:
    (dimension,) = read(study, "rod.diameter=1.5..3.5 in")
    assert len(dimension) == MOST[0]


def test_parts_and_words(study: Study) -> None:
    whole, some = read(study, "rod", "pump=13 gpm two-stage, 650 psi | 19 gpm two-stage, 700 psi")
    assert whole.names == study.allowed["rod"]
    assert some.names == ("13 gpm two-stage, 650 psi", "19 gpm two-stage, 700 psi")
    assert whole.of_parts
    (grade,) = read(study, "oil.grade=32 | 46")
    assert (grade.names, grade.of_setting) == (("32", "46"), True)
    (column,) = read(study, "frame.column=rod_only | stepped")
    assert column.change(1) == "frame.column=stepped"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("rood", 'did you mean "rod"?'),
        ("=3", "something to vary"),
        ("rod=2 in rod, 75 ski", 'did you mean "2 in rod, 75 ksi"?'),
        ("rod=2 in rod, 75 ksi | 2 in rod, 75 ksi", "each name once"),
        ("rod.diametre=1..2 in", 'did you mean "diameter"?'),
        ("rod.diameter", "no values"),
        ("rod.diameter=2", "the unit is missing"),
        ("rod.diameter=2 in", "two or more different values"),
        ("rod.diameter=1..2", "the unit is missing"),
        ("rod.diameter=1..2 psi", "is a unit of a pressure"),
        ("rod.diameter=3..2 in", "from the smaller to the larger"),
        ("rod.diameter=1..2 in by 0", "more than 0"),
        ("rod.diameter=1..2 in by 5", "shorter than the range"),
        ("rod.diameter=1..2 in by 0.001", "at most 200"),
        ("rod.diameter=1..2 in by 1 psi", "a step:"),
        ("rod.diameter=1..9 in", "diameter"),
        ("surroundings.air_temperature=-90..20 degC", "at least -58 °F"),
        ("surroundings.air_temprature=0..20 degC", 'did you mean "air_temperature"?'),
        ("wood.9.share=0.1 | 0.2", "a position from 1 to 4"),
        ("user_limits.9.at_most=1 | 2", "a position from 1 to 1"),
        ("day.end=5 h | 18 h", "day.start"),
        ("oil.grade=32..68", "with | between"),
        ("oil.grade=32 | 47", "viscosity grade of ISO 3448"),
        ("title=a | b", "holds a number"),
        ("owned.rod=a | b", "holds a number"),
        ("surroundings=1 | 2", "holds a number"),
    ],
)
def test_refusals_say_what_is_wanted(study: Study, text: str, said: str) -> None:
    with pytest.raises(StudyError) as refused:
        read(study, text)
    assert said in str(refused.value)
    assert f"sweep {text}" in str(refused.value)
    assert "--set" not in str(refused.value)


def test_every_fault_of_both_is_told(study: Study) -> None:
    with pytest.raises(StudyError) as refused:
        read(study, "rood", "pumb")
    assert {fault.found for fault in refused.value.faults} == {'"rood"', '"pumb"'}


@pytest.mark.parametrize(
    "texts", [("rod", "rod.diameter=1..2 in"), ("rod", "rod"), ("frame.stroke=1 m | 2 m",) * 2]
)
def test_two_of_one_thing_are_refused(study: Study, texts: tuple[str, ...]) -> None:
    with pytest.raises(StudyError):
        read(study, *texts)


def test_whole_parts_do_not_go_with_a_changed_number_of_one() -> None:
    sets = ("rod.diameter=2.5 in",)
    with pytest.raises(StudyError, match="whole parts of rod"):
        read_dimensions(ALDER, sets, load_study(ALDER, sets), ("rod",), MOST)
