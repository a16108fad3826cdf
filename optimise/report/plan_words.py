"""A plan in words: why steps that gain no time are in it, and a pinned one against the best."""

from __future__ import annotations

import numpy as np

from optimise.machine.sheet import Sheet, sheet_of
from optimise.report.next_steps import (
    NextSteps,
    changed_parts,
    crossed_by,
    gains,
    listed,
    seconds,
    title,
)
from optimise.report.text import SHOWN_TIME, money
from optimise.search.goals import LEAST_GAIN
from optimise.search.plan import Plan
from optimise.units import show

LITTLE = 0.1
"""Share of a plan's gain under which a step may be there for a later one."""
SAME_FORCE = 1e-6
"""Share of a force that is no difference."""


def reasons(found: NextSteps, plan: Plan) -> list[str]:
    """Why each step is in a plan where it gains no time of its own; "" where it does.

    A step that gains little says so too where it makes room for a later one. The entry of the
    machine that the plan starts from comes first and is "".
    """
    times = plan.sheet.results[found.steps.pace]
    gained = times[:-1] - times[1:]
    most = LITTLE * float(times[0] - times[-1])
    idle = [nth for nth in range(1, len(plan.rows)) if gained[nth - 1] <= max(SHOWN_TIME, most)]
    said = [""] * len(plan.rows)
    if not idle:
        return said
    pairs = [(nth, later) for nth in idle for later in range(nth, len(plan.rows))]
    without = np.stack(
        [
            np.where(plan.rows[nth] != plan.rows[nth - 1], plan.rows[0], plan.rows[later])
            for nth, later in pairs
        ]
    )
    sheet = sheet_of(found.space.machine(without), found.study.setting)
    for nth in idle:
        lanes = {later: lane for lane, (step, later) in enumerate(pairs) if step == nth}
        said[nth] = _room(found, plan, sheet, lanes)
        if not said[nth] and gained[nth - 1] <= SHOWN_TIME:
            said[nth] = _brought(found, plan, sheet, lanes[max(lanes)])
    return said


def _room(found: NextSteps, plan: Plan, sheet: Sheet, lanes: dict[int, int]) -> str:
    """Which limit a step mends, or would be crossed later without it; "" where there is none.

    Parameters
    ----------
    sheet, lanes
        Machines after each step from this one on, but without its parts, and where they are.
    """
    for later, lane in lanes.items():
        kept = crossed_by(plan.sheet, later)
        freed = [name for name in crossed_by(sheet, lane) if name not in kept]
        if freed and later == min(lanes):
            return f"mends {title(found, freed[0])}"
        if freed:
            parts = changed_parts(found.space, plan.rows[later - 1], plan.rows[later]).values()
            crosses = "crosses" if len(parts) == 1 else "cross"
            return f"without it {listed(list(parts))} {crosses} {title(found, freed[0])}"
    return ""


def _brought(found: NextSteps, plan: Plan, sheet: Sheet, lane: int) -> str:
    """What the last machine of a plan has over the same without the parts of a step."""
    last = len(plan.rows) - 1
    lost = gains(sheet, plan.sheet, last, lane)
    if lost[found.pace.gain] > SHOWN_TIME:
        slower = seconds(found, lost[found.pace.gain])
        return f"without it {found.pace.whole} is {slower} longer in the end"
    if lost["force_N"] > SAME_FORCE * float(plan.sheet.results["force_N"][last]):
        return f"adds {show(lost['force_N'], 'force', found.study.system, 3)} of force"
    saved = float(sheet.results["cost.outlay"][lane] - plan.sheet.results["cost.outlay"][last])
    if saved > 0.0:
        return f"brings {money(found.study, saved)}"
    if lost["cycle_s"] > SHOWN_TIME:
        return f"takes {seconds(found, lost['cycle_s'])} off the cycle without a log"
    if lost[found.pace.gain] > LEAST_GAIN:
        tiny = show(lost[found.pace.gain], "time", found.study.system, 2)
        return f"takes {tiny} off {found.pace.whole} and brings nothing else"
    return "brings nothing"


def against_the_best(found: NextSteps) -> str:
    """A pinned plan beside the best machine for its money; "" where none is pinned."""
    if found.wish.parts is None or found.plan is None:
        return ""
    plan, rival, pace = found.plan, found.rival, found.pace
    spent = float(plan.sheet.results["cost.outlay"][-1] - plan.sheet.results["cost.outlay"][0])
    if rival is None:
        price = money(found.study, spent)
        return f"No machine of the lists keeps every limit and the force for {price}."
    sooner = gains(plan.sheet, rival.sheet, len(rival.rows) - 1, len(plan.rows) - 1)
    sound = not crossed_by(plan.sheet, len(plan.rows) - 1)
    parts = list(changed_parts(found.space, plan.rows[0], rival.rows[-1]).values())
    saved = sooner[pace.gain]
    cheaper = spent - float(
        rival.sheet.results["cost.outlay"][-1] - plan.sheet.results["cost.outlay"][0]
    )
    if sound and abs(saved) <= SHOWN_TIME:
        return "No machine of the lists that is as strong is quicker for the same money."
    what = f"{listed(parts)} instead" if parts else "nothing instead"
    time = (
        f"{seconds(found, abs(saved))} {'less' if saved > 0.0 else 'more'} for {pace.whole}"
        if abs(saved) > SHOWN_TIME
        else f"as long for {pace.whole}"
    )
    said = [f"The best for the same money is {what}: it takes {time}"]
    if not sound:
        said.append("keeps every hard limit")
    force = sooner["force_N"]
    if abs(force) > SAME_FORCE * found.steps.least_force:
        more = "more" if force > 0.0 else "less"
        said.append(f"has {show(abs(force), 'force', found.study.system, 3)} {more} force")
    price = f"costs {money(found.study, spent - cheaper)}"
    if cheaper > 0.0:
        price += f", {money(found.study, cheaper)} less than yours"
    return f"{listed([*said, price])}."
