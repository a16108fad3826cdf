"""Steps from the machine owned, ranked, the plan for a wish, and what to do about them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.errors import CallError
from optimise.machine.limits import limits_of
from optimise.machine.sheet import Sheet, sheet_of
from optimise.report.text import inside, money, percent
from optimise.search.front import FrontAnswer, find_front
from optimise.search.plan import Plan, goal_at_knee, goal_for_budget, goal_for_time, plan_to
from optimise.search.steps import LEAST_GAIN, Steps, find_steps
from optimise.study.model import Study
from optimise.study.space import Space, upgrade_space
from optimise.units import UnitFault, parse, show

GAINS = {
    "extend_s": ("cycle.extend_s", -1.0),
    "retract_s": ("cycle.retract_s", -1.0),
    "cycle_s": ("cycle.total_s", -1.0),
    "piece_s": ("work.piece_period_s", -1.0),
    "force_N": ("force_N", 1.0),
    "heat_W": ("oil.heat_W", 1.0),
}
"""Change of a machine by key: the result that it is read from, and the sign under which it is said:
seconds count as saved, force and heat as added."""
FREE = 0.005
"""Outlay under which a step costs nothing."""
LITTLE = 0.1
"""Share of a plan's gain under which its first step is there for a later one."""
SHOWN_TIME = 0.005
"""Time [s] under which a longer cycle is not spoken of."""
SHOWN_STEPS, SHOWN_STOPPED = 12, 8


@dataclass(frozen=True)
class Wish:
    """What the plan is to reach; at most one of the first three is stated.

    Attributes
    ----------
    budget
        Most outlay.
    target
        Longest cycle time [s].
    parts
        Parts of a goal that is pinned, by category.
    least_force
        Least force at relief [N]; that of the machine asked about where it is not stated.
    """

    budget: float | None = None
    target: float | None = None
    parts: Mapping[str, str] | None = None
    least_force: float | None = None


@dataclass(frozen=True)
class NextSteps:
    """All that is said of the steps from one machine.

    Attributes
    ----------
    plan
        None where no machine of the lists fulfils the wish.
    rival
        Best plan for the outlay of a pinned goal, to compare that with.
    goal
        Words of what the plan goes for.
    """

    study: Study
    space: Space
    steps: Steps
    front: FrontAnswer
    goal: str
    plan: Plan | None
    rival: Plan | None


def read_wish(
    study: Study, budget: str | None, target: str | None, force: str | None, parts: Sequence[str]
) -> Wish:
    """Wish from the words of a call.

    Raises
    ------
    CallError
        A quantity that cannot be read, or more than one goal.
    """
    if sum((budget is not None, target is not None, bool(parts))) > 1:
        raise CallError("--budget, --target and --to each name a goal: give one of them")

    def read(option: str, text: str | None, kind: str) -> float | None:
        if text is None:
            return None
        try:
            return parse(text, kind)
        except UnitFault as fault:
            raise CallError(f"--{option}: {fault}") from None

    most = read("budget", budget, "money")
    if most is not None and most < 0.0:
        raise CallError(f"--budget {budget}: found less than nothing, expected 0 or more")
    pinned: dict[str, str] = {}
    for one in parts:
        category, equals, name = one.partition("=")
        if not equals or category.strip() not in study.lists:
            known = ", ".join(study.lists)
            raise CallError(f"--to {one}: wanted CATEGORY=PART, with a category of {known}")
        pinned[category.strip()] = name.strip()
    return Wish(
        most,
        read("target", target, "time"),
        pinned or None,
        read("force", force, "force"),
    )


def next_steps(study: Study, wish: Wish, front: FrontAnswer | None = None) -> NextSteps:
    """Steps, goal and plan of a study; a front of the same study may be handed over."""
    space, start = upgrade_space(study)
    steps = find_steps(space, study.setting, start, wish.least_force)
    found = front or find_front(space, study.setting)
    base, least = steps.base.results, steps.least_force
    spent = float(base["cost.outlay"][0])
    points = np.stack(
        [
            found.sheet.results["cycle.total_s"],
            -found.sheet.results["force_N"],
            found.sheet.results["cost.outlay"] - spent,
        ],
        axis=1,
    )
    strength = f"at least {show(least, 'force', study.system)} of force"
    rival = None

    def way(row: int | None) -> Plan | None:
        if row is None:
            return None
        return plan_to(space, study.setting, start, found.indices[row], least)

    if wish.parts is not None:
        goal = "the parts named"
        row = space.indices_of({**study.fitted, **wish.parts})
        plan: Plan | None = plan_to(space, study.setting, start, row, least)
        assert plan is not None
        outlay = float(plan.sheet.results["cost.outlay"][-1]) - spent
        rival = way(goal_for_budget(points, outlay, least))
    elif wish.budget is not None:
        goal = f"the quickest machine for {money(study, wish.budget)} with {strength}"
        plan = way(goal_for_budget(points, wish.budget, least))
    elif wish.target is not None:
        goal = (
            f"the cheapest machine with a cycle of {show(wish.target, 'time', study.system)} or "
            f"less and {strength}"
        )
        plan = way(goal_for_time(points, wish.target, least))
    else:
        goal = (
            f"the machine where more money begins to buy little time (knee of the front), with "
            f"{strength}"
        )
        plan = way(goal_at_knee(points, least))
    return NextSteps(study, space, steps, found, goal, plan, rival)


# --- numbers ------------------------------------------------------------------------------------


def gains(before: Sheet, after: Sheet, lane: int, lane_before: int = 0) -> dict[str, float]:
    """What a machine gains over another, by the keys of :data:`GAINS`."""
    return {
        key: sign * float(after.results[result][lane] - before.results[result][lane_before])
        for key, (result, sign) in GAINS.items()
    }


def outlay_of(steps: Steps, sheet: Sheet, lane: int) -> float:
    """Money from the machine asked about to another."""
    return float(sheet.results["cost.outlay"][lane] - steps.base.results["cost.outlay"][0])


def seconds_per_money(saved: float, outlay: float) -> float:
    """Seconds off a piece for each unit of money; infinite where it costs nothing."""
    if outlay > FREE:
        return saved / outlay
    return math.inf if saved > LEAST_GAIN else 0.0


def crossed_by(sheet: Sheet, lane: int) -> list[str]:
    """Hard limits that a machine crosses, the worst first."""
    worst = sorted(
        (float(np.nan_to_num(reading.margin[lane], nan=-np.inf)), reading.limit.name)
        for reading in sheet.limits
        if reading.limit.kind == "hard" and not reading.kept[lane]
    )
    return [name for _, name in worst]


def bill(
    space: Space, before: NDArray[np.intp], after: NDArray[np.intp], study: Study
) -> dict[str, float]:
    """Price, hours, labour and resale of the parts that differ."""
    price = hours = resale = 0.0
    for place in np.flatnonzero(before != after):
        parts = space.lists[place].parts
        price += float(np.asarray(parts.price)[after[place]])
        hours += float(np.asarray(parts.fitting_time)[after[place]]) / 3600.0
        resale += float(np.asarray(parts.resale)[before[place]])
    labour = hours * study.money.labour_rate
    return {"price": price, "hours": hours, "labour": labour, "resale": resale}


def changed_parts(
    space: Space, before: NDArray[np.intp], after: NDArray[np.intp]
) -> dict[str, str]:
    """Parts of one machine that another does not have, by category."""
    names = space.names(after)
    return {
        space.categories[place]: names[space.categories[place]]
        for place in np.flatnonzero(before != after)
    }


def ranked(found: NextSteps) -> list[int]:
    """Changes that are good alone, most seconds a piece for the money first.

    Seconds that the operator's hands need anyway do not count. More seconds of the cycle break a
    tie.
    """
    steps = found.steps

    def key(nth: int) -> tuple[float, float, int]:
        gained = gains(steps.base, steps.sheet, nth)
        rate = seconds_per_money(gained["piece_s"], outlay_of(steps, steps.sheet, nth))
        return -rate, -gained["cycle_s"], nth

    return sorted(np.flatnonzero(steps.good_alone).tolist(), key=key)


def in_company(found: NextSteps) -> list[int]:
    """Changes that are good with others only, the one whose bundle gains most first."""
    steps = found.steps
    needy = np.flatnonzero(~steps.good_alone & (steps.bundle >= 0)).tolist()
    return sorted(
        needy,
        key=lambda nth: (
            -gains(steps.base, steps.bundle_sheet, int(steps.bundle[nth]))["piece_s"],
            nth,
        ),
    )


def useless(found: NextSteps) -> list[int]:
    """Changes that no bundle makes good, the one that would gain most first."""
    steps = found.steps
    left = np.flatnonzero(~steps.good_alone & (steps.bundle < 0)).tolist()
    return sorted(left, key=lambda nth: (-gains(steps.base, steps.sheet, nth)["cycle_s"], nth))


def on_the_front(found: NextSteps, nth: int) -> int | None:
    """Cheapest machine of the front with a part that is quicker and has the force asked for."""
    steps, front = found.steps, found.front
    place = int(steps.category[nth])
    results = front.sheet.results
    fit = np.flatnonzero(
        (front.indices[:, place] == steps.rows[nth][place])
        & (results["cycle.total_s"] < steps.base_time - LEAST_GAIN)
        & (results["force_N"] >= steps.least_force)
    )
    if len(fit) == 0:
        return None
    return int(fit[np.lexsort((results["cycle.total_s"][fit], results["cost.outlay"][fit]))[0]])


def why_not_alone(found: NextSteps, nth: int) -> str:
    """What is wrong with a change on its own."""
    steps, study = found.steps, found.study
    crossed = crossed_by(steps.sheet, nth)
    if crossed:
        return f"crosses {title(found, crossed[0])}"
    if not steps.strong[nth]:
        lost = -gains(steps.base, steps.sheet, nth)["force_N"]
        return f"loses {show(lost, 'force', study.system, 3)} of force"
    slower = -gains(steps.base, steps.sheet, nth)["cycle_s"]
    if slower > SHOWN_TIME:
        return f"makes the cycle {show(slower, 'time', study.system, 3)} longer"
    return "gains no time"


# --- what to do ---------------------------------------------------------------------------------


def advice(found: NextSteps) -> list[str]:
    """Sentences to act on: what to put on first, what to leave, and what the last step costs."""
    said = [_first(found)]
    stopped = in_company(found)
    if stopped:
        said.append(_not_alone(found, stopped[0]))
    worth = _last(found)
    return [*said, worth] if worth else said


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]


def title(found: NextSteps, name: str) -> str:
    """Words of a limit, as they stand in a sentence."""
    return title_of(found.study, name)


def title_of(study: Study, name: str) -> str:
    """Words of a limit of a study, as they stand in a sentence."""
    titles = {limit.name: limit.title for limit in limits_of(study.setting)}
    return inside(titles[name])


def _first(found: NextSteps) -> str:
    plan, study = found.plan, found.study
    if plan is None:
        return f"Nothing in the lists does that: asked for was {found.goal}.{_reachable(found)}"
    if len(plan.rows) < 2:
        return (
            "Keep what is on the machine: within this wish nothing of the lists is quicker and as "
            "strong."
        )
    crossed = crossed_by(plan.sheet, len(plan.rows) - 1)
    if crossed:
        titles = _listed([title(found, name) for name in crossed])
        return f"Do not go for these parts: with all of them on the machine crosses {titles}."
    gained = gains(plan.sheet, plan.sheet, 1, 0)
    saved = gained["cycle_s"]
    parts = list(changed_parts(found.space, plan.rows[0], plan.rows[1]).values())
    outlay = float(plan.sheet.results["cost.outlay"][1] - plan.sheet.results["cost.outlay"][0])
    before = show(float(plan.sheet.results["cycle.total_s"][0]), "time", study.system, 3)
    margin = float(plan.sheet.least_margin[1])
    if saved > SHOWN_TIME:
        gain = f"that takes {show(saved, 'time', study.system, 3)} off a cycle of {before}"
        if gained["piece_s"] < LITTLE * saved:
            gain += ", but next to nothing off a piece, for the hands are slower,"
    elif saved < -SHOWN_TIME:
        gain = f"that makes a cycle of {before} {show(-saved, 'time', study.system, 3)} longer"
    else:
        gain = "that gains next to no time itself"
    return (
        f"Put on {_listed(parts)} first: {gain} for {money(study, outlay)}"
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
    quickest = show(float(results["cycle.total_s"][strong].min()), "time", found.study.system, 3)
    return f" The quickest with that force takes {quickest}."


def _room_for(found: NextSteps, plan: Plan, saved: float) -> str:
    """The step of the plan that a first one of little gain is there for; nothing if none.

    It is there for it when a limit that the later step crosses alone is kept with both.
    """
    times = plan.sheet.results["cycle.total_s"]
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
        f", and makes room for {_listed(parts)}, which without it {crosses} "
        f"{title(found, freed[0])}"
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
    saved = gains(steps.base, steps.bundle_sheet, row)["cycle_s"]
    return (
        f"Do not put on {part} alone: it {why_not_alone(found, nth)}. With {_listed(others)} it "
        f"takes {show(saved, 'time', study.system, 3)} off the cycle for "
        f"{money(study, outlay_of(steps, steps.bundle_sheet, row))}."
    )


def _last(found: NextSteps) -> str:
    """How far the plan pays for itself; nothing without rates."""
    plan, study = found.plan, found.study
    if plan is None or len(plan.rows) < 2 or study.money.hourly_worth <= 0.0:
        return ""
    if not plan.sheet.feasible[-1]:
        return ""
    period = plan.sheet.results["work.piece_period_s"]
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
        return said + "by that measure no part of the plan pays."
    left = f"leaves {money(study, float(ahead[best]))} over its cost"
    if best == len(plan.rows) - 1:
        return said + f"the plan pays to its last step and {left}."
    parts = list(changed_parts(found.space, plan.rows[best - 1], plan.rows[best]).values())
    lost = money(study, float(ahead[best] - ahead[-1]))
    return (
        said
        + f"the plan {left} if you stop after {_listed(parts)}; the rest costs {lost} more than "
        "it brings."
    )
