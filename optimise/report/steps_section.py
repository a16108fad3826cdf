"""Which part next, on the page: the plan, and every single part with what it brings or stops it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.machine.sheet import Sheet
from optimise.report.charts import (
    Piece,
    Said,
    Section,
    Table,
    amount,
    axis,
    curve,
    number,
    panel,
    section_of,
    series,
    table_of,
)
from optimise.report.next_steps import (
    GAIN_KINDS,
    NextSteps,
    bill,
    changed_parts,
    gains,
    in_company,
    on_the_front,
    outlay_of,
    ranked,
    seconds_per_money,
    useless,
    why_not_alone,
)
from optimise.report.plan_words import reasons
from optimise.report.sources import SYSTEMS, Sources
from optimise.report.step_advice import advice
from optimise.report.text import opening, round_money
from optimise.search.goals import CYCLE
from optimise.search.plan import Plan

KEY, TITLE = "steps", "Which part next"
SHOWN = 8
"""Rows of each table of parts that are in sight before it is unfolded."""
GAIN_HEADS = (
    ("piece_s", "Off a piece"),
    ("cycle_s", "Off the cycle"),
    ("extend_s", "Off the way out"),
    ("retract_s", "Off the way back"),
    ("force_N", "Force added"),
    ("heat_W", "Heat added"),
    ("oil_steady_K", "Oil warmer by"),
)


def steps_section(sources: Sources) -> Section:
    """The plan with its verdict, parts that are good alone, with others, and not at all."""
    found = sources.steps
    notes = sources.said(lambda study: advice(dataclasses.replace(found, study=study)))
    tables = [_alone_table(found), _company_table(found), _stopped_table(found)]
    parts = [table for table in tables if table["rows"]]
    if found.plan is None:
        words = "No machine of the lists is worth a plan."
        return section_of(KEY, TITLE, [words], [], notes, parts)
    if len(found.plan.rows) < 2:
        return section_of(KEY, TITLE, ["There is no step to plan."], [], notes, parts)
    plan = _plan_table(found, found.plan)
    return section_of(KEY, TITLE, [], [_chart(found, found.plan)], notes, [plan, *parts])


def plan_index(step: int) -> int:
    """Number by which the page calls the machine after a step of the plan, 1 for the first."""
    return -1 - step


# --- the plan -----------------------------------------------------------------------------------


def _stairs(found: NextSteps) -> tuple[Array, Array]:
    """Money spent and times of the quickest machine of the front for the money."""
    results, base = found.front.sheet.results, found.steps.base.results
    time, outlay = results[found.steps.pace], results["cost.outlay"] - base["cost.outlay"][0]
    fit = np.flatnonzero(results["force_N"] >= found.steps.least_force * (1.0 - 1e-9))
    fit = fit[np.lexsort((time[fit], outlay[fit]))]
    best = np.minimum.accumulate(time[fit]) if len(fit) else time[fit]
    first = np.concatenate([[True], best[1:] < best[:-1]]) if len(fit) else np.zeros(0, dtype=bool)
    kept: NDArray[np.intp] = fit[first]
    return outlay[kept], time[kept]


def _chart(found: NextSteps, plan: Plan) -> object:
    base, results = found.steps.base.results, plan.sheet.results
    outlay, time = results["cost.outlay"] - base["cost.outlay"][0], results[found.steps.pace]
    across, down = _stairs(found)
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
    title = opening(found.pace.title)
    now = number(base[found.steps.pace][0])
    return curve(
        "plan",
        f"{title} against money spent",
        sentence,
        axis("Money spent", "money"),
        [panel(title, "time", lines, [{"name": "now", "value": now}])],
    )


def _plan_table(found: NextSteps, plan: Plan) -> Table:
    results, spent = plan.sheet.results, float(found.steps.base.results["cost.outlay"][0])
    columns = ((found.steps.pace, "time"), (CYCLE, "time"), ("force_N", "force"))
    count = len(plan.rows)
    said = {system: reasons(there, plan) for system, there in _each_system(found).items()}
    rows: list[list[Piece]] = [
        [
            str(nth),
            "; ".join(changed_parts(found.space, plan.rows[nth - 1], plan.rows[nth]).values()),
            *(amount(kind, results[key][nth]) for key, kind in columns),
            amount("money", results["cost.outlay"][nth] - spent),
            amount("share", plan.sheet.least_margin[nth]),
            {system: words[nth] for system, words in said.items()},
        ]
        for nth in range(1, count)
    ]
    return table_of(
        "The plan, step by step",
        [
            ("Step", ""),
            ("Put on", ""),
            (f"{opening(found.pace.title)} then", "time"),
            ("Cycle without a log", "time"),
            ("Force", "force"),
            ("Spent so far", "money"),
            ("Least margin", "share"),
            ("Why, where it gains little", ""),
        ],
        rows,
        [plan_index(nth) for nth in range(1, count)],
    )


# --- parts --------------------------------------------------------------------------------------


def _part(found: NextSteps, nth: int) -> str:
    steps = found.steps
    return next(iter(changed_parts(found.space, steps.owned, steps.rows[nth]).values()))


def _others(found: NextSteps, nth: int, row: NDArray[np.intp]) -> str:
    """Parts of a machine beside the one that is asked about."""
    others: Mapping[str, str] = changed_parts(found.space, found.steps.owned, row)
    category = found.space.categories[found.steps.category[nth]]
    return "; ".join(name for key, name in others.items() if key != category)


def _both(found: NextSteps, words: Callable[[NextSteps], str]) -> Piece:
    """Words in both unit systems."""
    return {system: words(there) for system, there in _each_system(found).items()}


def _each_system(found: NextSteps) -> dict[str, NextSteps]:
    """The same with its study in each unit system."""
    return {
        system: dataclasses.replace(found, study=dataclasses.replace(found.study, system=system))
        for system in SYSTEMS
    }


def _stopped_by(found: NextSteps, nth: int) -> Piece:
    return _both(found, lambda there: why_not_alone(there, nth, most=len(found.steps.sheet.limits)))


Row = tuple[list[Piece], Sheet, int, NDArray[np.intp]]
"""First cells of a row, and the machine whose figures follow: its sheet, its lane, its parts."""


def _with_figures(
    found: NextSteps, title: str, heads: Sequence[tuple[str, str]], rows: Sequence[Row]
) -> Table:
    """Table of machines with what each brings and costs against the machine owned."""
    steps = found.steps
    rates = [
        seconds_per_money(
            gains(steps.base, sheet, lane)[found.pace.gain], outlay_of(steps, sheet, lane)
        )
        for _, sheet, lane, _ in rows
    ]
    unit = round_money(rates)
    cells: list[list[Piece]] = []
    for (first, sheet, lane, parts), rate in zip(rows, rates, strict=True):
        gained = gains(steps.base, sheet, lane)
        paid = bill(found.space, steps.owned, parts, found.study)
        cells.append(
            [
                *first,
                *(amount(GAIN_KINDS[key], gained[key]) for key, _ in GAIN_HEADS),
                amount("money", outlay_of(steps, sheet, lane)),
                f"{paid['hours']:.1f} h",
                amount("money", paid["resale"]),
                amount("time", unit * rate) if math.isfinite(rate) else "free",
            ]
        )
    whole = "a piece" if found.pace.gain == "piece_s" else "the cycle"
    return table_of(
        title,
        [
            *heads,
            *((words, GAIN_KINDS[key]) for key, words in GAIN_HEADS),
            ("Outlay", "money"),
            ("Hours", "count"),
            ("Resale", "money"),
            (f"Off {whole} for each {unit:,} {found.study.currency}", "time"),
        ],
        cells,
        shown=SHOWN,
    )


def _alone_table(found: NextSteps) -> Table:
    steps, good = found.steps, ranked(found)
    rows: list[Row] = [([_part(found, nth)], steps.sheet, nth, steps.rows[nth]) for nth in good]
    return _with_figures(
        found,
        "Single parts that are good alone, most seconds for the money first",
        [("Part", "")],
        rows,
    )


def _company_table(found: NextSteps) -> Table:
    steps, needy = found.steps, in_company(found)
    rows: list[Row] = []
    for nth in needy:
        lane = int(steps.bundle[nth])
        bundle = steps.bundles[lane]
        first: list[Piece] = [
            _part(found, nth),
            _stopped_by(found, nth),
            _others(found, nth, bundle),
        ]
        rows.append((first, steps.bundle_sheet, lane, bundle))
    return _with_figures(
        found,
        "Parts that are stopped alone, and what they bring with others",
        [("Part", ""), ("Alone it", ""), ("Good with", "")],
        rows,
    )


def _stopped_table(found: NextSteps) -> Table:
    left = useless(found)
    rows: list[list[Piece]] = []
    for nth in left:
        row = on_the_front(found, nth)
        cells: list[Piece] = [_part(found, nth), _stopped_by(found, nth)]
        if row is None:
            cells += ["none that is quicker and as strong", "", ""]
        else:
            sheet = found.front.sheet
            gained = gains(found.steps.base, sheet, row)[found.pace.gain]
            cells += [
                _others(found, nth, found.front.indices[row]),
                amount("time", gained),
                amount("money", outlay_of(found.steps, sheet, row)),
            ]
        rows.append(cells)
    whole = "a piece" if found.pace.gain == "piece_s" else "the cycle"
    return table_of(
        "Parts that are no good with one or two others",
        [
            ("Part", ""),
            ("Alone it", ""),
            ("Cheapest machine of the front with it has", ""),
            (f"Off {whole}", "time"),
            ("Outlay", "money"),
        ],
        rows,
        shown=SHOWN,
    )
