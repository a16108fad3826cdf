"""Sections of the page below the front: each a sentence, charts as plain data, and tables.

A section is one function of :data:`SECTIONS` that takes :class:`Sources` and gives a
:class:`Section`, or None where it has nothing to say. The page draws every chart by its ``type``
(``scripts/curves.js``, ``scripts/bars.js``), with its numbers, its units and files to save.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.errors import RamfrontError
from optimise.machine.day import DayProfile, warm_up
from optimise.machine.evaluation import Evaluation
from optimise.machine.sheet import sheet_of
from optimise.machine.transient import FINISHED, WOOD
from optimise.report import lineup_section, sweep_section
from optimise.report.charts import (
    Bars,
    Curve,
    Level,
    Mark,
    Piece,
    Said,
    Section,
    Strip,
    Strips,
    Table,
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
from optimise.report.fitting import advice as fit_advice
from optimise.report.fitting import fitting_of
from optimise.report.next_steps import advice as steps_advice
from optimise.report.next_steps import (
    bill,
    changed_parts,
    gains,
    in_company,
    outlay_of,
    ranked,
    seconds_per_money,
)
from optimise.report.sources import Sources
from optimise.report.sweep_section import round_money
from optimise.report.working_day import clock
from optimise.search.ranges import SMALL, Ranges
from optimise.study.model import MEASURED, Study
from optimise.study.space import fitted_machine

STRAIGHT = 0.003
"""Share of a chart's height by which a thinned curve may be off."""
SHOWN_STEPS = 8
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
    return found


# --- the plan -----------------------------------------------------------------------------------


def plan_index(step: int) -> int:
    """Number by which the page calls the machine after a step of the plan, 1 for the first."""
    return -1 - step


def _stairs(sources: Sources, least_force: float) -> tuple[Array, Array]:
    """Money spent and cycle times of the quickest machine of the front for the money."""
    found = sources.steps
    results, base = found.front.sheet.results, found.steps.base.results
    time, outlay = results["cycle.total_s"], results["cost.outlay"] - base["cost.outlay"][0]
    fit = np.flatnonzero(results["force_N"] >= least_force * (1.0 - 1e-9))
    fit = fit[np.lexsort((time[fit], outlay[fit]))]
    best = np.minimum.accumulate(time[fit]) if len(fit) else time[fit]
    first = np.concatenate([[True], best[1:] < best[:-1]]) if len(fit) else np.zeros(0, dtype=bool)
    kept: NDArray[np.intp] = fit[first]
    return outlay[kept], time[kept]


def _steps(sources: Sources) -> Section:
    found = sources.steps
    plan, base = found.plan, found.steps.base.results
    notes = sources.said(lambda study: steps_advice(dataclasses.replace(found, study=study)))
    tables = [table for table in (_plan_table(sources), _single_table(sources)) if table]
    title = "Which part next"
    if plan is None:
        return section_of(
            "steps", title, ["No machine of the lists is worth a plan."], [], [], tables
        )
    if len(plan.rows) < 2:
        return section_of("steps", title, ["There is no step to plan."], [], notes, tables)
    results = plan.sheet.results
    outlay, time = results["cost.outlay"] - base["cost.outlay"][0], results["cycle.total_s"]
    across, down = _stairs(sources, found.steps.least_force)
    near = across <= 1.6 * float(outlay[-1]) + 1.0
    lines = [
        series("order of the plan", outlay, time, 1, step=True, dots=True),
        series("quickest for the money", across[near], down[near], 0, step=True),
    ]
    count = len(plan.rows) - 1
    sentence: Said = [
        f"The plan in {count} step{'s' * (count > 1)}: each lowers the line by what it gains "
        "once its money is spent. Quick gains for little money come first, and every machine on "
        "the way keeps its limits and its force. Where the two lines touch, no other machine of "
        "the list is quicker for the money.",
    ]
    if bool(found.steps.base.feasible[0]) is False:
        sentence.append(" The machine it starts from crosses a hard limit.")
    chart = curve(
        "plan",
        "Cycle time against money spent",
        sentence,
        axis("Money spent", "money"),
        [panel("Cycle time", "time", lines, [{"name": "now", "value": number(
            base["cycle.total_s"][0])}])],
    )  # fmt: skip
    return section_of("steps", title, [], [chart], notes, tables)


def _plan_table(sources: Sources) -> Table | None:
    found = sources.steps
    plan = found.plan
    if plan is None or len(plan.rows) < 2:
        return None
    results, spent = plan.sheet.results, float(found.steps.base.results["cost.outlay"][0])
    rows: list[list[Piece]] = []
    for nth in range(1, len(plan.rows)):
        parts = changed_parts(found.space, plan.rows[nth - 1], plan.rows[nth])
        rows.append(
            [
                str(nth),
                "; ".join(parts.values()),
                *(
                    amount(kind, results[key][nth])
                    for key, kind in (("cycle.total_s", "time"), ("force_N", "force"))
                ),
                amount("money", results["cost.outlay"][nth] - spent),
                amount("share", plan.sheet.least_margin[nth]),
            ]
        )
    return {
        "title": "The plan, step by step",
        "head": [
            ["Step", ""],
            ["Put on", ""],
            ["Cycle then", "time"],
            ["Force", "force"],
            ["Spent so far", "money"],
            ["Least margin", "share"],
        ],
        "rows": rows,
        "designs": [plan_index(nth) for nth in range(1, len(plan.rows))],
    }


def _single_table(sources: Sources) -> Table | None:
    found = sources.steps
    steps = found.steps
    alone = ranked(found)[:SHOWN_STEPS]
    company = in_company(found)[: SHOWN_STEPS // 2]
    rows: list[list[Piece]] = []
    rates: list[float] = []
    for nth in (*alone, *company):
        good = bool(steps.good_alone[nth])
        sheet, lane = (steps.sheet, nth) if good else (steps.bundle_sheet, int(steps.bundle[nth]))
        own = changed_parts(found.space, steps.owned, steps.rows[nth])
        others = (
            {}
            if good
            else {
                category: name
                for category, name in changed_parts(
                    found.space, steps.owned, steps.bundles[lane]
                ).items()
                if category not in own
            }
        )
        gained = gains(steps.base, sheet, lane)
        outlay = outlay_of(steps, sheet, lane)
        row = steps.rows[nth] if good else steps.bundles[lane]
        paid = bill(found.space, steps.owned, row, found.study)
        rates.append(seconds_per_money(gained["piece_s"], outlay))
        rows.append(
            [
                next(iter(own.values())),
                "; ".join(others.values()) or "alone",
                amount("time", gained["piece_s"]),
                amount("time", gained["cycle_s"]),
                amount("money", outlay),
                f"{paid['hours']:.1f} h",
                amount("money", paid["resale"]),
            ]
        )
    if not rows:
        return None
    unit = round_money(rates)
    for row, rate in zip(rows, rates, strict=True):
        row.append(amount("time", unit * rate) if math.isfinite(rate) else "free")
    return {
        "title": "Single parts, most seconds for the money first; then those that need company",
        "head": [
            ["Part", ""],
            ["With", ""],
            ["Off a piece", "time"],
            ["Off the cycle", "time"],
            ["Outlay", "money"],
            ["Hours", "count"],
            ["Resale", "money"],
            [f"Off a piece for each {unit:,} {found.study.currency}", "time"],
        ],
        "rows": rows,
        "designs": [None] * len(rows),
    }


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
    ("steps", "Which part next", _steps),
    (sweep_section.KEY, sweep_section.TITLE, sweep_section.sweep_section),
    (lineup_section.KEY, lineup_section.TITLE, lineup_section.lineup_section),
    ("cycle", "One cycle, pressure and ram", _cycle),
    ("day", "Oil over the day", _day),
    ("sure", "How sure", _sure),
)
"""Sections in the order of the page."""
