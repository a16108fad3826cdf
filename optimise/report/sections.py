"""Sections of the page below the front: each a sentence, charts as plain data, and tables.

A section is one function of :data:`SECTIONS` that takes :class:`Sources` and gives a
:class:`Section`, or None where it has nothing to say. The page draws every chart by its ``type``
(``scripts/curves.js``, ``scripts/bars.js``), with its numbers, its units and files to save.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from optimise.errors import RamfrontError
from optimise.machine.day import DayProfile, warm_up
from optimise.machine.evaluation import Evaluation
from optimise.machine.sheet import sheet_of
from optimise.machine.transient import FINISHED, WOOD
from optimise.report import lineup_section, steps_section, sweep_section
from optimise.report.charts import (
    Bars,
    Curve,
    Level,
    Mark,
    Said,
    Section,
    Strip,
    Strips,
    amount,
    axis,
    curve,
    number,
    numbers,
    panel,
    section_of,
    series,
)
from optimise.report.cycle_words import (
    ENERGY_WORDS,
    SWITCH_WORDS,
    Ran,
    cycle_sentences,
    energy_shares,
    kept_points,
)
from optimise.report.doubt import DRIVER_WORDS, range_sentences
from optimise.report.figures import figures_grouped
from optimise.report.fitting import advice as fit_advice
from optimise.report.fitting import fitting_of
from optimise.report.sources import SYSTEMS, Sources
from optimise.report.working_day import clock
from optimise.search.ranges import SMALL, Ranges
from optimise.study.model import MEASURED, Study
from optimise.study.space import fitted_machine
from optimise.units import KINDS, spelled, unit_of

STRAIGHT = 0.003
"""Share of a chart's height by which a thinned curve may be off."""
COVER = 1.6448536269514722
"""Standard deviations to each end of a 90 % interval of a normal law."""


def sections_of(sources: Sources) -> list[Section]:
    """All sections that have something to say; one that fails says why."""
    found = []
    for key, title, build in SECTIONS:
        try:
            with np.errstate(all="ignore"):
                section = build(sources)
        except (RamfrontError, ArithmeticError) as error:
            section = section_of(key, title, [f"This could not be worked out: {error}"])
        if section is not None:
            found.append(section)
    study = sources.study
    units = [
        unit for system in SYSTEMS for kind in KINDS if (unit := spelled(unit_of(kind, system)))
    ]
    names = {name for prices in study.lists.values() for name in prices.names}

    def grouped(part: Any) -> Any:
        """The same with thousands grouped in what is said in each unit system."""
        if isinstance(part, list):
            return [grouped(one) for one in part]
        if not isinstance(part, dict):
            return part
        if part.keys() == set(SYSTEMS):
            return {key: figures_grouped(words, units, names) for key, words in part.items()}
        return {key: grouped(one) for key, one in part.items()}

    return [grouped(section) for section in found]


# --- one cycle ----------------------------------------------------------------------------------


def _cycle(sources: Sources) -> Section:
    found = sources.cycles
    sentence: Said = [
        "One cycle followed in time by a simulation with pressures, ram, oil and engine moving by "
        "their own inertia. Flat lines are strokes at rest with themselves; steps are the pump "
        "changing its stage or a log giving way. The fast model behind all other figures is held "
        "against this.",
    ]
    charts: list[Any] = []
    notes: list[Said] = []
    for ran, words in ((found.idle, "Without a log"), (found.loaded, "Through the mean piece")):
        charts += [_traces(ran, words), _energy(ran, words)]

        def told(study: Study, ran: Ran = ran, words: str = words) -> list[str]:
            return [f"{words}: " + " ".join(cycle_sentences(study, ran))]

        notes += sources.said(told)
    return section_of("cycle", "One cycle, pressure and ram", sentence, charts, notes)


TRACE_WORDS = {
    "idle": "The ram runs out and back at steady speeds. What the pump shows over the end that it "
    "fills is lost in hoses, fittings and valve on the way there.",
    "loaded": "The line of the ram bends where the log begins: the harder it pushes back, the "
    "higher the pressure, and over the shift pressure the small section pumps alone.",
}


def _traces(ran: Ran, words: str) -> Curve:
    trace = ran.trace
    high = max(trace.highest_pump_pressure, 1.0)
    columns = [
        trace.times, trace.position, trace.pump_pressure, trace.cap_pressure, trace.rod_pressure,
    ]  # fmt: skip
    scale = [max(float(trace.position.max()), 1e-3), high, high, high]
    kept = kept_points(columns, scale, STRAIGHT)
    times, position, pump, cap, rod = (column[kept] for column in columns)
    marks: list[Mark] = []

    def mark(words: str, value: float) -> None:
        sign = str(len(marks) + 1)
        marks.append({"sign": sign, "before": f"{words}, ", "value": number(value), "after": ""})

    for what in dict.fromkeys(switch.what for switch in trace.switches):
        first = next(switch for switch in trace.switches if switch.what == what)
        often = trace.count(what)
        more = f", first of {often}" if often > 1 and what != WOOD else ""
        mark(SWITCH_WORDS.get(what, what) + more, first.time)
    if trace.outcome != FINISHED:
        mark(trace.outcome, float(trace.times[-1]))
    return curve(
        f"cycle-{ran.name}",
        words,
        [TRACE_WORDS[ran.name]],
        axis("Time from the lever", "time"),
        [
            panel("Ram", "length", [series("way out of the ram", times, position, 0)]),
            panel(
                "Pressure",
                "pressure",
                [
                    series("pump", times, pump, 0),
                    series("cap end", times, cap, 1),
                    series("rod end", times, rod, 2),
                ],
            ),
        ],
        marks=marks,
    )


def _energy(ran: Ran, words: str) -> Bars:
    shares = energy_shares(ran.trace.energy)
    told = sorted((name for name in shares if shares[name] >= 0.002), key=lambda n: -shares[n])
    return {
        "type": "bars",
        "key": f"energy-{ran.name}",
        "title": f"Where the engine's work goes: {words[0].lower()}{words[1:]}",
        "sentence": [
            "Shares of the engine's work over the whole cycle. All that does not go into the wood "
            "heats the oil, the parts or the air.",
        ],
        "kind": "share",
        "bars": [{"name": ENERGY_WORDS[name], "value": number(shares[name])} for name in told],
    }


# --- the day ------------------------------------------------------------------------------------


def _day(sources: Sources) -> Section:
    machine, setting = fitted_machine(sources.study), sources.study.setting
    evaluation, profile = Evaluation(machine, setting), DayProfile.of(setting)
    day = warm_up(machine, setting)
    limit = float(evaluation.hottest_allowed)
    thin = float(evaluation.thin_oil_temperature)
    kept = kept_points(
        [day.times, day.temperature, day.air, day.heat_in, day.heat_out],
        [50.0, 50.0, max(float(day.heat_in.max()), 1.0), max(float(day.heat_in.max()), 1.0)],
        STRAIGHT,
    )
    times = day.times[kept]
    peak = clock(profile.start + day.peak_time)
    sentence: Said = [
        "A hot day from start to end: the oil starts as cold as the air, is hottest at ",
        f"{peak} with ",
        amount("temperature", day.peak_temperature),
        ", and cools while the engine is off. ",
    ]
    reached = [seconds for seconds in (day.limit_time, day.thin_oil_time) if seconds is not None]
    sentence.append(
        f"From {clock(profile.start + min(reached))} on it is too hot for its limit or too thin "
        "for the pump."
        if reached
        else "It stays under its limit all day."
    )
    levels: list[Level] = [{"name": "limit of the oil", "value": number(limit)}]
    if abs(thin - limit) > 0.5:
        levels.append({"name": "too thin for the pump", "value": number(thin)})
    chart = curve(
        "day",
        "Oil over the working day",
        sentence,
        axis("Time of the day", "time", clock=True),
        [
            panel(
                "Temperature",
                "temperature",
                [
                    series("oil", times, day.temperature[kept], 1),
                    series("air", times, day.air[kept], 2),
                ],
                levels,
            ),
            panel(
                "Heat",
                "power",
                [
                    series("into the oil", times, day.heat_in[kept], 0),
                    series("to the air", times, day.heat_out[kept], 2),
                ],
            ),
        ],
        bands=[
            {"start": begin, "end": end, "name": "engine off"}
            for begin, end, worked in profile.stretches()
            if not worked
        ],
    )
    return section_of("day", "Oil over the day", [], [chart])


# --- how sure -----------------------------------------------------------------------------------


def _sure(sources: Sources) -> Section:
    study, knowledge, ranges = sources.study, sources.knowledge, sources.ranges
    machine = fitted_machine(study)
    sheet = sheet_of(machine, study.setting)
    charts: list[Any] = []
    fit = knowledge.fit
    if fit is not None:
        charts.append(_strips(fit.compared))
    if ranges is not None:
        charts += [_drivers(ranges)] if ranges.drivers else []
    notes = sources.said(lambda study: range_sentences(study, sheet, ranges))
    if study.fitted == study.owned and not (study.overrides or study.corrected):
        found = fitting_of(study, study, machine, fit)
        notes += sources.said(lambda study: fit_advice(study, found))
    words = (
        "What the figures of this page rest on, and how far the real machine may be from them."
        if fit is not None
        else "No reading to hold the model against: ranges rest on what the trade knows."
    )
    return section_of("sure", "How sure", [words], charts, notes)


def _strips(compared: Sequence[Any]) -> Strips:
    rows: list[Strip] = []
    for one in compared:
        reading = one.measurement
        reach = COVER * float(reading.mean_uncertainty)
        rows.append(
            {
                "name": reading.kind.replace("_", " "),
                "kind": MEASURED[reading.kind],
                "reading": numbers([reading.value - reach, reading.value, reading.value + reach]),
                "study": number(one.before),
                "model": numbers([one.low, one.fitted, one.high]),
            }
        )
    return {
        "type": "strips",
        "key": "measured",
        "title": "Predicted against measured, 9 times in 10",
        "sentence": [
            "Each strip is one reading on the machine owned, on a scale of its own. The model "
            "agrees where its bar overlaps that of the reading.",
        ],
        "strips": rows,
    }


def _drivers(ranges: Ranges) -> Bars:
    large = [driver for driver in ranges.drivers if driver.share >= 0.2 * SMALL]
    return {
        "type": "bars",
        "key": "drivers",
        "title": "What the range of the cycle time comes from",
        "sentence": [
            "Shares of the variance of the cycle time. Measure or hold tight what stands at the "
            "top to know it better; the rest is not worth the time.",
        ],
        "kind": "share",
        "bars": [
            {
                "name": DRIVER_WORDS.get(driver.name, f"tolerance of {driver.name}"),
                "value": number(driver.share),
            }
            for driver in large
        ],
    }


SECTIONS: tuple[tuple[str, str, Callable[[Sources], Section | None]], ...] = (
    (steps_section.KEY, steps_section.TITLE, steps_section.steps_section),
    (sweep_section.KEY, sweep_section.TITLE, sweep_section.sweep_section),
    (lineup_section.KEY, lineup_section.TITLE, lineup_section.lineup_section),
    ("cycle", "One cycle, pressure and ram", _cycle),
    ("day", "Oil over the day", _day),
    ("sure", "How sure", _sure),
)
"""Sections in the order of the page."""
