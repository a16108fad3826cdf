"""Oil temperature over the working day: warm-up, cold start, and the cooling that is needed.

Oil and the steel around it are one body of one temperature. It takes up the heat of
:meth:`Evaluation.heat_of` at its own temperature and gives heat to the air by the conductance of
tank, cooler and hoses.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Column, shape_of
from optimise.machine.cold import ColdCircuit, at_warm_up_speed
from optimise.machine.evaluation import HOTTEST_OIL, Evaluation
from optimise.machine.parts import Machine, Tank
from optimise.machine.setting import Setting
from optimise.machine.strokes import Strokes
from optimise.physics import engine, heat, work

DAY = 86400.0
"""Length of a day [s]."""
TABLE_ERROR = 1e-3
"""Relative error of the heat table at which a cell of it is not divided any more."""
LONGEST_STEP = 60.0
"""Longest step of the heat balance [s]."""

_FIRST_CELL = 1.0
_MOST_DIVISIONS = 8
_STEP_SHARE = 0.3


# --- the day ------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class DayProfile:
    """Air over the day, hours worked, duty while working; clock times in s after midnight.

    Attributes
    ----------
    coolest_air, hottest_air
        Air temperature at ``sunrise`` and at ``hottest_time`` [K].
    sunrise, hottest_time
        Clock times, the first before the second.
    start, end
        Of the work. The end may lie any number of days later.
    pauses
        Start and end of each pause; parts outside the work do not count, pauses may overlap. The
        engine is off in a pause.
    duty
        Share of the time worked in which the machine splits; it stands in neutral for the rest.
    """

    coolest_air: float
    hottest_air: float
    sunrise: float = 6.0 * 3600.0
    hottest_time: float = 15.0 * 3600.0
    start: float
    end: float
    pauses: tuple[tuple[float, float], ...] = ()
    duty: float

    @classmethod
    def of(cls, setting: Setting) -> DayProfile:
        """Day of a setting."""
        day, place = setting.day, setting.surroundings
        return cls(
            coolest_air=place.air_temperature - day.morning_drop,
            hottest_air=place.air_temperature + day.afternoon_rise,
            sunrise=day.sunrise,
            hottest_time=day.hottest_time,
            start=day.start,
            end=day.end,
            pauses=tuple((pause.start, pause.start + pause.length) for pause in day.pauses),
            duty=place.duty,
        )

    def air(self, clock: Column) -> Column:
        """Air temperature [K]: a half cosine up from sunrise, a longer one down to the next.

        Form of common crop models (two cosines between minimum and maximum), from memory.
        """
        rise = self.hottest_time - self.sunrise
        since = np.mod(np.asarray(clock) - self.sunrise, DAY)
        share = np.where(since < rise, since / rise, 1.0 + (since - rise) / (DAY - rise))
        middle = 0.5 * (self.coolest_air + self.hottest_air)
        swing = 0.5 * (self.hottest_air - self.coolest_air)
        temperature: Column = middle - swing * np.cos(math.pi * share)
        return temperature

    def stretches(self) -> tuple[tuple[float, float, bool], ...]:
        """Start, end and whether it is worked, of each stretch of the day from start to end."""
        edges = sorted(
            {self.start, self.end}
            | {edge for pause in self.pauses for edge in pause if self.start < edge < self.end}
        )
        return tuple(
            (begin, end, not any(first <= begin < last for first, last in self.pauses))
            for begin, end in pairwise(edges)
        )


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


def _integral(times: Array, rate: Array) -> float:
    return float(np.sum(0.5 * np.diff(times) * (rate[1:] + rate[:-1])))


def _first_at(times: Array, temperature: Array, bound: float) -> float | None:
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


@dataclass(frozen=True)
class OilDay:
    """Oil over the working day, one machine.

    Attributes
    ----------
    times
        Clock time of each row [s after midnight]; the start of a pause and its end stand twice.
    temperature, air
        Of oil and air [K].
    heat_in, heat_out
        Into the oil, and from it to the air [W].
    stored
        Heat taken up since the start of work [J].
    peak_temperature
        Hottest oil of the day [K].
    limit_time, thin_oil_time
        Time of the day [s after the start of work] at which the allowed oil temperature, and the
        temperature of the pump's lowest viscosity, is first reached; None if never.
    fuel
        Fuel burnt [kg]; the consumption stated for the engine, also while it waits.
    pieces
        Pieces split.
    time_constant
        Of the warm-up at constant heat [s].
    table_error
        Largest relative error of the heat that was measured when it was tabulated.
    """

    times: Array
    temperature: Array
    air: Array
    heat_in: Array
    heat_out: Array
    stored: Array
    peak_temperature: float
    limit_time: float | None
    thin_oil_time: float | None
    fuel: float
    pieces: float
    time_constant: float
    table_error: float

    @property
    def peak_time(self) -> float:
        """Time of the hottest oil [s after the start of work]."""
        return float(self.times[int(np.argmax(self.temperature))] - self.times[0])

    @property
    def total_heat_in(self) -> float:
        """Heat into the oil over the day [J]."""
        return _integral(self.times, self.heat_in)

    @property
    def total_heat_out(self) -> float:
        """Heat from the oil to the air over the day [J]."""
        return _integral(self.times, self.heat_out)

    def time_until(self, bound: float) -> float | None:
        """Time [s] from the start of work until the oil first reaches ``bound`` [K], or None."""
        return _first_at(self.times, self.temperature, bound)


def _one(machine: Machine, setting: Setting) -> Evaluation:
    if shape_of(machine) != ():
        raise ValueError("a day is followed for one machine at a time")
    return Evaluation(machine, setting)


def _at_duty(setting: Setting, duty: float) -> Setting:
    return replace(setting, surroundings=replace(setting.surroundings, duty=duty))


def _day_stretches(profile: DayProfile, source: HeatTable) -> list[Stretch]:
    return [
        Stretch(begin, end, source if worked else None)
        for begin, end, worked in profile.stretches()
    ]


def warm_up(machine: Machine, setting: Setting, profile: DayProfile | None = None) -> OilDay:
    """Oil temperature of one machine over a working day, from oil as cold as the air.

    The engine is that of the setting's air temperature all day, and the pump's stages are those of
    the rating temperature, as for the steady oil temperature.

    Parameters
    ----------
    profile
        The day; the setting's own when not given.

    Raises
    ------
    ValueError
        The machine is a column of machines.
    """
    profile = profile or DayProfile.of(setting)
    evaluation = _one(machine, _at_duty(setting, profile.duty))
    store, conductance = evaluation.heat_store, float(evaluation.cooling_conductance)
    capacity = float(store.capacity)
    source = working_heat(evaluation, min(profile.coolest_air, HOTTEST_OIL - 1.0))
    start = float(profile.air(profile.start))
    course = follow(_day_stretches(profile, source), profile.air, start, capacity, conductance)
    fuel_rate = np.asarray(
        engine.fuel_mass_flow(course.power, evaluation.machine.engine.fuel_consumption)
    )
    return OilDay(
        times=course.times,
        temperature=course.temperature,
        air=course.air,
        heat_in=course.heat_in,
        heat_out=np.asarray(
            heat.conductance_rejection(conductance, course.temperature - course.air)
        ),
        stored=capacity * (course.temperature - start),
        peak_temperature=float(np.max(course.temperature)),
        limit_time=_first_at(course.times, course.temperature, float(evaluation.hottest_allowed)),
        thin_oil_time=_first_at(
            course.times, course.temperature, float(evaluation.thin_oil_temperature)
        ),
        fuel=_integral(course.times, fuel_rate),
        pieces=_integral(course.times, course.pieces),
        time_constant=float(store.time_constant(conductance)),
        table_error=source.error,
    )


def peak_temperatures(
    machine: Machine, tanks: Tank, setting: Setting, profile: DayProfile | None = None
) -> Array:
    """Hottest oil [K] of the day of one machine with each of a column of tanks.

    A tank takes part in what warms and in what cools, not in what heats.
    """
    profile = profile or DayProfile.of(setting)
    there = _at_duty(setting, profile.duty)
    source = working_heat(_one(machine, there), min(profile.coolest_air, HOTTEST_OIL - 1.0))
    varied = Evaluation(replace(machine, tank=tanks), there)
    course = follow(
        _day_stretches(profile, source),
        profile.air,
        float(profile.air(profile.start)),
        varied.heat_store.capacity,
        varied.cooling_conductance,
    )
    peak: Array = np.max(course.temperature, axis=0)
    return peak


# --- what would hold it -------------------------------------------------------------------------


@dataclass(frozen=True)
class CoolingNeed:
    """Conductance that keeps the oil at its limit [W/K]; infinite where the air is as hot.

    Attributes
    ----------
    limit
        Hottest oil [K] that is neither over its limit nor too thin for the pump.
    present
        Tank, cooler and hoses of the machine.
    steady
        Needed for the steady temperature in the air of the surroundings.
    day
        Needed for the hottest oil of the working day, which starts cold and may see hotter air.
    """

    limit: float
    present: float
    steady: float
    day: float

    @property
    def needed(self) -> float:
        """Needed for both [W/K]."""
        return max(self.steady, self.day)

    @property
    def missing(self) -> float:
        """What a cooler or more wall would have to add [W/K]; 0 where nothing is missing."""
        return max(self.needed - self.present, 0.0)

    def held_by(self, conductance: Column) -> NDArray[np.bool_]:
        """Which conductances [W/K], of tank, cooler and hoses together, are enough."""
        return np.asarray(np.asarray(conductance) >= self.needed)


def conductance_needed(
    machine: Machine, setting: Setting, profile: DayProfile | None = None
) -> CoolingNeed:
    """Cooling that keeps one machine's oil at the limit, steady and over the day.

    Heat and heat store are those of the machine as it is: a cooler's own drop and a larger tank's
    oil are not followed. ``Evaluation.cooling_margin`` of the changed machine counts the first.

    Raises
    ------
    ValueError
        The machine is a column of machines.
    """
    from scipy.optimize import brentq  # noqa: PLC0415

    profile = profile or DayProfile.of(setting)
    evaluation = _one(machine, _at_duty(setting, profile.duty))
    limit = float(evaluation.hottest_kept)
    air = setting.surroundings.air_temperature
    capacity = float(evaluation.heat_store.capacity)
    most = float(evaluation.conductance_for(limit, profile.hottest_air))
    day = most
    if math.isfinite(most):
        source = working_heat(evaluation, min(profile.coolest_air, HOTTEST_OIL - 1.0))
        stretches = _day_stretches(profile, source)
        start = float(profile.air(profile.start))

        def excess(conductance: float) -> float:
            course = follow(stretches, profile.air, start, capacity, conductance)
            return float(np.max(course.temperature)) - limit

        # The table may be off by its error, so the bracket reaches a little further.
        bracket = (0.0, most * (1.0 + 2.0 * TABLE_ERROR))
        day = 0.0 if excess(0.0) <= 0.0 else float(brentq(excess, *bracket, xtol=1e-4 * most))
    return CoolingNeed(
        limit=limit,
        present=float(evaluation.cooling_conductance),
        steady=float(evaluation.conductance_for(limit, air)),
        day=day,
    )


# --- cold start ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class ColdStart:
    """Cold start of one machine and its way to working temperature.

    It warms up in neutral at the warm-up speed for the stated time, then works. The air stays as
    cold as the oil was.

    Attributes
    ----------
    circuit
        The moment of the start.
    starts
        Whether the engine turns the pump in neutral and the pump draws oil.
    ready_time
        Time [s] until the pump's highest viscosity is kept; 0 where it is from the start, None
        where it is not within the hours of a working day, or the machine does not start.
    rated_time
        The same for the rating temperature.
    times, temperature
        Time after the start [s] and oil temperature [K].
    """

    circuit: ColdCircuit
    starts: bool
    ready_time: float | None
    rated_time: float | None
    times: Array
    temperature: Array


def cold_start(machine: Machine, setting: Setting) -> ColdStart:
    """Cold start of one machine.

    Raises
    ------
    ValueError
        The machine is a column of machines.
    """
    evaluation = _one(machine, setting)
    place, day = setting.surroundings, setting.day
    cold = place.cold_oil_temperature
    slow = Evaluation(at_warm_up_speed(machine, setting), setting, evaluation.levels)
    stretches = [
        Stretch(0.0, day.warm_up_time, neutral_heat(slow, cold)),
        Stretch(
            day.warm_up_time,
            day.warm_up_time + day.end - day.start,
            working_heat(evaluation, cold),
        ),
    ]
    course = follow(
        [stretch for stretch in stretches if stretch.end > stretch.begin],
        lambda times: np.full_like(times, cold),
        cold,
        float(evaluation.heat_store.capacity),
        float(evaluation.cooling_conductance),
    )
    times, temperature = course.times, course.temperature
    circuit = evaluation.cold
    starts = float(circuit.neutral_load) <= 1.0 and float(evaluation.cold_inlet_pressure) > 0.0

    def warm_at(bound: float) -> float | None:
        return _first_at(times, temperature, bound) if starts else None

    return ColdStart(
        circuit=circuit,
        starts=starts,
        ready_time=warm_at(float(evaluation.thick_oil_temperature)),
        rated_time=warm_at(place.rated_oil_temperature),
        times=times,
        temperature=temperature,
    )
