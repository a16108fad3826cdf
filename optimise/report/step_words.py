"""Words, table and answer for programs of the steps from the machine owned."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.machine.results import RESULTS
from optimise.machine.sheet import Sheet
from optimise.report.answers import machine_entry, plain, provenance
from optimise.report.next_steps import (
    GAIN_KINDS,
    GAINS,
    SHOWN_STEPS,
    SHOWN_STOPPED,
    NextSteps,
    Wish,
    bill,
    changed_parts,
    crossed_by,
    gains,
    in_company,
    on_the_front,
    outlay_of,
    ranked,
    seconds_per_money,
    title,
    useless,
    why_not_alone,
)
from optimise.report.plan_words import reasons
from optimise.report.step_advice import advice
from optimise.report.tables import CHOSEN, Kept, head_of, inert, result_cells, result_columns
from optimise.report.text import CAUTIONS, money, percent, round_money
from optimise.search.goals import CYCLE, PIECE
from optimise.search.plan import Plan
from optimise.study.model import Study
from optimise.units import convert, parse, show, unit_of

MARKED = 3
"""Parts that are good alone and marked as the first to look at."""
LEAST_HEAT, LEAST_WARMTH = 1.0, 0.05
"""Heat [W] and warmth [K] under which a change is not spoken of."""

# --- for programs -------------------------------------------------------------------------------


def steps_answer(found: NextSteps) -> dict[str, Any]:
    """Answer of ``steps``."""
    steps, study = found.steps, found.study
    return {
        **provenance(study),
        "parts": dict(study.fitted),
        "base": _machine_entry(steps.base, 0),
        "machine": machine_entry(study.fitted, steps.base, (0,)),
        "looked_at": steps.looked_at,
        "largest_bundle": steps.largest,
        "least_force_N": steps.least_force,
        "steps": [_step_entry(found, nth) for nth in range(len(steps.rows))],
        "by": steps.pace,
        "question": _question(found.wish),
        "goal": found.goal,
        "proven": found.front.proven,
        "plan": None if found.plan is None else _plan_entry(found, found.plan),
        "rival": None if found.rival is None else _plan_entry(found, found.rival),
        "second_worth": plain(steps.base.results["work.second_worth"][0]),
        "advice": advice(found),
    }


def _question(wish: Wish) -> dict[str, Any]:
    """Options of the call, None where one was not given; changes stand beside it."""
    return {
        "budget": wish.budget,
        "target_s": wish.target,
        "to": None if wish.parts is None else dict(wish.parts),
        "force_N": wish.least_force,
        "by": wish.by,
    }


def _plan_step(found: NextSteps, nth: int) -> int | None:
    """Step of the plan that puts the part of a change on, from 1; None where none does."""
    if found.plan is None:
        return None
    rows, place = found.plan.rows, int(found.steps.category[nth])
    has = rows[:, place] == found.steps.rows[nth][place]
    return int(np.argmax(has)) if has.any() else None


def _machine_entry(sheet: Sheet, lane: int) -> dict[str, Any]:
    return {
        **{key: plain(sheet.results[result][lane]) for key, (result, _) in GAINS.items()},
        "pieces_per_h": plain(sheet.results["work.pieces_per_h"][lane]),
        "limits_min_margin": plain(sheet.least_margin[lane]),
        "binding": str(sheet.binding[lane]),
        "crossed": crossed_by(sheet, lane),
    }


def _step_entry(found: NextSteps, nth: int) -> dict[str, Any]:
    steps = found.steps
    gained = gains(steps.base, steps.sheet, nth)
    outlay = outlay_of(steps, steps.sheet, nth)
    category = found.space.categories[steps.category[nth]]
    row = int(steps.bundle[nth])
    entry = {
        "category": category,
        "part": found.space.names(steps.rows[nth])[category],
        "good_alone": bool(steps.good_alone[nth]),
        "crossed": crossed_by(steps.sheet, nth),
        "strong": bool(steps.strong[nth]),
        "gain": {key: plain(value) for key, value in gained.items()},
        "outlay": plain(outlay),
        **bill(found.space, steps.owned, steps.rows[nth], found.study),
        "s_per_money": plain(seconds_per_money(gained[found.pace.gain], outlay)),
        "plan_step": _plan_step(found, nth),
        "bundle": None,
        "on_front": _front_entry(found, nth),
    }
    if row >= 0 and not steps.good_alone[nth]:
        gained = gains(steps.base, steps.bundle_sheet, row)
        outlay = outlay_of(steps, steps.bundle_sheet, row)
        entry["bundle"] = {
            "parts": changed_parts(found.space, steps.owned, steps.bundles[row]),
            "gain": {key: plain(value) for key, value in gained.items()},
            "outlay": plain(outlay),
            **bill(found.space, steps.owned, steps.bundles[row], found.study),
            "s_per_money": plain(seconds_per_money(gained[found.pace.gain], outlay)),
            "beaten_by_its_own_parts": row in found.beaten,
        }
    return entry


def _front_entry(found: NextSteps, nth: int) -> dict[str, Any] | None:
    """Cheapest machine of the front with a part that no small bundle makes good."""
    steps = found.steps
    good = steps.good_alone[nth] or (
        steps.bundle[nth] >= 0 and steps.bundle[nth] not in found.beaten
    )
    row = None if good else on_the_front(found, nth)
    if row is None:
        return None
    gained = gains(steps.base, found.front.sheet, row)
    return {
        "parts": changed_parts(found.space, steps.owned, found.front.indices[row]),
        "gain": {key: plain(value) for key, value in gained.items()},
        "outlay": plain(outlay_of(steps, found.front.sheet, row)),
    }


def _plan_entry(found: NextSteps, plan: Plan) -> dict[str, Any]:
    spent = found.steps.base.results["cost.outlay"][0]
    there_for = reasons(found, plan)
    return {
        "area": plain(plan.area),
        "goal": machine_entry(found.space.names(plan.rows[-1]), plan.sheet, (len(plan.rows) - 1,)),
        "machines": [
            {
                "put_on": {}
                if nth == 0
                else changed_parts(found.space, plan.rows[nth - 1], plan.rows[nth]),
                "reason": there_for[nth],
                "outlay_so_far": plain(plan.sheet.results["cost.outlay"][nth] - spent),
                **_machine_entry(plan.sheet, nth),
            }
            for nth in range(len(plan.rows))
        ],
    }


def steps_table(found: NextSteps) -> Kept:
    """Every change, a row each, in the study's units: what it brings, and the machine with it.

    What was asked for stands in each row, as the changes of the call do.
    """
    study, steps = found.study, found.steps
    units = {key: _unit_of_gain(key, study) for key in GAINS}
    writer = Kept.of(study)
    asked = _asked_cells(found)
    heads = [f"{key.rsplit('_', 1)[0]} gained [{unit}]" for key, (unit, _) in units.items()]

    def shown(gained: Mapping[str, float | None]) -> list[str]:
        return [
            "" if value is None else f"{value * units[key][1]:.6g}" for key, value in gained.items()
        ]

    writer.writerow(
        [
            "category",
            "part",
            "alone",
            *heads,
            "outlay",
            "price",
            "hours",
            "resale",
            "bundle",
            *(f"bundle {head}" for head in heads),
            "bundle outlay",
            *(head_of(result, study.system) for result in RESULTS),
            CHOSEN,
            "Step of the plan",
            *asked,
        ]
    )
    columns = result_columns(steps.sheet, study.system)
    first = ranked(found)[:MARKED]
    for nth in range(len(steps.rows)):
        entry = _step_entry(found, nth)
        bundle = entry["bundle"]
        alone = "good" if entry["good_alone"] else why_not_alone(found, nth)
        writer.writerow(
            [
                entry["category"],
                inert(entry["part"]),
                alone,
                *shown(entry["gain"]),
                entry["outlay"],
                *(f"{entry[key]:.6g}" for key in ("price", "hours", "resale")),
                inert("; ".join(bundle["parts"].values())) if bundle else "",
                *(shown(bundle["gain"]) if bundle else [""] * len(heads)),
                bundle["outlay"] if bundle else "",
                *result_cells(columns, nth),
                inert(f"with {entry['part']}") if nth in first else "",
                "" if entry["plan_step"] is None else entry["plan_step"],
                *asked.values(),
            ]
        )
    return writer


def _asked_cells(found: NextSteps) -> dict[str, str]:
    """Options of the call by head, as they may be given again; empty where one was not given."""
    wish, system = found.wish, found.study.system

    def cell(value: float | None, kind: str) -> str:
        return "" if value is None else f"{convert(value, kind, system):.15g}"

    parts = [f"{category}={part}" for category, part in (wish.parts or {}).items()]
    return {
        "Budget asked": cell(wish.budget, "money"),
        f"Time asked [{unit_of('time', system)}]": cell(wish.target, "time"),
        "Parts asked": json.dumps(parts, ensure_ascii=False) if parts else "",
        f"Force asked [{unit_of('force', system)}]": cell(wish.least_force, "force"),
        "Seconds asked": wish.by,
    }


def _unit_of_gain(key: str, study: Study) -> tuple[str, float]:
    kind = GAIN_KINDS[key]
    unit = unit_of(kind, study.system) if kind != "time" else "s"
    return unit, 1.0 / parse(f"1 {unit}", kind)


# --- for people ---------------------------------------------------------------------------------


def print_steps(console: Console, found: NextSteps) -> None:
    """What to do, then parts that are good alone, with others and not at all, and the plan."""
    study, steps = found.study, found.steps
    console.print(Text(study.title or study.name, style="bold"))
    console.print(Text(f"Plan: {found.goal}."))
    for sentence in advice(found):
        console.print(Text(sentence, style="bold"))
    console.print()
    console.print(
        f"{len(steps.rows)} changes of one part; {steps.looked_at:,} machines with up to "
        f"{steps.largest} changed parts were looked at. Seconds are seconds saved, off a piece and "
        "off the cycle without a log; heat goes into the oil, which at the end of a long day is so "
        "much warmer. An outlay is "
        f"price and hours at {money(study, study.money.labour_rate)} each, less what the parts "
        f"that come off bring (back). Ranks and plan go by {found.pace.title}."
    )
    console.print(
        "The front, below, are the machines of these lists that are worth a look: none other is "
        "quicker without being weaker or dearer."
    )
    console.print()
    _print_alone(console, found)
    _print_company(console, found)
    _print_useless(console, found)
    _print_plan(console, found, found.plan, "The plan, step by step")
    if found.rival is not None:
        _print_plan(console, found, found.rival, "Best plan for the same money")
    console.print(Text(CAUTIONS, style="italic"))


def _signed(saved: float) -> str:
    """Seconds saved to the hundredth; none has no sign."""
    rounded = round(saved, 2)
    return f"{rounded:+.2f} s" if rounded else "0.00 s"


def _gain_cells(
    found: NextSteps,
    gained: Mapping[str, float],
    outlay: float,
    row: NDArray[np.intp],
    unit: int,
) -> list[str]:
    paid = bill(found.space, found.steps.owned, row, found.study)
    back = f"\nback {money(found.study, paid['resale'])}" if paid["resale"] > 0.0 else ""
    rate = seconds_per_money(gained[found.pace.gain], outlay)

    def more(key: str, least: float) -> str:
        added = show(gained[key], GAIN_KINDS[key], found.study.system, 2)
        return "same" if abs(gained[key]) < least else f"{'+' * (gained[key] > 0)}{added}"

    heat, oil = more("heat_W", LEAST_HEAT), more("oil_steady_K", LEAST_WARMTH)
    return [
        *(
            f"{_signed(gained[one])}\n{_signed(gained[other])}"
            for one, other in (("piece_s", "cycle_s"), ("extend_s", "retract_s"))
        ),
        more("force_N", 1e-6 * found.steps.least_force),
        heat if heat == oil else f"{heat}\n{oil}",
        f"{money(found.study, outlay)}\n{paid['hours']:.1f} h{back}",
        "free" if math.isinf(rate) else f"{unit * rate:.2f} s",
    ]


def _unit_of_rates(found: NextSteps) -> int:
    """Round sum of money that buys seconds enough to be told apart."""
    steps = found.steps
    return round_money(
        [
            seconds_per_money(
                gains(steps.base, steps.sheet, nth)[found.pace.gain],
                outlay_of(steps, steps.sheet, nth),
            )
            for nth in ranked(found)
        ]
    )


def _table(unit: int, first: str, *rest: str) -> Table:
    heads = (
        first,
        *rest,
        "a piece\ncycle",
        "out\nback",
        "force",
        "heat\noil",
        "outlay\nhours",
        f"per {unit:,}",
    )
    return Table(*heads, box=None, pad_edge=False)


def _part(found: NextSteps, nth: int) -> str:
    steps = found.steps
    return next(iter(changed_parts(found.space, steps.owned, steps.rows[nth]).values()))


def _print_alone(console: Console, found: NextSteps) -> None:
    steps = found.steps
    good = ranked(found)
    if not good:
        console.print(
            f"No single part takes anything off {found.pace.whole} and keeps limits and force.\n"
        )
        return
    unit = _unit_of_rates(found)
    table = _table(unit, "good alone")
    for nth in good[:SHOWN_STEPS]:
        outlay = outlay_of(steps, steps.sheet, nth)
        cells = _gain_cells(
            found, gains(steps.base, steps.sheet, nth), outlay, steps.rows[nth], unit
        )
        table.add_row(Text(_part(found, nth)), *cells)
    console.print(table)
    _print_more(console, len(good) - SHOWN_STEPS)


def _print_company(console: Console, found: NextSteps) -> None:
    steps = found.steps
    needy = in_company(found)
    if not needy:
        return
    unit = _unit_of_rates(found)
    table = _table(unit, "good with others", "with")
    for nth in needy[:SHOWN_STOPPED]:
        row = int(steps.bundle[nth])
        others = changed_parts(found.space, steps.owned, steps.bundles[row])
        others.pop(found.space.categories[steps.category[nth]])
        cells = _gain_cells(
            found,
            gains(steps.base, steps.bundle_sheet, row),
            outlay_of(steps, steps.bundle_sheet, row),
            steps.bundles[row],
            unit,
        )
        table.add_row(Text(_part(found, nth)), Text("; ".join(others.values())), *cells)
    console.print(table)
    _print_more(console, len(needy) - SHOWN_STOPPED)
    for nth in needy[:SHOWN_STOPPED]:
        console.print(Text(f"{_part(found, nth)} alone {why_not_alone(found, nth)}."))
    console.print()


def _print_useless(console: Console, found: NextSteps) -> None:
    left = useless(found)
    if not left:
        return
    steps = found.steps
    table = Table(
        f"no good with up to {steps.largest} parts",
        "because it",
        "cheapest machine of the front with it",
        box=None,
        pad_edge=False,
    )
    for nth in left[:SHOWN_STOPPED]:
        row = on_the_front(found, nth)
        if row is None:
            where = "none that is quicker and as strong"
        else:
            others = changed_parts(found.space, steps.owned, found.front.indices[row])
            others.pop(found.space.categories[steps.category[nth]])
            saved = gains(steps.base, found.front.sheet, row)[found.pace.gain]
            outlay = outlay_of(steps, found.front.sheet, row)
            company = "; ".join(others.values())
            where = f"{_signed(saved)} for {money(found.study, outlay)} with {company}"
        table.add_row(Text(_part(found, nth)), why_not_alone(found, nth), Text(where))
    console.print(table)
    _print_more(console, len(left) - SHOWN_STOPPED)


def _print_more(console: Console, count: int) -> None:
    console.print(f"... and {count} more: see --json\n" if count > 0 else "")


def _nearest(found: NextSteps, sheet: Sheet, lane: int) -> str:
    margin = percent(float(sheet.least_margin[lane]))
    return f"{title(found, str(sheet.binding[lane]))} ({margin})"


def _print_plan(console: Console, found: NextSteps, plan: Plan | None, heading: str) -> None:
    console.print(Text(heading, style="bold"))
    if plan is None:
        console.print("No machine of the lists is like that.\n")
        return
    system, sheet = found.study.system, plan.sheet
    spent = float(found.steps.base.results["cost.outlay"][0])
    table = Table(
        "put on",
        "a piece",
        "cycle",
        "out",
        "back",
        "force",
        "spent so far",
        "limit nearest",
        box=None,
        pad_edge=False,
    )
    for nth in range(len(plan.rows)):
        parts = (
            "as it is"
            if nth == 0
            else " with ".join(
                changed_parts(found.space, plan.rows[nth - 1], plan.rows[nth]).values()
            )
        )
        crossed = crossed_by(sheet, nth)
        table.add_row(
            Text(parts),
            *(
                show(float(sheet.results[key][nth]), kind, system, 3)
                for key, kind in (
                    (PIECE, "time"),
                    (CYCLE, "time"),
                    ("cycle.extend_s", "time"),
                    ("cycle.retract_s", "time"),
                    ("force_N", "force"),
                )
            ),
            money(found.study, float(sheet.results["cost.outlay"][nth]) - spent),
            f"CROSSED: {title(found, crossed[0])}" if crossed else _nearest(found, sheet, nth),
        )
    console.print(table)
    for nth, reason in enumerate(reasons(found, plan)):
        if reason:
            put_on = changed_parts(found.space, plan.rows[nth - 1], plan.rows[nth])
            console.print(Text(f"Why {' with '.join(put_on.values())}: {reason}."))
    console.print()
