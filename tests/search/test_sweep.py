"""Sweep: crossings, stairs, where to stop, and the sentences that follow from them."""

from __future__ import annotations

import dataclasses
import math
from functools import cache
from typing import Any

import numpy as np
import pytest

from optimise.machine.sheet import sheet_of
from optimise.report.sweep_words import advice, name_of, roles_of
from optimise.search.crossings import sign_changes
from optimise.search.goals import PIECE
from optimise.search.knowledge import knowledge_of
from optimise.search.returns import returns_of, stairs_of, worth_stop
from optimise.search.stops import DRAWS, Doubt
from optimise.search.sweep import Sweep, sweep
from optimise.study.load import load_study
from optimise.study.space import fitted_machine
from optimise.units import show

ALDER, KVARNBY = "studies/alder-yard", "studies/kvarnby"


@cache
def swept(study: str, *texts: str, sets: tuple[str, ...] = (), sure: bool = True) -> Sweep:
    loaded = load_study(study, sets)
    return sweep(study, sets, loaded, texts, None if sure else knowledge_of(loaded).belief)


def checked(study: str, *sets: str) -> Any:
    loaded = load_study(study, sets)
    return sheet_of(fitted_machine(loaded), loaded.setting)


# --- where margins change -----------------------------------------------------------------------


def test_sign_changes_of_smooth_margins_jumps_and_the_unknown() -> None:
    functions = (
        lambda at: 2.0 - at**3,
        lambda at: 0.3 if at < 0.7 else -0.001,
        lambda at: 0.2 if at < 0.25 else np.nan,
        lambda at: at - 0.4,
    )

    def margins(at: np.ndarray, lanes: np.ndarray) -> np.ndarray:
        return np.array([functions[lane](number) for lane, number in zip(lanes, at, strict=True)])

    found = sign_changes(margins, np.array([1.0, 0.0, 0.0, 0.0]), np.array([2.0, 1.0, 1.0, 1.0]))
    assert found == pytest.approx([2.0 ** (1 / 3), 0.7, 0.25, 0.4], abs=2e-6)


@pytest.mark.parametrize(
    ("study", "text"),
    [
        (ALDER, "rod.diameter=1.5..3.5 in by 0.25"),
        (KVARNBY, "pump.large_displacement=10..40 cm3/rev"),
        (KVARNBY, "surroundings.air_temperature=10..40 degC by 10 degC"),
        (ALDER, "surroundings.altitude=0..3000 m"),
    ],
)
def test_a_limit_is_kept_on_one_side_of_its_crossing_and_not_on_the_other(
    study: str, text: str
) -> None:
    found = swept(study, text)
    (dimension,) = found.dimensions
    assert found.crossings
    values = dimension.values
    assert values is not None
    for one in found.crossings:
        assert one.exact
        assert values[one.before[0]] <= one.value <= values[one.before[0] + 1]
        step = 1e-4 * (values[1] - values[0])
        units = {"length": "m", "altitude": "m", "displacement": "m3/rev", "temperature": "K"}
        kind = units[dimension.kind]
        for side, kept in ((-1.0, one.kept_below), (1.0, not one.kept_below)):
            sheet = checked(study, f"{dimension.key}={float(one.value + side * step)!r} {kind}")
            reading = next(r for r in sheet.limits if r.limit.name == one.limit.name)
            assert bool(reading.kept) is kept, (one.limit.name, side)


def test_every_change_of_a_limit_between_points_has_its_crossing() -> None:
    found = swept(ALDER, "rod.diameter=1.5..3.5 in by 0.25")
    changes = {
        (reading.limit.name, nth)
        for reading in found.sheet.limits
        for nth in range(found.shape[0] - 1)
        if reading.kept[nth] != reading.kept[nth + 1]
    }
    assert {(one.limit.name, one.before[0]) for one in found.crossings} == changes


def test_a_crossing_between_points_is_where_the_straight_margin_is_nothing() -> None:
    """Beside a second dimension: on the line through the margins at both of its neighbours."""
    seen = 0
    for texts in (
        ("surroundings.altitude=1000 m | 3000 m", "rod=2 in rod, 75 ksi | 3 in rod, 75 ksi"),
        ("oil.grade=32 | 46", "surroundings.air_temperature=34 degC | 45 degC"),
    ):
        found = swept(ALDER, *texts)
        for one in found.crossings:
            assert not one.exact
            values = found.dimensions[one.dimension].values
            assert values is not None
            reading = next(r for r in found.sheet.limits if r.limit.name == one.limit.name)
            at = list(one.before)
            at[one.dimension] += 1
            ends = values[one.before[one.dimension] :][:2]
            margins = [float(reading.margin[place]) for place in (one.before, tuple(at))]
            assert (margins[0] >= 0.0) is one.kept_below is not (margins[1] >= 0.0)
            assert ends[0] < one.value < ends[1]
            size = max(abs(margin) for margin in margins)
            assert np.interp(one.value, ends, margins) == pytest.approx(0.0, abs=1e-9 * size)
            assert abs(sum(margins)) > 0.01 * size, "the middle would do as well"
            seen += 1
    assert seen >= 3


# --- points are those of check ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("texts", "place", "sets"),
    [
        (("rod", "pump"), (3, 5), ()),
        (("rod.diameter=2 in | 2.5 in", "valve"), (1, 2), ()),
        (("rod", "frame.stroke=20..26 in by 2"), (2, 1), ()),
        (("oil.grade=32 | 46 | 68", "surroundings.altitude=0 m | 1000 m"), (2, 1), ()),
        (("money.labour_rate=20 | 90", "rod"), (1, 4), ()),
        (
            ("limits.return_velocity.bound=3 m/s | 5 m/s", "wood.2.peak_force=40 kN | 90 kN"),
            (0, 1),
            (),
        ),
        (("rod.price=100 | 500",), (1,), ("rod=3 in rod, 75 ksi",)),
        (("engine",), (2,), ("work.handling_time=9 s",)),
    ],
)
def test_a_point_is_what_check_says_of_it(
    texts: tuple[str, ...], place: tuple[int, ...], sets: tuple[str, ...]
) -> None:
    found = swept(ALDER, *texts, sets=sets)
    changes = [one.change(nth) for one, nth in zip(found.dimensions, place, strict=True)]
    sheet = checked(ALDER, *sets, *changes)
    for key, column in found.sheet.results.items():
        assert column[place] == pytest.approx(float(sheet.results[key]), rel=1e-9), key
    for reading, alone in zip(found.sheet.limits, sheet.limits, strict=True):
        assert bool(reading.kept[place]) is bool(alone.kept), alone.limit.name


# --- diminishing returns ------------------------------------------------------------------------


def test_stop_is_where_seconds_begin_to_cost_more_than_they_are_worth() -> None:
    chance = np.random.default_rng(8)
    for _ in range(300):
        count = int(chance.integers(1, 12))
        outlays = np.round(chance.uniform(-100.0, 900.0, count), 0)
        periods = np.round(chance.uniform(10.0, 20.0, count), 1)
        worth = float(chance.uniform(0.0, 400.0))
        stairs = stairs_of(periods, outlays)
        for nth in range(count):
            beaten = (outlays <= outlays[nth]) & (periods < periods[nth])
            same = (outlays < outlays[nth]) & (periods == periods[nth])
            assert (
                (nth in stairs)
                or beaten.any()
                or same.any()
                or ((outlays == outlays[nth]) & (periods == periods[nth])).sum() > 1
            )
        times, money = periods[stairs], outlays[stairs]
        assert (np.diff(times) < 0.0).all()
        assert (np.diff(money) > 0.0).all()
        best = worth_stop(times, money, worth)
        before, after = slice(None, best), slice(best + 1, None)
        paid = (money[best] - money[before]) / (times[before] - times[best])
        asked = (money[after] - money[best]) / (times[best] - times[after])
        assert (paid <= worth + 1e-9).all()
        assert (asked >= worth - 1e-9).all()


def stop_names(found: Sweep) -> list[str]:
    (stop,) = found.stops
    place = stop.stairs[stop.worth_stair]
    return [one.names[nth] for one, nth in zip(found.dimensions, place or (), strict=False)]


def test_advice_flips_with_the_worth_of_an_hour() -> None:
    """The rod of 2.25 in is worth its price when a saved hour brings enough, else not."""
    poor, rich = (swept(ALDER, "rod", sets=(f"money.hourly_worth={worth}",)) for worth in (40, 80))
    assert stop_names(poor) == ["2 in rod, 75 ksi"]
    assert stop_names(rich) == ["2.25 in rod, 75 ksi"]
    price = poor.stops[0].prices[1]
    assert poor.stops[0].second_worth < price < rich.stops[0].second_worth
    said = " ".join(advice(poor))
    assert said.startswith("Leave the rod as it is: with 2.25 in rod, 75 ksi a second off every")
    assert f"{price:,.0f} USD" in said
    said = " ".join(advice(rich))
    saved = rich.stops[0].periods[0] - rich.stops[0].periods[1]
    assert said.startswith(
        f"Put on 2.25 in rod, 75 ksi: it takes {show(saved, 'time', 'us', 3)} off every piece for "
        f"220 USD, {price:,.0f} USD a second"
    )
    assert "2.5 in rod, 75 ksi would take another" in said
    assert "but crosses velocity in the work hoses" in said


def test_without_a_worth_of_an_hour_the_knee_speaks() -> None:
    found = swept(ALDER, "pump", "rod", sets=("money.hourly_worth=0",))
    (sentence,) = advice(found)
    (stop,) = found.stops
    place = stop.stairs[stop.knee_stair]
    assert place is not None
    names = [one.names[nth] for one, nth in zip(found.dimensions, place, strict=True)]
    assert f"bends most at {', '.join(names)}" in sentence
    assert "money.hourly_worth" in sentence


def test_two_stairs_have_no_bend() -> None:
    found = swept(ALDER, "rod", sets=("money.hourly_worth=0",))
    assert len(found.stops[0].stairs) == 2
    (sentence,) = advice(found)
    assert "has no bend" in sentence
    assert "money.hourly_worth" in sentence
    assert "knee" not in roles_of(found.stops[0], 0.0).values()
    straight = returns_of(np.array([10.0, 9.0, 8.0]), np.array([0.0, 100.0, 200.0]), 50.0)
    assert len(straight.places) == 3 and not straight.bends


def test_the_next_second_is_the_cheapest_of_all_that_lie_beyond() -> None:
    """Neither the next stair nor the last, but the one on the lower hull: by all points."""
    found = swept(ALDER, "pump", "work_hoses")
    (stop,) = found.stops
    best = stop.worth_stair
    periods, outlays = found.sheet.results[PIECE], found.sheet.results["cost.outlay"]
    rates = {
        (outlays[place] - stop.outlays[best]) / (stop.periods[best] - periods[place]): place
        for place in np.ndindex(found.shape)
        if found.sheet.feasible[place] and periods[place] < stop.periods[best] - 1e-6
    }
    least = min(rates)
    names = [one.names[at] for one, at in zip(found.dimensions, rates[least], strict=True)]
    onward = next(sentence for sentence in advice(found) if sentence.startswith("Stop there"))
    assert onward == f"Stop there: with {', '.join(names)} the next second costs {least:,.0f} USD."
    assert best + 1 < stop.next_stair < len(stop.stairs) - 1


def test_next_to_no_time_has_no_price() -> None:
    """A stair that takes a thousandth off a piece is no offer at hundreds of thousands a second."""
    found = swept(KVARNBY, "pump", "return_hose")
    (stop,) = found.stops
    assert stop.next_price > 1e5
    said = " ".join(advice(found))
    assert f"{stop.next_price:,.0f}" not in said
    assert "by 0.005 s or more" in said


def test_seconds_behind_the_hands_are_worth_nothing() -> None:
    """With slow hands that may work all the while, a quicker return brings no piece sooner."""
    paying = ("money.hourly_worth=80",)
    hands = ("work.handling_time=30 s", "work.overlapped_share=1")
    waited = swept(ALDER, "rod", sets=paying)
    hidden = swept(ALDER, "rod", sets=(*paying, *hands))
    for found in (waited, hidden):
        cycles = found.sheet.results["cycle.total_s"][found.sheet.feasible]
        assert np.ptp(cycles) > 0.3
    feasible = hidden.sheet.feasible
    assert np.ptp(hidden.sheet.results[PIECE][feasible]) < 0.02
    assert stop_names(waited) == ["2.25 in rod, 75 ksi"]
    assert stop_names(hidden) == ["2 in rod, 75 ksi"]
    assert hidden.stops[0].next_price > 20.0 * waited.stops[0].prices[1]


def test_advice_on_a_number_of_a_part_says_how_far_and_for_how_much() -> None:
    found = swept(ALDER, "rod.diameter=1.5..3.5 in by 0.25")
    first, second = advice(found)
    saved = float(found.saved[3])
    assert first.startswith(
        "The best rod diameter within every hard limit is 2.25 in: "
        f"{show(saved, 'time', 'us', 3)} off every piece"
    )
    worth = saved * float(found.bases.results["work.second_worth"][0])
    assert f"worth {worth:,.0f} USD over 300 hours of splitting" in first
    crossed = next(one for one in found.crossings if one.limit.name == "work_velocity")
    assert f"bove {crossed.value / 0.0254:.4g} in" in second
    assert "velocity in the work hoses is crossed" in second
    poor = swept(ALDER, "rod.diameter=1 in | 1.25 in")
    assert advice(poor)[0] == "From 1 in to 1.25 in no rod diameter keeps every hard limit."


def test_advice_on_a_condition_says_where_it_ends() -> None:
    warm = swept(KVARNBY, "surroundings.air_temperature=10..40 degC by 10 degC")
    first, second = advice(warm)
    ends = min(one.value for one in warm.crossings if one.limit.kind == "hard")
    assert first.startswith("With air temperature from 10 °C to 40 °C the time per piece goes")
    assert second.startswith(f"Keep inside: above {show(ends, 'temperature', 'metric')} ")
    mild = advice(swept(KVARNBY, "surroundings.air_temperature=0..10 degC by 5 degC"))
    assert mild[1] == "Every hard limit is kept all the way."


def test_where_to_stop_can_depend_on_the_other_dimension() -> None:
    """At a pump's price of its own nothing changes; with slower work a second is worth less."""
    found = swept(ALDER, "rod", "work.utilisation=40 % | 100 %", sets=("money.hourly_worth=45",))
    (sentence,) = advice(found)
    assert sentence == (
        "Where to stop depends on the utilisation: 2 in rod, 75 ksi at 40 %; "
        "2.25 in rod, 75 ksi at 100 %."
    )
    alike = swept(ALDER, "rod", "work.utilisation=40 % | 50 %")
    said = advice(alike)
    assert said[0].startswith("At utilisation 40 %: ")
    assert said[-1].startswith("The choice is the same at every utilisation of the sweep")


def test_doubt_counts_draws_and_is_none_where_nothing_is_known() -> None:
    assert swept(ALDER, "pump").stops[0].worth_doubt is None
    found = swept(ALDER, "engine", "pump", sure=False)
    (stop,) = found.stops
    assert stop.saved is not None
    assert stop.kept is not None
    assert 0.0 <= stop.kept <= 1.0
    low, middle, high = stop.saved
    gained = float(found.bases.results[PIECE][0, 0]) - stop.periods[stop.worth_stair]
    assert low < middle < high
    assert low < gained < high
    for doubt, stair in ((stop.worth_doubt, stop.worth_stair), (stop.knee_doubt, stop.knee_stair)):
        assert doubt is not None
        assert sum(doubt.shares) <= 1.0 + 1e-12
        assert doubt.share * DRAWS == pytest.approx(round(doubt.share * DRAWS))
        if doubt.share >= 0.05:
            assert stop.stairs[stair] in doubt.places


def test_a_worth_near_the_price_of_a_second_is_in_doubt() -> None:
    """At an hourly worth that makes a second worth what the rod's second costs, draws go either
    way; a second's worth goes with that of the hour."""
    (stop,) = swept(ALDER, "rod", sets=("money.hourly_worth=40",)).stops
    even = 40.0 * stop.prices[1] / stop.second_worth
    found = swept(ALDER, "rod", sets=(f"money.hourly_worth={even:.4f}",), sure=False)
    doubt = found.stops[0].worth_doubt
    assert doubt is not None
    assert len(doubt.places) == 2
    assert min(doubt.shares) > 0.1


def test_few_draws_for_a_stop_are_a_warning_not_to_buy_on_it() -> None:
    found = swept(ALDER, "rod", sets=("money.hourly_worth=80",))
    (stop,) = found.stops

    def said(share: float) -> str:
        doubted = dataclasses.replace(stop, worth_doubt=Doubt(share, (), ()))
        return advice(dataclasses.replace(found, stops=(doubted,)))[0]

    assert advice(found)[0] == said(0.9) == said(0.5)
    assert said(0.9).startswith("Put on 2.25 in rod, 75 ksi: it takes ")
    assert "Do not buy" not in said(0.9)
    unsure = said(0.25)
    assert unsure.startswith("By the plain numbers 2.25 in rod, 75 ksi takes ")
    assert "Put on" not in unsure
    assert f"Do not buy on that alone: only 25 % of {DRAWS} draws of what is not known" in unsure


def test_advice_says_what_force_is_lost() -> None:
    """Relief at 2000 psi on bores of 4.5 and 4 in: pi/4 D2 p, three digits."""
    said = advice(swept(ALDER, "bore", sets=("money.hourly_worth=80",)))
    assert said[0].startswith("Put on 4 in bore")
    forces = [500.0 * math.pi * bore**2 for bore in (4.5, 4.0)]
    before, after = (f"{round(force, -2):.0f} lbf" for force in forces)
    assert said[1].startswith(f"Mind the force: it falls from {before} to {after}")
    as_strong = advice(swept(ALDER, "rod", sets=("money.hourly_worth=80",)))
    assert not any("Mind the force" in sentence for sentence in as_strong)


def test_what_varies_is_named_so_that_it_can_be_told_from_its_like() -> None:
    hoses = swept(
        ALDER, "lines.suction.length=20..30 in by 5", "lines.return_line.length=4 ft | 5 ft"
    )
    named = [name_of(one) for one in hoses.dimensions]
    assert named == ["suction line length", "return line length"]
    assert name_of(swept(ALDER, "surroundings.altitude=0 m | 900 m").dimensions[0]) == "altitude"
