"""What to do about the steps from the machine owned: sentences to act on."""

from __future__ import annotations

import numpy as np

from optimise.machine.sheet import sheet_of
from optimise.report.next_steps import (
    NextSteps,
    changed_parts,
    crossed_by,
    gains,
    in_company,
    listed,
    outlay_of,
    ranked,
    seconds,
    title,
    why_not_alone,
)
from optimise.report.plan_words import LITTLE, against_the_best
from optimise.report.text import SHOWN_TIME, money, percent
from optimise.search.goals import PIECE
from optimise.search.plan import Plan
from optimise.units import show


def advice(found: NextSteps) -> list[str]:
    """Sentences to act on: what to put on first, what to leave, and what the last step costs."""
    said = [_first(found), *filter(None, [against_the_best(found)])]
    stopped = in_company(found)
    if stopped:
        said.append(_not_alone(found, stopped[0]))
    worth = _last(found)
    return [*said, worth] if worth else said


def _first(found: NextSteps) -> str:
    plan, study = found.plan, found.study
    if plan is None:
        return f"Nothing in the lists does that: asked for was {found.goal}.{_reachable(found)}"
    if len(plan.rows) < 2:
        if found.wish.budget is None:
            return "Keep what is on the machine: for this wish nothing has to be put on."
        return (
            "Keep what is on the machine: no machine of the lists that keeps every limit and the "
            f"force is quicker for {money(study, found.wish.budget)} or less."
        )
    crossed = crossed_by(plan.sheet, len(plan.rows) - 1)
    if crossed:
        titles = listed([title(found, name) for name in crossed])
        return f"Do not go for these parts: with all of them on the machine crosses {titles}."
    gained = gains(plan.sheet, plan.sheet, 1, 0)
    saved = gained[found.pace.gain]
    parts = list(changed_parts(found.space, plan.rows[0], plan.rows[1]).values())
    outlay = float(plan.sheet.results["cost.outlay"][1] - plan.sheet.results["cost.outlay"][0])
    before = show(float(plan.sheet.results[found.steps.pace][0]), "time", study.system, 3)
    whole = found.pace.whole
    margin = float(plan.sheet.least_margin[1])
    if saved > SHOWN_TIME:
        gain = f"that takes {seconds(found, saved)} off {whole} ({before} now)"
        if gained["piece_s"] < LITTLE * saved:
            gain += ", but next to nothing off a piece,"
    elif saved < -SHOWN_TIME:
        gain = f"that makes {whole} {seconds(found, -saved)} longer ({before} now)"
    else:
        gain = "that gains next to no time itself"
    return (
        f"Put on {listed(parts)} first: {gain} for {money(study, outlay)}"
        f"{_room_for(found, plan, saved)}. The limit nearest to it then is "
        f"{title(found, str(plan.sheet.binding[1]))} ({percent(margin)})."
    )


def _reachable(found: NextSteps) -> str:
    """Quickest machine of the front with the force asked for."""
    results = found.front.sheet.results
    strong = results["force_N"] >= found.steps.least_force
    if len(strong) == 0:
        return " No machine of the lists keeps every hard limit."
    if not strong.any():
        most = show(float(results["force_N"].max()), "force", found.study.system, 3)
        return f" The strongest machine that keeps every limit has {most}."
    quickest = show(float(results[found.steps.pace][strong].min()), "time", found.study.system, 3)
    return f" The least {found.pace.title} with that force is {quickest}."


def _room_for(found: NextSteps, plan: Plan, saved: float) -> str:
    """The step of the plan that a first one of little gain is there for; nothing if none.

    It is there for it when a limit that the later step crosses alone is kept with both.
    """
    times = plan.sheet.results[found.steps.pace]
    gained = times[:-1] - times[1:]
    main = int(np.argmax(gained))
    if main == 0 or saved > LITTLE * float(times[0] - times[-1]):
        return ""
    changed = plan.rows[main] != plan.rows[main + 1]
    alone = np.where(changed, plan.rows[main + 1], plan.rows[0])
    both = np.where(changed, plan.rows[main + 1], plan.rows[1])
    sheet = sheet_of(found.space.machine(np.stack([alone, both])), found.study.setting)
    freed = [name for name in crossed_by(sheet, 0) if name not in crossed_by(sheet, 1)]
    if not freed:
        return ""
    parts = list(changed_parts(found.space, plan.rows[main], plan.rows[main + 1]).values())
    crosses = "crosses" if len(parts) == 1 else "cross"
    return (
        f", and makes room for {listed(parts)}, which without it {crosses} {title(found, freed[0])}"
    )


def _not_alone(found: NextSteps, nth: int) -> str:
    steps, study = found.steps, found.study
    row = int(steps.bundle[nth])
    name = changed_parts(found.space, steps.owned, steps.rows[nth])
    part = next(iter(name.values()))
    others = [
        other
        for category, other in changed_parts(found.space, steps.owned, steps.bundles[row]).items()
        if category not in name
    ]
    saved = gains(steps.base, steps.bundle_sheet, row)[found.pace.gain]
    return (
        f"Do not put on {part} alone: it {why_not_alone(found, nth)}. With {listed(others)} it "
        f"takes {seconds(found, saved)} off {found.pace.whole} for "
        f"{money(study, outlay_of(steps, steps.bundle_sheet, row))}."
    )


def _single_that_pays(found: NextSteps, worth: float, over: float = 0.0) -> str:
    """The part that is good alone and leaves most over its cost, where that is more than so."""
    steps, study = found.steps, found.study
    left = {
        nth: worth * gains(steps.base, steps.sheet, nth)["piece_s"]
        - outlay_of(steps, steps.sheet, nth)
        for nth in ranked(found)
    }
    best = max(left, key=lambda nth: left[nth], default=None)
    if best is None or left[best] <= over:
        return ""
    [part] = changed_parts(found.space, steps.owned, steps.rows[best]).values()
    saved = gains(steps.base, steps.sheet, best)["piece_s"]
    pays = "does pay" if over <= 0.0 else f"leaves {money(study, left[best])}"
    return (
        f" But {part} alone {pays}: it takes {seconds(found, saved)} off every piece for "
        f"{money(study, outlay_of(steps, steps.sheet, best))}."
    )


def _last(found: NextSteps) -> str:
    """How far the plan pays for itself; nothing without rates."""
    plan, study = found.plan, found.study
    if plan is None or study.money.hourly_worth <= 0.0:
        return ""
    if len(plan.rows) < 2:
        return _single_that_pays(found, float(plan.sheet.results["work.second_worth"][0])).lstrip()
    if not plan.sheet.feasible[-1]:
        return ""
    period = plan.sheet.results[PIECE]
    worth = float(plan.sheet.results["work.second_worth"][0])
    spent = plan.sheet.results["cost.outlay"] - plan.sheet.results["cost.outlay"][0]
    ahead = worth * (period[0] - period) - spent
    best = int(np.argmax(ahead))
    hours = study.money.payback_time / 3600.0
    said = (
        f"A second off every piece is worth {money(study, worth)} over {hours:,.0f} hours of "
        "splitting: "
    )
    if best == 0:
        return said + "by that measure no part of the plan pays." + _single_that_pays(found, worth)
    left = f"leaves {money(study, float(ahead[best]))} over its cost"
    if best == len(plan.rows) - 1:
        single = _single_that_pays(found, worth, float(ahead[best]))
        return said + f"the plan pays to its last step and {left}.{single}"
    parts = list(changed_parts(found.space, plan.rows[best - 1], plan.rows[best]).values())
    lost = money(study, float(ahead[best] - ahead[-1]))
    return (
        said
        + f"the plan {left} if you stop after {listed(parts)}; the rest costs {lost} more than "
        f"it brings.{_single_that_pays(found, worth, float(ahead[best]))}"
    )
