"""Doubt of where to stop: every draw worked out by itself, machine by machine, and counted."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from optimise.columns import Array
from optimise.search.knowledge import knowledge_of
from optimise.search.stops import DRAWS, SEED, Stop
from optimise.search.sweep import Sweep, sweep
from optimise.search.unknowns import Unknowns, with_error
from optimise.study.load import load_study
from optimise.study.space import fitted_machine

pytestmark = pytest.mark.usefixtures("coarse_wood")
ALDER = "studies/alder-yard"
TEXTS = (
    "pump=13 gpm two-stage, 650 psi | 13 gpm two-stage, 900 psi",
    "work_hoses=pair of 1/2 in, two-wire, 4000 psi | pair of 5/8 in, two-wire, 3625 psi",
)
LOW, EVEN = 8.0, 12.0
"""Worth of an hour that pays for no pump by the plain numbers, and one at which draws differ."""
BORES, SOME = ("bore=4 in bore, 1/4 wall | 4.5 in bore, 1/4 wall",), 8.2
"""Cylinders of which the cheap one leaves more pieces unsplit, and a worth that is between what it
is worth with these counted and without."""


@cache
def doubted(hourly_worth: float, texts: tuple[str, ...] = TEXTS) -> tuple[Sweep, Stop]:
    sets = (f"money.hourly_worth={hourly_worth}",)
    study = load_study(ALDER, sets)
    found = sweep(ALDER, sets, study, texts, knowledge_of(study).belief)
    (stop,) = found.stops
    return found, stop


@cache
def drawn(
    hourly_worth: float, texts: tuple[str, ...] = TEXTS
) -> tuple[list[tuple[int, ...]], Array, Array, Array]:
    """Places that keep every limit, their outlays and times in the draws; those of the owned.

    Times are those per piece that is split.
    """
    found, _ = doubted(hourly_worth, texts)
    study, belief = found.study, knowledge_of(found.study).belief
    assert belief is not None
    unknowns = Unknowns(belief)
    uniform = unknowns.points(DRAWS, SEED)
    errors = unknowns.model_errors(uniform)

    def times(fitted: dict[str, str]) -> Array:
        machine = fitted_machine(dataclasses.replace(study, fitted={**study.fitted, **fitted}))
        evaluation = unknowns.evaluation(machine, study.setting, uniform)
        hands = evaluation.piece_period - evaluation.loaded_cycle_time
        time = with_error(evaluation, "cycle.loaded_total_s", errors) + hands
        return np.asarray(time / (1.0 - evaluation.unsplit_share))

    places = [place for place in np.ndindex(found.shape) if found.sheet.feasible[place]]
    put_on = [
        {one.key: one.names[nth] for one, nth in zip(found.dimensions, place, strict=True)}
        for place in places
    ]
    assert any(study.fitted == {**study.fitted, **parts} for parts in put_on)
    outlays = np.array([found.sheet.results["cost.outlay"][place] for place in places])
    return places, outlays, np.array([times(parts) for parts in put_on]), times({})


def furthest_under(times: Array, outlays: Array) -> int:
    """Machine whose stair lies furthest under the chord, by the distance to it."""
    walked = [
        nth
        for nth in np.argsort(outlays)
        if not any(times[other] <= times[nth] for other in np.flatnonzero(outlays < outlays[nth]))
    ]
    across, down = (column[walked] for column in (outlays, times))
    x = (across - across[0]) / (across[-1] - across[0])
    y = (down - down[-1]) / (down[0] - down[-1])
    return int(walked[int(np.argmax((1.0 - x - y) / np.sqrt(2.0)))])


@pytest.mark.parametrize(("hourly_worth", "texts"), [(LOW, TEXTS), (EVEN, TEXTS), (SOME, BORES)])
def test_doubt_is_the_share_of_draws_with_the_same_choice(
    hourly_worth: float, texts: tuple[str, ...]
) -> None:
    """By worth: most money left over; the other: the bend. Neither counts for the other."""
    found, stop = doubted(hourly_worth, texts)
    places, outlays, times, before = drawn(hourly_worth, texts)
    money, use = found.study.money, found.study.setting.work.utilisation
    hours = money.payback_time / 3600.0
    by_worth, by_knee = [], []
    for draw in range(DRAWS):
        second = hourly_worth * hours * use / before[draw]
        left = second * (before[draw] - times[:, draw]) - outlays
        by_worth.append(places[int(np.argmax(left))])
        by_knee.append(places[furthest_under(times[:, draw], outlays)])
    checked = [(stop.worth_doubt, stop.worth_stair, by_worth)]
    if len(stop.stairs) > 2:
        checked.append((stop.knee_doubt, stop.knee_stair, by_knee))
    for doubt, stair, chosen in checked:
        assert doubt is not None
        counted = {place: chosen.count(place) / DRAWS for place in places}
        assert doubt.share == counted[stop.stairs[stair] or ()]
        often = {place: share for place, share in counted.items() if share >= 0.05}
        assert dict(zip(doubt.places, doubt.shares, strict=True)) == often
    if hourly_worth == LOW:
        assert stop.worth_stair == 0 < stop.knee_stair
    if hourly_worth == EVEN:
        assert 0.1 < by_worth.count(stop.stairs[0] or ()) / DRAWS < 0.4


def test_nine_draws_of_ten_lie_in_the_range_of_seconds_saved() -> None:
    _, stop = doubted(EVEN)
    places, _, times, before = drawn(EVEN)
    saved = before - times[places.index(stop.stairs[stop.worth_stair] or ())]
    assert stop.saved is not None
    low, middle, high = stop.saved
    assert np.ptp(saved) > 0.1
    for end, share in ((low, 0.05), (middle, 0.5), (high, 0.95)):
        assert (saved <= end).mean() == pytest.approx(share, abs=1.0 / DRAWS)


def test_pieces_that_stay_unsplit_count_against_a_machine() -> None:
    """Judged by the hours for the wood that the machine owned splits until it has to have paid."""
    found, stop = doubted(SOME, BORES)
    results, money = found.sheet.results, found.study.money
    rates, outlays = results["work.pieces_per_h"], results["cost.outlay"]
    weak, owned = 0, 1
    hours = money.payback_time / 3600.0 * found.study.setting.work.utilisation
    left = SOME * hours * (1.0 - rates[owned] / rates) - outlays
    assert left[weak] < left[owned] == 0.0
    assert stop.stairs[stop.worth_stair] == (owned,)
    ratio = stop.periods[stop.stairs.index((weak,))] / stop.periods[0]
    assert ratio == pytest.approx(rates[owned] / rates[weak])
    logs = results["work.piece_period_s"]
    assert SOME * hours * (1.0 - logs[weak] / logs[owned]) > outlays[weak]
