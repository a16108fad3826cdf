"""The wood mix: profile of a log, its reduction to levels, and what a four-way wedge changes."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from optimise.machine.evaluation import Evaluation
from optimise.machine.setting import WEDGES, Log, Setting
from optimise.machine.wood import LEVELS, profile, unsplit_share, work_levels
from optimise.search.steps import changes_of
from optimise.study.load import load_study
from optimise.study.space import owned_machine, upgrade_space
from tests.machine.example import IN, MACHINE, SETTING, machine, setting
from tests.machine.test_laws import random_machines
from tests.references.units import LBF, PSI

STUDIES = Path(__file__).parents[2] / "studies"

logs = st.builds(
    Log,
    name=st.just("log"),
    share=st.floats(0.05, 1.0),
    peak_force=st.floats(5e3, 2e5),
    spread=st.floats(0.0, 0.3),
    loaded_travel=st.floats(0.05, 1.0),
    end_share=st.floats(0.0, 1.0),
    fall=st.floats(1.0, 6.0),
)
mixes = st.lists(logs, min_size=1, max_size=4).map(tuple)


def four_way(plain: Setting, factor: float = 2.0) -> Setting:
    frame = dataclasses.replace(plain.frame, wedge="four-way", four_way_force=factor)
    return dataclasses.replace(plain, frame=frame)


@given(logs)
def test_force_falls_from_the_peak_to_the_end_of_the_split(log: Log) -> None:
    force = np.asarray(profile(log, np.linspace(0.0, 1.0, 101)))
    assert force[0] == pytest.approx(1.0)
    assert force[-1] == pytest.approx(log.end_share)
    assert (np.diff(force) <= 1e-15).all()


def test_bent_fall_drops_sooner_than_the_straight_one() -> None:
    straight, bent = (dataclasses.replace(SETTING.wood[0], fall=fall) for fall in (1.0, 3.0))
    along = np.linspace(0.05, 0.95, 19)
    assert (np.asarray(profile(bent, along)) < np.asarray(profile(straight, along))).all()


@given(mixes, st.integers(1, 40))
@settings(deadline=None, max_examples=60)
def test_levels_carry_the_integral_of_the_profiles(mix: tuple[Log, ...], count: int) -> None:
    """Work per stroke by adaptive quadrature; the mean of normal peaks is their mean."""
    total = sum(log.share for log in mix)
    wanted = 0.0
    for log in mix:
        mean, _ = quad(lambda along, log=log: float(np.asarray(profile(log, along))), 0.0, 1.0)
        wanted += log.share / total * log.loaded_travel * log.peak_force * mean
    levels = work_levels(mix, count)
    # Peaks below nothing, 4 in 10,000 of a spread of 0.3, are taken for nothing.
    assert levels.work(0.6) == pytest.approx(0.6 * wanted, rel=1e-3)
    assert (np.diff(levels.forces) >= -1e-9 * np.asarray(levels.forces[1:])).all()


@given(mixes, st.floats(1.0, 4.0), st.floats(1e4, 4e5))
@settings(deadline=None, max_examples=60)
def test_four_way_never_needs_less_force(mix: tuple[Log, ...], factor: float, force: float) -> None:
    plain = dataclasses.replace(SETTING, wood=mix)
    two, four = plain.met_wood, four_way(plain, factor).met_wood
    assert all(b.peak_force >= a.peak_force for a, b in zip(two, four, strict=True))
    one, other = work_levels(two).forces, work_levels(four).forces
    assert all(b >= a * (1.0 - 1e-12) for a, b in zip(one, other, strict=True))
    assert float(unsplit_share(four, force)) >= float(unsplit_share(two, force)) - 1e-15


def test_unsplit_share_rises_and_pieces_are_three_times_as_many() -> None:
    two, four = Evaluation(MACHINE, SETTING), Evaluation(MACHINE, four_way(SETTING))
    assert float(four.unsplit_share) > float(two.unsplit_share) + 0.01
    assert four.setting.pieces_per_stroke == 3.0 * two.setting.pieces_per_stroke
    assert float(four.loaded_cycle_time) > float(two.loaded_cycle_time)
    assert float(four.low_stage_share) > float(two.low_stage_share)
    assert float(four.cycle_time) == float(two.cycle_time)


def test_four_way_of_equal_force_is_three_strokes_in_one() -> None:
    """At a factor of 1 the stroke is the same and gives three times the pieces."""
    two, four = Evaluation(MACHINE, SETTING), Evaluation(MACHINE, four_way(SETTING, 1.0))
    assert float(four.loaded_cycle_time) == float(two.loaded_cycle_time)
    assert float(four.pieces_per_hour) == pytest.approx(3.0 * float(two.pieces_per_hour))
    for name in ("wood_energy_per_piece", "shaft_energy_per_piece", "fuel_per_piece"):
        assert float(getattr(four, name)) == pytest.approx(float(getattr(two, name)) / 3.0), name


def test_round_in_four_pieces_takes_three_strokes_of_a_two_way_wedge() -> None:
    """By splitting: a stroke makes two out of one."""
    pieces, strokes = 1, 0
    while pieces < 4:
        pieces, strokes = pieces + 1, strokes + 1
    assert {"two-way": 1.0, "four-way": strokes} == WEDGES


def test_energies_per_piece_are_what_the_hour_takes() -> None:
    """Shaft power times the time worked = shaft work per piece times pieces; the same of wood."""
    found = random_machines(21, 200)
    for place in (SETTING, four_way(SETTING)):
        with np.errstate(all="ignore"):
            evaluation = Evaluation(found, place)
            known = np.isfinite(evaluation.mean_power) & (evaluation.split_per_stroke > 1e-6)
            seconds = 3600.0 * place.work.utilisation
            spent = (evaluation.shaft_energy_per_piece * evaluation.pieces_per_hour)[known]
            assert spent == pytest.approx(evaluation.mean_power[known] * seconds, rel=1e-12)
            wood = np.asarray(evaluation.wood_energy_per_piece)[known]
        assert known.sum() > 150
        assert (wood < np.asarray(evaluation.shaft_energy_per_piece)[known]).all()


def test_wood_work_per_piece_of_a_machine_strong_enough_is_the_integral() -> None:
    strong = machine(bore__diameter=12.0 * IN, rod__diameter=4.0 * IN)
    for place, factor in ((SETTING, 1.0), (four_way(SETTING, 1.7), 1.7)):
        evaluation = Evaluation(strong, place)
        assert float(evaluation.unsplit_share) < 1e-9
        total = sum(log.share for log in SETTING.wood)
        mean = sum(
            log.share / total * log.loaded_travel * log.peak_force * 0.5 * (1.0 + log.end_share)
            for log in SETTING.wood
        )
        wanted = factor * mean * SETTING.frame.stroke / place.pieces_per_stroke
        # 5 in 100,000: peaks below nothing in the normal tail are taken for nothing.
        assert float(evaluation.wood_energy_per_piece) == pytest.approx(wanted, rel=5e-5)


# Record, The Mechanical Properties of Wood, 1914, green wood, of the kinds that the
# demonstrations name: table XIII, cleavage, lbf per inch of width, the easier plane; table III,
# tension across the grain, psi, the stronger plane.
CLEAVAGE = {"white pine": 144.0, "sugar maple": 376.0, "red oak": 380.0}
TENSION = {"white pine": 285.0, "sugar maple": 864.0, "red oak": 874.0}
KIND = {
    "straight pine": "white pine",
    "straight maple": "sugar maple",
    "red oak": "red oak",
    "oak crotches": "red oak",
}


@pytest.mark.parametrize("name", KIND)
def test_assumed_peak_lies_inside_the_bracket_of_published_strengths(name: str) -> None:
    """A round 12 in thick and 16 in long: cleavage times width to tension times split area."""
    study = load_study(STUDIES / "alder-yard")
    log = next(log for log in study.setting.wood if log.name == name)
    kind = KIND[name]
    low = CLEAVAGE[kind] * LBF / IN * 12.0 * IN
    high = TENSION[kind] * PSI * 12.0 * IN * 16.0 * IN
    assert low < log.peak_force < high
    assert low < study.setting.frame.four_way_force * log.peak_force < high


@pytest.mark.parametrize("name", ["alder-yard", "kvarnby"])
def test_wedge_is_a_field_of_the_study(name: str) -> None:
    two = load_study(STUDIES / name)
    four = load_study(STUDIES / name, ["frame.wedge=four-way"])
    milder = load_study(STUDIES / name, ["frame.wedge=four-way", "frame.four_way_force=1.5"])
    assert (two.setting.frame.wedge, four.setting.frame.wedge) == ("two-way", "four-way")
    assert milder.setting.frame.four_way_force == 1.5
    shares = [
        float(Evaluation(owned_machine(study), study.setting).unsplit_share)
        for study in (two, milder, four)
    ]
    assert shares == sorted(shares)
    assert shares[0] < shares[2]


def test_levels_are_enough_for_the_loaded_cycle_time() -> None:
    """Against 300 levels; see the figures beside ``wood.LEVELS``."""
    found = random_machines(3, 500)
    with np.errstate(all="ignore"):
        few, many = (
            Evaluation(found, SETTING, work_levels(SETTING.wood, count)).loaded_cycle_time
            for count in (LEVELS, 300)
        )
    error = np.abs(np.asarray(few / many) - 1.0)
    error = error[np.isfinite(error)]
    assert error.size > 450
    assert np.median(error) < 0.01
    assert np.quantile(error, 0.95) < 0.03


@pytest.mark.parametrize("name", ["alder-yard", "kvarnby"])
def test_levels_are_enough_for_what_a_part_takes_off_a_piece(name: str) -> None:
    """Every single part put on the machine owned, against 300 levels."""
    study = load_study(STUDIES / name)
    space, start = upgrade_space(study)
    rows = changes_of(start, space.sizes, 1)
    machines = space.machine(np.concatenate([np.array([start]), rows]))
    with np.errstate(all="ignore"):
        few, many = (
            np.asarray(
                Evaluation(
                    machines, study.setting, work_levels(study.setting.met_wood, count)
                ).piece_period
            )
            for count in (LEVELS, 300)
        )
    error = np.abs((few[0] - few[1:]) - (many[0] - many[1:]))
    error = error[np.isfinite(error)]
    assert error.size > 50
    assert np.quantile(error, 0.95) < 0.2
    assert error.max() < 0.4


def test_setting_of_the_example_is_two_way() -> None:
    assert setting().met_wood is SETTING.wood
