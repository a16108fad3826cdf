"""Hands, rounds, wood, fuel and money of an hour: what adds up to what."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from optimise.machine.evaluation import Evaluation
from optimise.machine.setting import Money
from tests.machine.example import IN, MACHINE, SETTING, machine, setting
from tests.machine.test_laws import random_machines

MONEY = Money(
    labour_rate=45.0, fuel_price=950.0, fuel_density=750.0, hourly_worth=40.0, payback_time=1.08e6
)
PAID = dataclasses.replace(SETTING, money=MONEY)
RODS = np.linspace(1.2, 3.2, 41) * IN


def test_back_stroke_is_hidden_or_waited_for() -> None:
    found = Evaluation(random_machines(3), SETTING)
    assert found.hidden_time + found.waited_time == pytest.approx(found.retract_time, nan_ok=True)
    assert found.counted_time + SETTING.work.handling_time == pytest.approx(
        found.piece_period, nan_ok=True
    )
    hidden = np.asarray(found.hidden_time)
    assert (hidden[np.isfinite(hidden)] >= 0.0).all()
    assert (hidden[np.isfinite(hidden)] <= 0.6 * SETTING.work.handling_time).all()


def test_return_quicker_than_the_hands_brings_no_piece_more() -> None:
    slow_hands = setting(work__handling_time=20.0, work__overlapped_share=0.6)
    found = Evaluation(machine(rod__diameter=RODS), slow_hands)
    assert np.asarray(found.retract_time).max() < 12.0
    assert np.ptp(np.asarray(found.retract_time)) > 0.5
    assert np.asarray(found.waited_time) == pytest.approx(0.0, abs=1e-12)
    out_and_hands = found.rated.loaded_extend_time + found.reversal_time + 20.0
    assert found.piece_period == pytest.approx(np.asarray(out_and_hands), rel=1e-12)


def test_without_a_detent_every_second_back_is_waited_for() -> None:
    found = Evaluation(machine(valve__detent_pressure=0.0), SETTING)
    assert found.hidden_time == 0.0
    assert found.waited_time == found.retract_time
    with_detent = Evaluation(MACHINE, SETTING)
    assert found.piece_period == pytest.approx(with_detent.piece_period + with_detent.hidden_time)


def test_rates_times_an_hour_are_its_totals() -> None:
    found = Evaluation(random_machines(5), PAID)
    use = PAID.work
    wood = 3600.0 * found.wood_rate
    assert found.rounds_per_hour * use.round_volume == pytest.approx(wood, nan_ok=True)
    assert found.rounds_per_hour * (use.pieces_per_round - 1.0) == pytest.approx(
        found.pieces_per_hour, nan_ok=True
    )
    burnt = found.mean_power * found.machine.engine.fuel_consumption * 3600.0 * use.utilisation
    assert found.fuel_per_volume * wood == pytest.approx(burnt, nan_ok=True)
    spent = MONEY.labour_rate + burnt / MONEY.fuel_density * MONEY.fuel_price
    assert found.cost_per_volume * wood == pytest.approx(spent, nan_ok=True)


def test_bigger_rounds_and_bigger_pieces_are_more_wood_an_hour() -> None:
    base = Evaluation(MACHINE, PAID)
    for more in (
        {"work__round_volume": 2.0 * PAID.work.round_volume},
        {"work__pieces_per_round": 2.5},
    ):
        other = Evaluation(MACHINE, dataclasses.replace(setting(**more), money=MONEY))
        assert other.wood_rate == pytest.approx(2.0 * base.wood_rate)
        assert other.pieces_per_hour == base.pieces_per_hour
        assert other.cost_per_volume == pytest.approx(base.cost_per_volume / 2.0)
        assert other.fuel_per_volume == pytest.approx(base.fuel_per_volume / 2.0)


def test_worth_of_a_second_is_that_of_the_hours_it_saves() -> None:
    found = Evaluation(MACHINE, PAID)
    strokes = MONEY.payback_time * PAID.work.utilisation / found.split_period
    assert found.second_worth == pytest.approx(strokes / 3600.0 * MONEY.hourly_worth)
    assert Evaluation(MACHINE, SETTING).second_worth == 0.0
