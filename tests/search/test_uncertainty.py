"""Ranges hold what they say; shares of variance are those of functions solved by hand."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from optimise.columns import Array, lanes_of
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import limits_of
from optimise.machine.parts import CATEGORIES, Machine, physical
from optimise.machine.quantities import quantities
from optimise.machine.setting import Frame, LimitChange, Log, Oil, UserLimit
from optimise.machine.wood import work_levels
from optimise.search.draws import even_points
from optimise.search.drivers import influences, sobol_shares
from optimise.search.fit import Fit, fit_constants, predict
from optimise.search.priors import MODEL_ERRORS, PRIORS, FromTheTrade
from optimise.search.tolerances import TOLERANCES, varied
from optimise.search.uncertainty import LEVELS, spread_of
from optimise.search.unknowns import LANES
from optimise.study.load import load_study
from optimise.study.model import Measurement
from optimise.study.space import owned_machine
from tests.machine.example import IN, MACHINE, PSI, SETTING, machine, setting
from tests.machine.test_laws import random_machines

STUDIES = Path(__file__).parents[2] / "studies"
KEYS = (
    "cycle.extend_s",
    "cycle.retract_s",
    "cycle.total_s",
    "cycle.loaded_total_s",
    "force_N",
    "work.pieces_per_h",
)
WHERE = {tolerance.name: row for row, tolerance in enumerate(TOLERANCES)}


# --- shares of variance --------------------------------------------------------------------------


def ishigami(uniform: Array, b: float = 0.1) -> Array:
    """Ishigami function, a = 7, inputs even over -pi to pi."""
    x, y, z = math.pi * (2.0 * uniform - 1.0)
    return (np.sin(x) + 7.0 * np.sin(y) ** 2 + b * z**4 * np.sin(x))[None]


G_CONSTANTS = (0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0)


def sobol_g(uniform: Array, constants: tuple[float, ...] = G_CONSTANTS) -> Array:
    """G function of Sobol."""
    a = np.array(constants)[:, None]
    return ((np.abs(4.0 * uniform - 2.0) + a) / (1.0 + a)).prod(axis=0)[None]


# Published shares, as the documents of open sensitivity libraries list them (function of Ishigami
# and Homma 1990); those of G follow from V_i = (1/3)/(1+a_i)^2, V = prod(1+V_i) - 1.
# The tolerance of 0.01 is twice the error of 65536 even points on functions of variance near 1.
PUBLISHED: list[tuple[Callable[[Array], Array], list[float], list[float]]] = [
    (ishigami, [0.313905, 0.442411, 0.0], [0.557589, 0.442411, 0.243684]),
    (
        sobol_g,
        [0.716192, 0.179048, 0.0236758, 0.00716192, *[7.16e-5] * 4],
        [0.787144, 0.242198, 0.0343169, 0.0104604, *[1.0495e-4] * 4],
    ),
    # The same with other constants, by the same equations.
    (
        lambda u: ishigami(u, 0.05),
        [0.218519, 0.686895, 0.0],
        [0.313105, 0.686895, 0.094587],
    ),
    (
        lambda u: sobol_g(u, (78.0, 12.0, 0.5, 2.0, 97.0, 33.0)),
        [0.000276, 0.010195, 0.765743, 0.191436, 0.000179, 0.001490],
        [0.000329, 0.012143, 0.795970, 0.220313, 0.000214, 0.001778],
    ),
]


@pytest.mark.parametrize(
    ("function", "first", "total"),
    PUBLISHED,
    ids=["Ishigami", "Sobol G", "Ishigami, b 0.05", "Sobol G of six"],
)
def test_shares_of_published_functions(
    function: Callable[[Array], Array], first: list[float], total: list[float]
) -> None:
    names = [f"x{place}" for place in range(len(first))]
    shares = sobol_shares(function, names, 2**16)
    assert shares.factors == tuple(names)
    assert shares.first[0] == pytest.approx(first, abs=0.01)
    assert shares.total[0] == pytest.approx(total, abs=0.01)
    assert not shares.constant.any()


def test_the_g_function_is_the_published_one() -> None:
    """G(0, ..., 0) = 4.0583556 with these constants."""
    assert float(sobol_g(np.zeros((8, 1)))[0, 0]) == pytest.approx(4.0583556, rel=1e-7)


def test_a_sum_shares_its_variance_by_the_squares_of_its_weights() -> None:
    weights = np.array([3.0, 2.0, 0.0, 1.0])
    shares = sobol_shares(lambda u: (weights @ u)[None], "abcd", 2**17)
    wanted = weights**2 / (weights**2).sum()
    assert shares.first[0] == pytest.approx(wanted, abs=0.005)
    assert shares.total[0] == pytest.approx(wanted, abs=0.005)


def test_constant_and_unknown_outputs_are_told_apart() -> None:
    def outputs(uniform: Array) -> Array:
        flat = np.full(uniform.shape[1], 1e5)
        patchy = np.where(uniform[0] > 0.9, np.nan, uniform[0])
        return np.stack([flat, uniform[0], patchy, 0.0 * flat])

    shares = sobol_shares(outputs, ["one", "two"], 2**16)
    assert shares.constant.tolist() == [True, False, False, True]
    assert (shares.first[[0, 3]] == 0.0).all()
    assert (shares.total[[0, 3]] == 0.0).all()
    assert shares.first[1] == pytest.approx([1.0, 0.0], abs=0.01)
    assert np.isnan(shares.first[2]).all()


def test_shares_of_a_machine_name_what_matters() -> None:
    keys = ("cycle.total_s", "oil.steady_degC", "flow.return_ratio")
    found = influences(MACHINE, SETTING, keys=keys, count=256)
    share = {
        key: dict(zip(found.factors, total, strict=True))
        for key, total in zip(keys, found.total, strict=True)
    }
    assert found.constant.tolist() == [False, False, True]
    cycle, oil = share["cycle.total_s"], share["oil.steady_degC"]
    assert max(cycle, key=cycle.__getitem__) == "speed_factor"
    assert cycle["heat coefficient"] == pytest.approx(0.0, abs=1e-12)
    assert cycle["wood forces"] == pytest.approx(0.0, abs=1e-12)
    assert oil["heat coefficient"] > 0.05
    assert oil["model error, out stroke"] == pytest.approx(0.0, abs=1e-12)
    assert found.first[0].sum() == pytest.approx(1.0, abs=0.1)


def test_fitted_constants_are_one_factor() -> None:
    found = influences(MACHINE, SETTING, fitted(), count=128)
    assert found.factors[0] == "constants as fitted"
    assert not {prior.name for prior in PRIORS} & set(found.factors)
    assert found.first[0, 0] > 0.05


def test_influences_are_of_one_machine() -> None:
    with pytest.raises(ValueError, match="one machine"):
        influences(random_machines(1, 3), SETTING)


# --- ranges --------------------------------------------------------------------------------------


def fitted() -> Fit:
    kinds = ("extend_time", "retract_time", "cycle_time", "retract_pressure")
    values = predict(MACHINE, SETTING, np.zeros((5, 1)), kinds)[:, 0]
    readings = [
        Measurement(kind=kind, value=float(value), uncertainty=0.01 * float(value), repeats=4)
        for kind, value in zip(kinds, values, strict=True)
    ]
    return fit_constants(MACHINE, SETTING, readings)


def test_measurements_narrow_every_time() -> None:
    wide = spread_of(MACHINE, SETTING, keys=KEYS)
    narrow = spread_of(MACHINE, SETTING, fitted(), keys=KEYS)
    for key in ("cycle.extend_s", "cycle.retract_s", "cycle.total_s"):
        before, after = (np.ptp(spread.points[key]) for spread in (wide, narrow))
        assert after < 0.8 * before, key


def test_ranges_rise_and_hold_the_plain_result() -> None:
    spread = spread_of(MACHINE, SETTING, keys=KEYS)
    plain = Evaluation(MACHINE, SETTING)
    assert set(spread.points) == set(KEYS)
    assert spread.draws == 256
    for key, points in spread.points.items():
        assert points.shape == (len(LEVELS),)
        assert (np.diff(points) > 0.0).all(), key
    low, middle, high = spread.points["cycle.total_s"]
    assert low < float(np.asarray(plain.cycle_time)) < high
    assert middle == pytest.approx(float(np.asarray(plain.cycle_time)), rel=0.02)


@pytest.mark.parametrize(("draws", "share", "chance"), [(128, 0.15, 0.09), (256, 0.10, 0.06)])
def test_few_draws_give_nearly_the_ranges_of_many(draws: int, share: float, chance: float) -> None:
    """Ends, as a share of the range, and chances of a limit in the middle of its range."""
    limit = UserLimit(name="quick", result="cycle.total_s", at_most=11.3)
    place = setting(user_limits=(limit,))
    many = spread_of(MACHINE, place, keys=KEYS, draws=2**15)
    assert 0.3 < float(many.kept["quick"]) < 0.7
    for seed in range(8):
        few = spread_of(MACHINE, place, keys=KEYS, draws=draws, seed=seed)
        for key in KEYS:
            width = np.ptp(many.points[key])
            assert few.points[key] == pytest.approx(many.points[key], abs=share * width), key
        assert float(few.kept["quick"]) == pytest.approx(float(many.kept["quick"]), abs=chance)


def test_ranges_are_those_of_plain_random_draws() -> None:
    """Twin: ordinary random numbers, one machine and setting for each draw, results one by one."""
    spread = spread_of(MACHINE, SETTING, draws=2**14, keys=KEYS)
    chance = np.random.default_rng(8)
    own = [error for error in MODEL_ERRORS if not error.by_parts]
    cycles, forces = [], []
    for _ in range(1500):
        drawn = chance.random((len(TOLERANCES), 1))
        constants = FromTheTrade(SETTING.constants).at(chance.random((5, 1)))
        parts, place, levels = varied(
            MACHINE, dataclasses.replace(SETTING, constants=constants), drawn
        )
        evaluation = Evaluation(parts, place, levels)
        cycle = evaluation.cycle_time
        for error in own:
            if "cycle_time" in error.touches:
                size = error.touches["cycle_time"](evaluation, evaluation.cycle_time)
                cycle = cycle + error.share * chance.standard_normal() * size
        cycles.append(np.asarray(cycle).item())
        forces.append(np.asarray(evaluation.force).item())
    for key, column in (("cycle.total_s", cycles), ("force_N", forces)):
        width = np.ptp(spread.points[key])
        assert spread.points[key] == pytest.approx(np.quantile(column, LEVELS), abs=0.06 * width)


def test_relief_tolerance_spreads_the_force_evenly() -> None:
    """Rectangular: 5 and 95 % points lie at 0.9 of the half width of 3 %."""
    low, middle, high = spread_of(MACHINE, SETTING, draws=4096, keys=KEYS).points["force_N"]
    plain = float(np.asarray(Evaluation(MACHINE, SETTING).force))
    wanted = plain * (1.0 + 0.03 * 0.9 * np.array([-1.0, 0.0, 1.0]))
    assert np.array([low, middle, high]) == pytest.approx(wanted, rel=2e-4)


@pytest.mark.parametrize("draws", [64, 256])
def test_a_limit_met_exactly_is_kept_half_the_time(draws: int) -> None:
    plain = float(np.asarray(Evaluation(MACHINE, SETTING).force))
    strong = UserLimit(name="strong", result="force_N", at_least=plain)
    weak = UserLimit(name="weak", result="force_N", at_most=plain)
    at_rating = machine(pump__rated_pressure=MACHINE.valve.relief_pressure)
    spread = spread_of(at_rating, setting(user_limits=(strong, weak)), draws=draws, keys=KEYS)
    for name in ("strong", "weak", "pump_pressure"):
        assert float(spread.kept[name]) == pytest.approx(0.5, abs=2.0 / draws), name
    assert float(spread.all_kept) == 0.0


def test_limits_far_off_are_certain_and_all_of_them_are_there() -> None:
    spread = spread_of(MACHINE, SETTING, keys=KEYS)
    hard = {limit.name for limit in limits_of(SETTING) if limit.kind == "hard"}
    assert set(spread.kept) == hard
    assert float(spread.kept["rod_fit"]) == 1.0
    assert float(spread.kept["solution_found"]) == 1.0
    thin = spread_of(machine(rod__diameter=1.0 * IN), SETTING, keys=KEYS)
    assert float(thin.kept["rod_buckling"]) == 0.0
    assert float(thin.all_kept) == 0.0
    least = min(float(share) for share in spread.kept.values())
    assert float(spread.all_kept) <= least


def test_oil_probability_agrees_with_the_steady_temperature() -> None:
    """The bound is put on a point of the steady temperature's range."""
    key = "oil.steady_degC"
    points = spread_of(MACHINE, SETTING, keys=(key,)).points[key]
    for level, bound in zip(LEVELS, points, strict=True):
        changed = setting(limit_changes={"oil_temperature": LimitChange(bound=float(bound))})
        kept = spread_of(MACHINE, changed, keys=KEYS).kept["oil_temperature"]
        assert float(kept) == pytest.approx(level, abs=1.5 / 256)


def test_a_machine_has_the_same_ranges_in_any_company() -> None:
    found = random_machines(3, 150)
    assert 2 * LANES < 150 * 256
    keys = ("cycle.total_s", "work.pieces_per_h")
    whole = spread_of(found, SETTING, keys=keys)
    for lanes in (np.array([149, 3, 63, 127]), np.array([64])):
        some = spread_of(lanes_of(found, lanes), SETTING, keys=keys)
        for key in keys:
            assert np.array_equal(whole.points[key][:, lanes], some.points[key], equal_nan=True)
        for name, share in whole.kept.items():
            assert np.array_equal(share[lanes], some.kept[name]), name
        assert np.array_equal(whole.all_kept[lanes], some.all_kept)


def test_same_seed_same_bytes() -> None:
    one, again, other = (spread_of(MACHINE, SETTING, seed=seed, keys=KEYS) for seed in (1, 1, 2))
    for key in KEYS:
        assert one.points[key].tobytes() == again.points[key].tobytes()
    assert one.points["cycle.total_s"].tobytes() != other.points["cycle.total_s"].tobytes()
    first, second = (influences(MACHINE, SETTING, count=64, seed=1) for _ in range(2))
    assert first.total.tobytes() == second.total.tobytes()


def test_a_machine_that_does_not_move_has_no_times_and_no_chance() -> None:
    stuck = setting(frame__idle_drag=400e3)
    spread = spread_of(MACHINE, stuck, keys=KEYS)
    assert float(spread.kept["solution_found"]) == 0.0
    assert float(spread.all_kept) == 0.0
    assert np.isnan(spread.points["cycle.total_s"]).all()
    assert np.isfinite(spread.points["force_N"]).all()


def test_a_limit_on_the_steady_temperature_itself_may_be_asked() -> None:
    warm = UserLimit(name="warm", result="oil.steady_degC", at_least=273.15 + 20.0)
    found = random_machines(5, 3)
    spread = spread_of(found, setting(user_limits=(warm,)), draws=32, keys=KEYS)
    assert spread.kept["warm"].shape == (3,)
    assert (spread.kept["warm"] == 1.0).all()


def test_nothing_that_is_asked_about_is_changed() -> None:
    found = random_machines(9, 4)
    before = {name: np.array(getattr(found.valve, name)) for name in physical(CATEGORIES["valve"])}
    spread_of(found, SETTING, draws=16, keys=KEYS)
    for name, column in before.items():
        assert np.array_equal(getattr(found.valve, name), column)


# --- tolerances ----------------------------------------------------------------------------------


def at(**places: float) -> Array:
    """Uniform numbers in the middle, but for the tolerances named (blanks as underscores)."""
    uniform = np.full((len(TOLERANCES), 1), 0.5)
    for name, value in places.items():
        uniform[WHERE[name.replace("_", " ")]] = value
    return uniform


def one(machine: Machine, field: str) -> float:
    section, name = field.split(".")
    return np.asarray(getattr(getattr(machine, section), name)).item()


def test_every_tolerance_changes_its_fields_and_no_other() -> None:
    owners = {"frame": Frame, "oil": Oil, "wood": Log}
    for row, tolerance in enumerate(TOLERANCES):
        uniform = np.full((len(TOLERANCES), 1), 0.5)
        uniform[row] = 1.0
        parts, place, _ = varied(MACHINE, SETTING, uniform)
        changed = set()
        for category, kind in CATEGORIES.items():
            for name in physical(kind):
                old = float(np.asarray(getattr(getattr(MACHINE, category), name)))
                new = one(parts, f"{category}.{name}")
                if new != pytest.approx(old, rel=1e-12):
                    changed.add(f"{category}.{name}")
                    share = (1.0 - new) / (1.0 - old) if tolerance.on_loss else new / old
                    assert share == pytest.approx(1.0 + tolerance.half_width), tolerance.name
        for section, kind in owners.items():
            old_part = SETTING.wood[0] if section == "wood" else getattr(SETTING, section)
            new_part = place.wood[0] if section == "wood" else getattr(place, section)
            for name in quantities(kind):
                old, new = getattr(old_part, name), np.asarray(getattr(new_part, name)).item()
                if new != pytest.approx(old, rel=1e-12):
                    changed.add(f"{section}.{name}")
                    assert new == pytest.approx(old * (1.0 + tolerance.half_width))
        stated = {
            field
            for field in tolerance.fields
            if field.split(".")[0] in owners or one(MACHINE, field) != 0.0
        }
        assert changed == stated, tolerance.name
        assert tolerance.reason
        assert 0.0 < tolerance.half_width < 1.0


def test_tolerances_are_named_once_and_touch_each_field_once() -> None:
    assert len(WHERE) == len(TOLERANCES)
    fields = [field for tolerance in TOLERANCES for field in tolerance.fields]
    assert len(fields) == len(set(fields))


def test_middle_of_every_tolerance_is_the_machine_itself() -> None:
    parts, place, levels = varied(MACHINE, SETTING, at())
    evaluation = Evaluation(parts, place, levels)
    plain = Evaluation(MACHINE, SETTING)
    for name in ("cycle_time", "loaded_cycle_time", "mean_power", "unsplit_share"):
        value = np.asarray(getattr(evaluation, name)).item()
        assert value == pytest.approx(float(np.asarray(getattr(plain, name))), rel=1e-9), name


def test_relief_and_efficiency_by_hand() -> None:
    parts, _, _ = varied(MACHINE, SETTING, at(relief_setting=1.0, pump_leakage=0.0))
    assert one(parts, "valve.relief_pressure") == pytest.approx(1.03 * 2500.0 * PSI)
    assert one(parts, "pump.volumetric_efficiency") == pytest.approx(1.0 - 0.8 * 0.07)


def test_scaled_wood_is_the_mix_with_scaled_peaks() -> None:
    _, place, levels = varied(MACHINE, SETTING, at(wood_forces=1.0))
    stronger = tuple(
        dataclasses.replace(log, peak_force=1.2 * log.peak_force) for log in SETTING.wood
    )
    wanted = work_levels(stronger)
    assert levels.loaded_share == wanted.loaded_share
    found = [np.asarray(force).item() for force in levels.forces]
    assert found == pytest.approx(wanted.forces, rel=1e-12)
    assert [np.asarray(log.peak_force).item() for log in place.wood] == pytest.approx(
        [log.peak_force for log in stronger]
    )


@pytest.mark.parametrize("name", ["alder-yard", "kvarnby"])
def test_demonstration_machines_have_ranges(name: str) -> None:
    study = load_study(STUDIES / name)
    owned = owned_machine(study)
    fit = fit_constants(owned, study.setting, study.measurements)
    before = spread_of(owned, study.setting, keys=KEYS)
    after = spread_of(owned, study.setting, fit, keys=KEYS)
    for compared in fit.compared:
        if compared.measurement.kind == "cycle_time":
            low, _, high = after.points["cycle.total_s"]
            assert low < compared.measurement.value < high
            assert high - low < np.ptp(before.points["cycle.total_s"])
    assert 0.0 <= float(after.all_kept) <= 1.0


def test_points_of_the_priors_are_those_of_the_trade() -> None:
    uniform = even_points(5, 1024, 0)
    constants = FromTheTrade(SETTING.constants).at(uniform)
    for prior in PRIORS:
        column = np.asarray(getattr(constants, prior.name))
        plain = float(getattr(SETTING.constants, prior.name))
        assert float(np.median(column)) == pytest.approx(plain, rel=0.01)
