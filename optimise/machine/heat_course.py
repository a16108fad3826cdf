"""Temperature of oil and steel that take up heat and give it to the air, followed in time.

Oil and the steel around it are one body of one temperature. It takes up the heat of
:meth:`Evaluation.heat_of` at its own temperature and gives heat to the air by the conductance of
tank, cooler and hoses.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimise.columns import Array, Column, shape_of
from optimise.machine.evaluation import HOTTEST_OIL, Evaluation
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.machine.strokes import Strokes
from optimise.physics import work

TABLE_ERROR = 1e-3
"""Relative error of the heat table at which a cell of it is not divided any more."""
LONGEST_STEP = 60.0
"""Longest step of the heat balance [s]."""

_FIRST_CELL = 0.5
_MOST_DIVISIONS = 8
_STEP_SHARE = 0.3


# --- heat over temperature ----------------------------------------------------------------------


@dataclass(frozen=True)
class HeatTable:
    """Heat into the oil, shaft power and pieces over the oil temperature, straight between rows.

    Attributes
    ----------
    temperature
        Rising [K]; beyond its ends the end rows hold.
    heat, power
        Into the oil, and of the engine shaft [W].
    pieces
        Pieces split per second [1/s].
    error
        Largest relative error of the heat that was measured in the middle of a cell.
    """

    temperature: Array
    heat: Array
    power: Array
    pieces: Array
    error: float = 0.0

    def heat_at(self, temperature: Column) -> Column:
        """Heat into the oil [W]."""
        return np.interp(temperature, self.temperature, self.heat)

    @property
    def steepest(self) -> float:
        """Largest change of heat over a kelvin or less [W/K]."""
        ends = self.temperature + 1.0
        return float(np.max(np.abs(self.heat_at(ends) - self.heat), initial=0.0))


_Rows = tuple[Array, Array, Array]


def _tabulated(rows: Callable[[Array], _Rows], lowest: float) -> HeatTable:
    """Table from the lowest temperature [K] to the hottest oil, divided where it is not straight.

    Rows whose heat is not finite (the oil is too thick for the ram to move) are left out.
    """
    count = math.ceil((HOTTEST_OIL - lowest) / _FIRST_CELL) + 1
    left = np.linspace(lowest, HOTTEST_OIL, count)
    found = [(left, *rows(left))]
    left, right = left[:-1], left[1:]
    at_left, at_right = found[0][1][:-1], found[0][1][1:]
    error = 0.0
    for division in range(1, _MOST_DIVISIONS + 1):
        middle = 0.5 * (left + right)
        new = rows(middle)
        found.append((middle, *new))
        off = np.abs(0.5 * (at_left + at_right) / new[0] - 1.0)
        bent = off > TABLE_ERROR
        done = np.isfinite(off) if division == _MOST_DIVISIONS else np.isfinite(off) & ~bent
        error = max(error, float(np.max(off[done], initial=0.0)))
        if not bent.any():
            break
        left, right = (
            np.concatenate((left[bent], middle[bent])),
            np.concatenate((middle[bent], right[bent])),
        )
        at_left, at_right = (
            np.concatenate((at_left[bent], new[0][bent])),
            np.concatenate((new[0][bent], at_right[bent])),
        )
    columns = [np.concatenate(parts) for parts in zip(*found, strict=True)]
    known = np.isfinite(columns[1])
    if not known.any():
        known[0], error = True, math.nan
    order = np.argsort(columns[0][known], kind="stable")
    temperature, warmth, power, pieces = (column[known][order] for column in columns)
    return HeatTable(temperature, warmth, power, pieces, error)


def working_heat(evaluation: Evaluation, lowest: float) -> HeatTable:
    """Table of a machine at work, splitting and waiting by the duty, from ``lowest`` [K] up.

    Heat and power stay under what the engine can give. One machine only.
    """
    duty = evaluation.setting.surroundings.duty
    most = evaluation.plant.most_power

    def rows(temperature: Array) -> _Rows:
        strokes = evaluation.strokes_at(temperature)
        shaft_work, period = evaluation.piece_of(strokes)
        power = duty * shaft_work / period + (1.0 - duty) * strokes.neutral.power
        hourly = work.pieces_per_hour(period, evaluation.split_per_stroke, duty)
        return (
            _full(np.minimum(evaluation.heat_of(strokes), most), temperature),
            _full(np.minimum(power, most), temperature),
            _full(hourly / 3600.0, temperature),
        )

    with np.errstate(all="ignore"):
        return _tabulated(rows, lowest)


def neutral_heat(evaluation: Evaluation, lowest: float) -> HeatTable:
    """Table of a machine with the valve in neutral; the pump's stage follows its pressure."""
    most = evaluation.plant.most_power

    def rows(temperature: Array) -> _Rows:
        power = _full(
            np.minimum(_strokes(evaluation, temperature).neutral.power, most), temperature
        )
        return power, power, np.zeros_like(temperature)

    with np.errstate(all="ignore"):
        return _tabulated(rows, lowest)


def _full(column: Column, temperature: Array) -> Array:
    return np.broadcast_to(np.asarray(column, dtype=np.float64), temperature.shape)


def _strokes(evaluation: Evaluation, temperature: Column) -> Strokes:
    """Strokes whose stages are decided at the temperature itself."""
    return Strokes(
        evaluation.machine,
        evaluation.setting,
        evaluation.levels,
        evaluation.plant,
        evaluation.ram,
        temperature,
    )


# --- heat balance -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Stretch:
    """A stretch of time [s] with one source of heat; None with the engine off."""

    begin: float
    end: float
    source: HeatTable | None


@dataclass(frozen=True)
class Course:
    """Columns over time, rows first; where the source changes, the time stands twice."""

    times: Array
    temperature: Array
    air: Array
    heat_in: Array
    power: Array
    pieces: Array


def follow(
    stretches: Sequence[Stretch],
    air: Callable[[Column], Column],
    start: Column,
    capacity: Column,
    conductance: Column,
) -> Course:
    """Temperature of a body that takes up heat and gives it to the air: C dT/dt = P - K (T - Ta).

    Runge-Kutta steps of the fourth order, so short that a step changes the imbalance by a third at
    most. ``start`` [K], ``capacity`` [J/K] and ``conductance`` [W/K] may be columns of bodies.

    Parameters
    ----------
    stretches
        In a row, each with its source.
    air
        Air temperature [K] at a time [s].
    """

    def rise(source: HeatTable | None, temperature: Column, outside: float) -> Column:
        enters = source.heat_at(temperature) if source else 0.0
        return (enters - conductance * (temperature - outside)) / capacity

    conductance_most = float(np.max(conductance))
    capacity_least = float(np.min(capacity))
    shape = np.broadcast_shapes(np.shape(start), np.shape(capacity), np.shape(conductance))
    now: Column = np.asarray(start) + np.zeros(shape)
    parts: list[tuple[Array, ...]] = []
    for stretch in stretches:
        source = stretch.source
        rate = (conductance_most + (source.steepest if source else 0.0)) / capacity_least
        step = min(LONGEST_STEP, _STEP_SHARE / rate) if rate > 0.0 else LONGEST_STEP
        count = max(1, math.ceil((stretch.end - stretch.begin) / step))
        step = (stretch.end - stretch.begin) / count
        halves = np.linspace(stretch.begin, stretch.end, 2 * count + 1)
        around = np.asarray(air(halves), dtype=np.float64)

        temperatures = [now]
        for first, middle, last in zip(
            around[:-1:2].tolist(), around[1::2].tolist(), around[2::2].tolist(), strict=True
        ):
            one = rise(source, now, first)
            two = rise(source, now + 0.5 * step * one, middle)
            three = rise(source, now + 0.5 * step * two, middle)
            four = rise(source, now + step * three, last)
            now = now + step / 6.0 * (one + 2.0 * (two + three) + four)
            temperatures.append(now)
        column = np.asarray(temperatures, dtype=np.float64)
        nothing = np.zeros_like(column)
        read = (
            (
                np.interp(column, source.temperature, values)
                for values in (source.heat, source.power, source.pieces)
            )
            if source
            else (nothing,) * 3
        )
        parts.append((halves[::2], column, around[::2], *read))
    return Course(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def integral(times: Array, rate: Array) -> float:
    """Integral of a rate over the rows of a course."""
    return float(np.sum(0.5 * np.diff(times) * (rate[1:] + rate[:-1])))


def first_at(times: Array, temperature: Array, bound: float) -> float | None:
    """Time [s] from the first row until the temperature first reaches a bound; None if never."""
    reached = np.flatnonzero(temperature >= bound)
    if reached.size == 0:
        return None
    after = int(reached[0])
    if after == 0:
        return 0.0
    before = after - 1
    share = (bound - temperature[before]) / (temperature[after] - temperature[before])
    return float(times[before] + share * (times[after] - times[before]) - times[0])


def one_evaluation(machine: Machine, setting: Setting) -> Evaluation:
    """Evaluation of one machine; ``ValueError`` for a column of machines."""
    if shape_of(machine) != ():
        raise ValueError("oil is followed for one machine at a time")
    return Evaluation(machine, setting)
