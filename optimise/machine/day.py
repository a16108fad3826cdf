"""Oil over the working day: its course, when it reaches a limit, and the cooling that holds it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from optimise.columns import Array, Column
from optimise.machine.evaluation import HOTTEST_OIL, Evaluation
from optimise.machine.heat_course import (
    TABLE_ERROR,
    HeatTable,
    Stretch,
    first_at,
    follow,
    integral,
    one_evaluation,
    working_heat,
)
from optimise.machine.parts import Machine, Tank
from optimise.machine.setting import Setting
from optimise.physics import engine, heat

DAY = 86400.0
"""Length of a day [s]."""


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


# --- the oil over it ----------------------------------------------------------------------------


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
        return integral(self.times, self.heat_in)

    @property
    def total_heat_out(self) -> float:
        """Heat from the oil to the air over the day [J]."""
        return integral(self.times, self.heat_out)


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
    evaluation = one_evaluation(machine, _at_duty(setting, profile.duty))
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
        limit_time=first_at(course.times, course.temperature, float(evaluation.hottest_allowed)),
        thin_oil_time=first_at(
            course.times, course.temperature, float(evaluation.thin_oil_temperature)
        ),
        fuel=integral(course.times, fuel_rate),
        pieces=integral(course.times, course.pieces),
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
    source = working_heat(
        one_evaluation(machine, there), min(profile.coolest_air, HOTTEST_OIL - 1.0)
    )
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
    evaluation = one_evaluation(machine, _at_duty(setting, profile.duty))
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
