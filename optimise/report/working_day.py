"""The working day of one machine, for people and for programs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.columns import Array
from optimise.machine.cold_start import ColdStart, cold_start
from optimise.machine.day import CoolingNeed, DayProfile, OilDay, conductance_needed, warm_up
from optimise.machine.evaluation import Evaluation
from optimise.machine.results import reported
from optimise.report.answers import plain, provenance
from optimise.report.text import CAUTIONS, money
from optimise.search.cooling import CoolingChoices, cooling_choices
from optimise.study.model import Study
from optimise.study.space import fitted_machine
from optimise.units import show

HOUR = 3600.0
SHOWN_CHOICES = 8


@dataclass(frozen=True)
class WorkingDay:
    """All that is said of the day of the machine fitted."""

    study: Study
    evaluation: Evaluation
    profile: DayProfile
    day: OilDay
    need: CoolingNeed
    choices: CoolingChoices
    cold: ColdStart


@dataclass(frozen=True)
class HourRows:
    """Start, each full hour and end of the day: clock time [s], air and oil [K], heat [W]."""

    times: Array
    air: Array
    oil: Array
    viscosity: Array
    heat_in: Array
    heat_out: Array
    works: NDArray[np.bool_]


def working_day(study: Study) -> WorkingDay:
    """Follow the day of the machine asked about."""
    machine, setting = fitted_machine(study), study.setting
    with np.errstate(all="ignore"):
        return WorkingDay(
            study=study,
            evaluation=Evaluation(machine, setting),
            profile=DayProfile.of(setting),
            day=warm_up(machine, setting),
            need=conductance_needed(machine, setting),
            choices=cooling_choices(study, machine),
            cold=cold_start(machine, setting),
        )


def hour_rows(found: WorkingDay) -> HourRows:
    """Rows of the table; heat is that of the moment after, where it jumps."""
    day, profile = found.day, found.profile
    full = HOUR * np.arange(math.floor(profile.start / HOUR) + 1, math.ceil(profile.end / HOUR))
    times = np.array([profile.start, *full, profile.end])
    before = np.clip(np.searchsorted(day.times, times, side="right") - 1, 0, len(day.times) - 2)
    share = (times - day.times[before]) / (day.times[before + 1] - day.times[before])

    def between(column: Array) -> Array:
        return column[before] + share * (column[before + 1] - column[before])

    oil = between(day.temperature)
    stretches = profile.stretches()
    works = [
        next((worked for begin, end, worked in stretches if begin <= time < end), stretches[-1][2])
        for time in times
    ]
    return HourRows(
        times=times,
        air=between(day.air),
        oil=oil,
        viscosity=np.asarray(found.evaluation.viscosity_at(oil)),
        heat_in=between(day.heat_in),
        heat_out=between(day.heat_out),
        works=np.array(works),
    )


# --- for programs -------------------------------------------------------------------------------


def _numbers(column: Any, unit: str = "") -> list[float | None]:
    return [plain(value) for value in np.asarray(reported(column, unit))]


def _degrees(kelvin: Any) -> float | None:
    return plain(reported(kelvin, "temperature"))


def day_answer(found: WorkingDay) -> dict[str, Any]:
    """Answer of ``day``: the working day of one machine."""
    study = found.study
    return {
        **provenance(study),
        "parts": dict(study.fitted),
        "day": _day_entry(found),
        "hours": _hours_entry(hour_rows(found)),
        "course": {
            "time_s": _numbers(found.day.times),
            "air_degC": _numbers(found.day.air, "temperature"),
            "oil_degC": _numbers(found.day.temperature, "temperature"),
            "heat_in_W": _numbers(found.day.heat_in),
            "heat_out_W": _numbers(found.day.heat_out),
        },
        "cooling": _cooling_entry(found),
        "cold": _cold_entry(found),
    }


def _day_entry(found: WorkingDay) -> dict[str, Any]:
    day, profile, evaluation = found.day, found.profile, found.evaluation
    return {
        "start_s": profile.start,
        "end_s": profile.end,
        "pauses": [{"start_s": start, "end_s": end} for start, end in profile.pauses],
        "duty": profile.duty,
        "coolest_air_degC": _degrees(profile.coolest_air),
        "hottest_air_degC": _degrees(profile.hottest_air),
        "time_constant_s": plain(day.time_constant),
        "steady_air_degC": _degrees(found.study.setting.surroundings.air_temperature),
        "steady_degC": _degrees(evaluation.steady_temperature),
        "peak_degC": _degrees(day.peak_temperature),
        "peak_after_s": plain(day.peak_time),
        "limit_degC": _degrees(evaluation.hottest_allowed),
        "limit_after_s": day.limit_time,
        "thin_oil_degC": _degrees(evaluation.thin_oil_temperature),
        "thin_oil_after_s": day.thin_oil_time,
        "pieces": plain(day.pieces),
        "fuel_kg": plain(day.fuel),
        "heat_in_J": plain(day.total_heat_in),
        "heat_out_J": plain(day.total_heat_out),
        "stored_J": plain(day.stored[-1]),
    }


def _hours_entry(rows: HourRows) -> dict[str, Any]:
    return {
        "time_s": _numbers(rows.times),
        "works": [bool(worked) for worked in rows.works],
        "air_degC": _numbers(rows.air, "temperature"),
        "oil_degC": _numbers(rows.oil, "temperature"),
        "viscosity_m2_s": _numbers(rows.viscosity),
        "heat_in_W": _numbers(rows.heat_in),
        "heat_out_W": _numbers(rows.heat_out),
    }


def _cooling_entry(found: WorkingDay) -> dict[str, Any]:
    need, choices = found.need, found.choices
    return {
        "limit_degC": _degrees(need.limit),
        "present_W_K": plain(need.present),
        "needed_steady_W_K": plain(need.steady),
        "needed_day_W_K": plain(need.day),
        "missing_W_K": plain(need.missing),
        "choices": [
            {
                "tank": choices.tanks[nth],
                "cooler": choices.coolers[nth],
                "conductance_W_K": plain(choices.conductance[nth]),
                "peak_degC": _degrees(choices.peak[nth]),
                "steady_degC": _degrees(choices.steady[nth]),
                "outlay": plain(choices.outlay[nth]),
                "enough": bool(choices.enough[nth]),
                "feasible": bool(choices.feasible[nth]),
                "binding": str(choices.binding[nth]),
            }
            for nth in range(len(choices))
        ],
    }


def _cold_entry(found: WorkingDay) -> dict[str, Any]:
    cold, evaluation, setting = found.cold, found.evaluation, found.study.setting
    circuit, place = cold.circuit, setting.surroundings
    return {
        "starts": cold.starts,
        "oil_degC": _degrees(place.cold_oil_temperature),
        "engine_rpm": plain(reported(place.cold_engine_speed, "rotation")),
        "warm_up_s": setting.day.warm_up_time,
        "viscosity_m2_s": plain(circuit.viscosity),
        "inlet_Pa": plain(evaluation.cold_inlet_pressure),
        "neutral_Pa": plain(circuit.neutral_pressure),
        "neutral_relief_m3_s": plain(circuit.neutral_relief_flow),
        "neutral_load": plain(circuit.neutral_load),
        "stroke_load": plain(circuit.stroke_load),
        "extend_Pa": plain(circuit.extend_pressure),
        "retract_Pa": plain(circuit.retract_pressure),
        "extend_relief_m3_s": plain(circuit.extend_relief_flow),
        "extend_s": plain(circuit.extend_time),
        "retract_s": plain(circuit.retract_time),
        "heat_W": plain(circuit.heat),
        "ready_degC": _degrees(evaluation.thick_oil_temperature),
        "ready_after_s": cold.ready_time,
        "rated_degC": _degrees(place.rated_oil_temperature),
        "rated_after_s": cold.rated_time,
        "course": {
            "time_s": _numbers(cold.times),
            "oil_degC": _numbers(cold.temperature, "temperature"),
        },
    }


# --- for people ---------------------------------------------------------------------------------


def clock(seconds: float) -> str:
    """Time of the day, such as 07:30."""
    minutes = round(seconds / 60.0)
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def duration(seconds: float) -> str:
    """A length of time as a person says it, such as 1 h 15 min."""
    minutes = round(seconds / 60.0)
    hours, rest = divmod(minutes, 60)
    return " ".join([f"{hours} h"] * (hours > 0) + [f"{rest} min"] * (rest > 0 or hours == 0))


def kilowatt_hours(joule: float) -> str:
    """Energy [J] in the unit of the meter, in either system."""
    return f"{joule / 3.6e6:.2f} kWh"


def _after(seconds: float | None) -> str:
    if seconds is None:
        return "never"
    return "from the start" if seconds == 0.0 else f"after {duration(seconds)}"


def print_day(console: Console, found: WorkingDay) -> None:
    """The day in a table an hour, its figures, what would hold it, and the cold start."""
    study = found.study
    console.print(Text(study.title or study.name, style="bold"))
    _print_hours(console, found)
    _print_figures(console, found)
    _print_cooling(console, found)
    _print_cold(console, found)
    console.print(Text(CAUTIONS, style="italic"))


def _print_hours(console: Console, found: WorkingDay) -> None:
    profile, system = found.profile, found.study.system
    pauses = sum(end - begin for begin, end, worked in profile.stretches() if not worked)
    console.print(
        f"At work from {clock(profile.start)} to {clock(profile.end)}, "
        f"{duration(pauses)} of pauses; it splits {show(profile.duty, 'share', system)} of the "
        "time worked and stands in neutral for the rest. The oil starts as cold as the air."
    )
    table = Table(
        "time", "air", "oil", "viscosity", "heat in", "heat out", "", box=None, pad_edge=False
    )
    rows = hour_rows(found)
    for nth, time in enumerate(rows.times):
        table.add_row(
            clock(time),
            show(float(rows.air[nth]), "temperature", system, 3),
            show(float(rows.oil[nth]), "temperature", system, 3),
            show(float(rows.viscosity[nth]), "viscosity", system, 3),
            show(float(rows.heat_in[nth]), "power", system, 3),
            show(float(rows.heat_out[nth]), "power", system, 3),
            "" if rows.works[nth] else "pause",
        )
    console.print(table)
    console.print()


def _print_figures(console: Console, found: WorkingDay) -> None:
    day, profile, evaluation = found.day, found.profile, found.evaluation
    system = found.study.system

    def at(kelvin: Any) -> str:
        return show(float(kelvin), "temperature", system, 3)

    air = found.study.setting.surroundings.air_temperature
    rows = [
        ("Hottest oil", f"{at(day.peak_temperature)} at {clock(profile.start + day.peak_time)}"),
        (f"Oil at its limit of {at(evaluation.hottest_allowed)}", _after(day.limit_time)),
        (
            f"Oil too thin for the pump, {at(evaluation.thin_oil_temperature)}",
            _after(day.thin_oil_time),
        ),
        (f"Steady oil in constant air of {at(air)}", at(evaluation.steady_temperature)),
        ("Time constant of the warm-up", duration(day.time_constant)),
        ("Pieces", f"{day.pieces:,.0f}"),
        ("Fuel", show(day.fuel, "mass", system, 3)),
        ("Heat into the oil", kilowatt_hours(day.total_heat_in)),
        ("Heat to the air", kilowatt_hours(day.total_heat_out)),
        ("Heat left in oil and steel", kilowatt_hours(float(day.stored[-1]))),
    ]
    _print_rows(console, "over the day", rows)


def _print_rows(console: Console, title: str, rows: list[tuple[str, str]]) -> None:
    table = Table(title, "", box=None, pad_edge=False)
    for words, value in rows:
        table.add_row(Text(words), Text(value))
    console.print(table)
    console.print()


def _print_cooling(console: Console, found: WorkingDay) -> None:
    need, choices, study = found.need, found.choices, found.study
    system = study.system

    def rate(conductance: float) -> str:
        if not math.isfinite(conductance):
            return "more than any: the air is as hot as the oil may be"
        return show(conductance, "conductance", system, 3)

    limit = show(need.limit, "temperature", system, 3)
    _print_rows(
        console,
        f"cooling that keeps the oil at {limit}",
        [
            ("On the machine", rate(need.present)),
            ("Needed over the day", rate(need.day)),
            ("Needed when steady", rate(need.steady)),
            ("Missing", rate(need.missing)),
        ],
    )
    held = np.flatnonzero(choices.enough)
    if len(held) == 0:
        console.print(
            "No listed tank and cooler are enough: split less of the hour, or cut losses."
        )
        console.print()
        return
    sound = held[choices.feasible[held]]
    console.print(
        f"{len(held)} of {len(choices)} pairs of a listed tank and cooler are enough; "
        f"{len(sound)} of them keep every other hard limit too. Cheapest first:"
    )
    table = Table(
        "tank", "cooler", "cooling", "hottest oil", "outlay", "", box=None, pad_edge=False
    )
    for nth in (sound if len(sound) else held)[:SHOWN_CHOICES]:
        crossed = "" if len(sound) else f"crosses {choices.binding[nth].replace('_', ' ')}"
        table.add_row(
            Text(choices.tanks[nth]),
            Text(choices.coolers[nth]),
            rate(float(choices.conductance[nth])),
            show(float(choices.peak[nth]), "temperature", system, 3),
            money(study, float(choices.outlay[nth])),
            crossed,
        )
    console.print(table)
    console.print()


def _print_cold(console: Console, found: WorkingDay) -> None:
    cold, evaluation, setting = found.cold, found.evaluation, found.study.setting
    circuit, place, system = cold.circuit, setting.surroundings, found.study.system

    def shown(value: Any, kind: str) -> str:
        return show(float(value), kind, system, 3)

    def stroke(seconds: Any) -> str:
        if float(circuit.stroke_load) > 1.0:
            return "the engine stalls"
        return shown(seconds, "time") if np.isfinite(seconds) else "the ram stands"

    def load(share: Any) -> str:
        return shown(share, "share") if share <= 1.0 else "more than the engine has"

    inlet = evaluation.cold_inlet_pressure

    thin = shown(evaluation.thick_oil_temperature, "temperature")
    rated = shown(place.rated_oil_temperature, "temperature")
    oil = shown(place.cold_oil_temperature, "temperature")
    speed = shown(place.cold_engine_speed, "rotation")
    _print_rows(
        console,
        f"cold start at {oil} and {speed}",
        [
            ("Viscosity", shown(circuit.viscosity, "viscosity")),
            (
                "Pump inlet, absolute",
                shown(inlet, "pressure") if inlet > 0.0 else "nothing: the pump runs dry",
            ),
            ("Pump pressure in neutral", shown(circuit.neutral_pressure, "pressure")),
            ("Engine load in neutral", load(circuit.neutral_load)),
            ("Engine load of an idle stroke", load(circuit.stroke_load)),
            ("Out", stroke(circuit.extend_time)),
            ("Back", stroke(circuit.retract_time)),
            (
                f"Thin enough for the pump ({thin})",
                _after(cold.ready_time),
            ),
            (
                f"Warm as the results are stated ({rated})",
                _after(cold.rated_time),
            ),
        ],
    )
    if not cold.starts:
        console.print(
            "It does not start like this: fill a thinner grade, warm the oil, or start warmer."
        )
        return
    console.print(
        f"It warms up for {duration(setting.day.warm_up_time)} in neutral at that speed, then "
        "works; the air stays as cold as the oil was."
    )
