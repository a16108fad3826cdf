"""Sections of the page below the front: each a sentence, charts as plain data, and tables.

A section is one function of :data:`SECTIONS` that takes :class:`Sources` and gives a
:class:`Section`, or None where it has nothing to say. The page draws every chart by its ``type``
(``scripts/curves.js``, ``scripts/bars.js``), with its numbers, its units and files to save.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Any, TypedDict

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.errors import RamfrontError
from optimise.machine.day import DayProfile, warm_up
from optimise.machine.evaluation import Evaluation
from optimise.machine.sheet import sheet_of
from optimise.machine.transient import FINISHED, WOOD
from optimise.report.cycle_words import (
    ENERGY_WORDS,
    SWITCH_WORDS,
    Cycles,
    Ran,
    cycle_sentences,
    cycles_of,
    energy_shares,
    kept_points,
)
from optimise.report.doubt import DRIVER_WORDS, range_sentences
from optimise.report.fitting import advice as fit_advice
from optimise.report.fitting import fitting_of
from optimise.report.next_steps import (
    NextSteps,
    Wish,
    changed_parts,
    gains,
    in_company,
    next_steps,
    outlay_of,
    ranked,
    seconds_per_money,
)
from optimise.report.next_steps import advice as steps_advice
from optimise.report.working_day import clock
from optimise.search.front import FrontAnswer
from optimise.search.knowledge import Knowledge, knowledge_of
from optimise.search.ranges import SMALL, Ranges, ranges_of
from optimise.study.model import MEASURED, Study
from optimise.study.space import Space, fitted_machine
from optimise.units import System

SYSTEMS: tuple[System, System] = ("us", "metric")
DIGITS = 6
"""Significant digits of a figure in a chart."""
STRAIGHT = 0.003
"""Share of a chart's height by which a thinned curve may be off."""
SHOWN_STEPS = 8
COVER = 1.6448536269514722
"""Standard deviations to each end of a 90 % interval of a normal law."""

Figure = float | None
Piece = str | dict[str, str] | list[str | Figure]
"""Words; the same in each unit system; or a figure after its kind of unit."""
Said = list[Piece]


class Axis(TypedDict):
    """What an axis shows; ``clock`` writes seconds as the time of the day."""

    title: str
    kind: str
    clock: bool


class Series(TypedDict):
    """One line. ``style`` picks colour and dashes, ``step`` holds a value to the next place."""

    name: str
    style: int
    step: bool
    dots: bool
    x: list[Figure]
    y: list[Figure]


class Level(TypedDict):
    """A value that a panel marks across its width."""

    name: str
    value: Figure


class Panel(TypedDict):
    """One drawing of a chart; all panels of a chart share the axis across."""

    title: str
    kind: str
    series: list[Series]
    levels: list[Level]


class Band(TypedDict):
    """A stretch of the axis across that is set apart."""

    start: float
    end: float
    name: str


class Curve(TypedDict):
    """A chart of lines."""

    type: str
    key: str
    title: str
    sentence: Said
    across: Axis
    panels: list[Panel]
    bands: list[Band]
    marks: list[Level]


class Bar(TypedDict):
    """A length with its words."""

    name: str
    value: Figure


class Bars(TypedDict):
    """A chart of lengths from a common start."""

    type: str
    key: str
    title: str
    sentence: Said
    kind: str
    bars: list[Bar]


class Strip(TypedDict):
    """One reading beside the model, on a scale of its own: low, middle, high."""

    name: str
    kind: str
    reading: list[Figure]
    study: Figure
    model: list[Figure]


class Strips(TypedDict):
    """Readings beside the model."""

    type: str
    key: str
    title: str
    sentence: Said
    strips: list[Strip]


class Table(TypedDict):
    """Rows of cells; ``designs`` names the machine of a row (see ``Machine`` of the page)."""

    title: str
    head: list[list[str]]
    rows: list[list[Piece]]
    designs: list[int | None]


class Section(TypedDict):
    """One section of the page. ``charts`` holds curves, bars and strips."""

    key: str
    title: str
    sentence: Said
    charts: list[Any]
    notes: list[Said]
    tables: list[Table]


class Sources:
    """What sections are made of, each worked out once and when first asked for.

    ``knowledge`` is what ranges rest on; that of the study where it is not given.
    """

    def __init__(
        self,
        study: Study,
        space: Space,
        answer: FrontAnswer,
        knowledge: Knowledge | None = None,
    ) -> None:
        self.study, self.space, self.answer = study, space, answer
        self.knowledge = knowledge or knowledge_of(study)

    @cached_property
    def steps(self) -> NextSteps:
        """Steps and plan from the machine asked about, the parts put on for the call settled.

        The front at hand is that of the same machines wherever every part fitted may be searched.
        """
        settled = {
            category: (name,)
            for category, name in self.study.fitted.items()
            if name != self.study.owned[category]
        }
        study = dataclasses.replace(self.study, allowed={**self.study.allowed, **settled})
        same = all(study.fitted[category] in study.allowed[category] for category in study.lists)
        return next_steps(study, Wish(), self.answer if same else None)

    @cached_property
    def cycles(self) -> Cycles:
        """The machine asked about over a cycle."""
        return cycles_of(self.study)

    @cached_property
    def ranges(self) -> Ranges | None:
        """Ranges of the machine asked about."""
        return ranges_of(fitted_machine(self.study), self.study.setting, self.knowledge)

    def said(self, words: Callable[[Study], Sequence[str]]) -> list[Said]:
        """Sentences in both unit systems."""
        each = {system: words(dataclasses.replace(self.study, system=system)) for system in SYSTEMS}
        return [
            [dict(zip(SYSTEMS, pair, strict=True))] for pair in zip(*each.values(), strict=True)
        ]


def sections_of(sources: Sources) -> list[Section]:
    """All sections that have something to say; one that fails says why."""
    found = []
    for key, title, build in SECTIONS:
        try:
            with np.errstate(all="ignore"):
                section = build(sources)
        except (RamfrontError, ArithmeticError) as error:
            section = _section(key, title, [f"This could not be worked out: {error}"])
        if section is not None:
            found.append(section)
    return found


def _section(
    key: str,
    title: str,
    sentence: Said,
    charts: Sequence[Any] = (),
    notes: Sequence[Said] = (),
    tables: Sequence[Table] = (),
) -> Section:
    return {
        "key": key,
        "title": title,
        "sentence": sentence,
        "charts": list(charts),
        "notes": list(notes),
        "tables": list(tables),
    }


def number(value: Any) -> Figure:
    """Figure of a chart; None where it is not finite."""
    plain = float(value)
    return float(f"{plain:.{DIGITS}g}") if math.isfinite(plain) else None


def numbers(values: Any) -> list[Figure]:
    """Figures of a column."""
    return [number(value) for value in np.asarray(values, dtype=np.float64)]


def amount(kind: str, value: Any) -> list[str | Figure]:
    """A figure in a sentence or a table."""
    return [kind, number(value)]


def axis(title: str, kind: str, clock: bool = False) -> Axis:
    """An axis."""
    return {"title": title, "kind": kind, "clock": clock}


def series(
    name: str, x: Any, y: Any, style: int = 0, *, step: bool = False, dots: bool = False
) -> Series:
    """A line of a chart."""
    return {
        "name": name, "style": style, "step": step, "dots": dots, "x": numbers(x), "y": numbers(y),
    }  # fmt: skip


def panel(title: str, kind: str, lines: Sequence[Series], levels: Sequence[Level] = ()) -> Panel:
    """A drawing of a chart."""
    return {"title": title, "kind": kind, "series": list(lines), "levels": list(levels)}


def curve(
    key: str,
    title: str,
    sentence: Said,
    across: Axis,
    panels: Sequence[Panel],
    bands: Sequence[Band] = (),
    marks: Sequence[Level] = (),
) -> Curve:
    """A chart of lines."""
    return {
        "type": "curve",
        "key": key,
        "title": title,
        "sentence": sentence,
        "across": across,
        "panels": list(panels),
        "bands": list(bands),
        "marks": list(marks),
    }


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
        return _section(
            "steps", title, ["No machine of the lists is worth a plan."], [], [], tables
        )
    if len(plan.rows) < 2:
        return _section("steps", title, ["There is no step to plan."], [], notes, tables)
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
    return _section("steps", title, [], [chart], notes, tables)


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
        saved = gains(steps.base, sheet, lane)["cycle_s"]
        outlay = outlay_of(steps, sheet, lane)
        rates.append(seconds_per_money(saved, outlay))
        rows.append(
            [
                next(iter(own.values())),
                "; ".join(others.values()) or "alone",
                amount("time", saved),
                amount("money", outlay),
            ]
        )
    if not rows:
        return None
    known = [rate for rate in rates if math.isfinite(rate) and rate > 0.0]
    unit = 10 ** max(2, 1 + math.ceil(-math.log10(max(known)))) if known else 100
    for row, rate in zip(rows, rates, strict=True):
        row.append(amount("time", unit * rate) if math.isfinite(rate) else "free")
    return {
        "title": "Single parts, most seconds for the money first; then those that need company",
        "head": [
            ["Part", ""],
            ["With", ""],
            ["Off the cycle", "time"],
            ["Outlay", "money"],
            [f"For each {unit:,}", "time"],
        ],
        "rows": rows,
        "designs": [None] * len(rows),
    }


# --- when is enough -----------------------------------------------------------------------------


def _enough(sources: Sources) -> Section | None:
    results = sources.answer.sheet.results
    if len(results["cost.outlay"]) < 2:
        return None
    base = sheet_of(fitted_machine(sources.study), sources.study.setting).results
    strong = results["force_N"] >= float(base["force_N"]) * (1.0 - 1e-9)
    outlay, period = results["cost.outlay"], results["work.piece_period_s"]
    fit = np.flatnonzero(strong & np.isfinite(period))
    if len(fit) < 2:
        return None
    fit = fit[np.lexsort((period[fit], outlay[fit]))]
    best = np.minimum.accumulate(period[fit])
    kept = fit[np.concatenate([[True], best[1:] < best[:-1]])]
    if len(kept) < 2:
        return None
    use = sources.study.setting.work
    hands = use.handling_time
    spent, seconds = outlay[kept], period[kept]
    saved = float(seconds[0] - seconds[-1])
    half = int(np.argmax(seconds <= seconds[0] - 0.8 * saved))
    sentence: Said = [
        "Money buys less and less: of the ",
        amount("time", saved),
        " that the list can take off a piece without losing force, four fifths cost ",
        amount("money", spent[half]),
        " and the rest ",
        amount("money", spent[-1] - spent[half]),
        " more. The hands alone take ",
        amount("time", hands),
        " a piece: no ram goes under that.",
    ]
    chart = curve(
        "enough",
        "Time per piece against money, wood and hands counted",
        sentence,
        axis("Outlay", "money"),
        [
            panel(
                "Time per piece",
                "time",
                [series("quickest for the money", spent, seconds, 0, step=True)],
                [{"name": "hands", "value": number(hands)},
                 {"name": "now", "value": number(base["work.piece_period_s"])}],
            )
        ],
    )  # fmt: skip
    return _section("enough", "When is enough", [], [chart])


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
    return _section("cycle", "One cycle, pressure and ram", sentence, charts, notes)


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
    marks: list[Level] = []
    for what in dict.fromkeys(switch.what for switch in trace.switches):
        first = next(switch for switch in trace.switches if switch.what == what)
        often = trace.count(what)
        more = f", first of {often}" if often > 1 and what != WOOD else ""
        marks.append({"name": SWITCH_WORDS.get(what, what) + more, "value": number(first.time)})
    if trace.outcome != FINISHED:
        marks.append({"name": trace.outcome, "value": number(trace.times[-1])})
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
    return _section("day", "Oil over the day", [], [chart])


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
    return _section("sure", "How sure", [words], charts, notes)


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
    ("enough", "When is enough", _enough),
    ("cycle", "One cycle, pressure and ram", _cycle),
    ("day", "Oil over the day", _day),
    ("sure", "How sure", _sure),
)
"""Sections in the order of the page."""
