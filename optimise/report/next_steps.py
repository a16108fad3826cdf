"""Steps from the machine owned, ranked, and the plan for a wish."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from optimise.errors import CallError, Fault, quoted
from optimise.machine.limits import limits_of
from optimise.machine.parts import CATEGORIES
from optimise.machine.sheet import Sheet, sheet_of
from optimise.report.text import SHOWN_TIME, inside, money
from optimise.search.front import FrontAnswer, find_front
from optimise.search.goals import CYCLE, LEAST_GAIN, PACES, PIECE
from optimise.search.plan import Plan, goal_at_knee, goal_for_budget, goal_for_time, plan_to
from optimise.search.steps import Steps, find_steps
from optimise.study.fault_words import meant
from optimise.study.model import PriceList, Study
from optimise.study.space import Space, upgrade_space
from optimise.units import UnitFault, parse, show

GAINS = {
    "extend_s": ("cycle.extend_s", -1.0),
    "retract_s": ("cycle.retract_s", -1.0),
    "cycle_s": (CYCLE, -1.0),
    "piece_s": (PIECE, -1.0),
    "force_N": ("force_N", 1.0),
    "heat_W": ("oil.heat_W", 1.0),
    "oil_steady_K": ("oil.steady_degC", 1.0),
}
"""Change of a machine by key: the result that it is read from, and the sign under which it is said:
seconds count as saved, all else as added."""
GAIN_KINDS = {
    **dict.fromkeys(GAINS, "time"),
    "force_N": "force",
    "heat_W": "power",
    "oil_steady_K": "temperature_difference",
}
"""Kind of unit of each."""
FREE = 0.005
"""Outlay under which a step costs nothing."""
SHOWN_STEPS, SHOWN_STOPPED = 12, 8


@dataclass(frozen=True)
class Pace:
    """Words of the time that counts.

    Attributes
    ----------
    gain
        Its key in :data:`GAINS`.
    title
        Its name.
    whole
        What it is taken off.
    quickest, within
        A machine that has the least of it, or no more than a time that is put in.
    """

    gain: str
    title: str
    whole: str
    quickest: str
    within: str


PACE_WORDS = {
    PIECE: Pace(
        "piece_s",
        "time per piece",
        "every piece",
        "that splits a piece quickest",
        "that takes {} or less for a piece",
    ),
    CYCLE: Pace(
        "cycle_s",
        "cycle",
        "the cycle",
        "with the quickest cycle",
        "with a cycle of {} or less",
    ),
}


@dataclass(frozen=True)
class Wish:
    """What the plan is to reach; at most one of the first three is stated.

    Attributes
    ----------
    budget
        Most outlay.
    target
        Longest time [s] of the kind that counts.
    parts
        Parts of a goal that is pinned, by category.
    least_force
        Least force at relief [N]; that of the machine asked about where it is not stated.
    by
        Which time counts, a key of ``optimise.search.goals.PACES``.
    """

    budget: float | None = None
    target: float | None = None
    parts: Mapping[str, str] | None = None
    least_force: float | None = None
    by: str = "piece"


@dataclass(frozen=True)
class NextSteps:
    """All that is said of the steps from one machine.

    Attributes
    ----------
    wish
        What was asked for.
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
    wish: Wish
    goal: str
    plan: Plan | None
    rival: Plan | None

    @property
    def pace(self) -> Pace:
        """Words of the time that counts."""
        return PACE_WORDS[self.steps.pace]

    @cached_property
    def beaten(self) -> frozenset[int]:
        """Bundles that some of their own parts beat: no dearer and, as shown, as quick."""
        steps, tried, of = self.steps, [], []
        for lane, bundle in enumerate(steps.bundles):
            places = np.flatnonzero(bundle != steps.owned)
            for count in range(1, len(places)):
                for some in combinations(places, count):
                    row = steps.owned.copy()
                    row[list(some)] = bundle[list(some)]
                    tried.append(row)
                    of.append(lane)
        if not tried:
            return frozenset()
        sheet = sheet_of(self.space.machine(np.stack(tried)), self.study.setting)
        whole, lanes = steps.bundle_sheet.results, np.array(of)
        results = sheet.results
        better = (
            sheet.feasible
            & (results["force_N"] >= steps.least_force)
            & (results[steps.pace] <= whole[steps.pace][lanes] + SHOWN_TIME)
            & (results["cost.outlay"] <= whole["cost.outlay"][lanes])
        )
        return frozenset(lanes[better].tolist())


def read_wish(
    lists: Mapping[str, PriceList] | None,
    budget: str | None,
    target: str | None,
    force: str | None,
    parts: Sequence[str],
    by: str = "piece",
) -> Wish:
    """Wish from the words of a call.

    Parameters
    ----------
    lists
        Price lists of the study by category; None where they cannot be read, so that names of
        parts are not looked up.

    Raises
    ------
    CallError
        With every fault: more than one goal, quantities out of range, parts of no list.
    """
    faults: list[Fault] = []
    said: list[str] = []
    if sum((budget is not None, target is not None, bool(parts))) > 1:
        said.append("--budget, --target and --to each name a goal: give one of them")

    def read(option: str, text: str | None, kind: str, wanted: str) -> float | None:
        if text is None:
            return None
        place = f"--{option} {text}"
        try:
            value = parse(text, kind)
        except UnitFault as fault:
            faults.append(Fault("", place, fault.found, fault.expected, fault.hint))
            return None
        if value < 0.0 or (value == 0.0 and kind != "money"):
            faults.append(Fault("", place, quoted(text), wanted))
        return value

    most = read("budget", budget, "money", "an amount of money of 0 or more")
    longest = read("target", target, "time", "a time above 0")
    pinned: dict[str, str] = {}
    for one in parts:
        place = f"--to {one}"
        category, equals, name = (word.strip() for word in one.partition("="))
        if not equals or category not in CATEGORIES:
            found = quoted(category if equals else one)
            hint = meant(category, CATEGORIES) if equals else ""
            faults.append(Fault("", place, found, "CATEGORY=PART, with a part category", hint))
            continue
        if category in pinned:
            faults.append(Fault("", place, f"{category} for a second time", "one part of each"))
        elif lists is not None and name not in lists[category].names:
            hint = meant(name, lists[category].names)
            faults.append(Fault("", place, quoted(name), f"a name of {category}.csv", hint))
        pinned[category] = name
    least_force = read("force", force, "force", "a force above 0")
    if said or faults:
        raise CallError("\n".join([*said, *map(str, faults)]))
    return Wish(most, longest, pinned or None, least_force, by)


def next_steps(study: Study, wish: Wish, front: FrontAnswer | None = None) -> NextSteps:
    """Steps, goal and plan of a study; its front by the time that counts may be handed over."""
    space, start = upgrade_space(study)
    goals = PACES[wish.by]
    steps = find_steps(space, study.setting, start, wish.least_force, goals)
    found = front or find_front(space, study.setting, goals=goals)
    assert found.objectives == goals.keys
    pace = PACE_WORDS[steps.pace]
    base, least = steps.base.results, steps.least_force
    spent = float(base["cost.outlay"][0])
    points = np.stack(
        [
            found.sheet.results[steps.pace],
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
        return plan_to(space, study.setting, start, found.indices[row], least, goals)

    if wish.parts is not None:
        goal = "the parts named"
        row = space.indices_of({**study.fitted, **wish.parts})
        plan: Plan | None = plan_to(space, study.setting, start, row, least, goals)
        assert plan is not None
        outlay = float(plan.sheet.results["cost.outlay"][-1]) - spent
        rival = way(goal_for_budget(points, outlay, least))
    elif wish.budget is not None:
        goal = f"the machine {pace.quickest} for {money(study, wish.budget)}, with {strength}"
        plan = way(goal_for_budget(points, wish.budget, least))
    elif wish.target is not None:
        longest = show(wish.target, "time", study.system)
        goal = f"the cheapest machine {pace.within.format(longest)}, with {strength}"
        plan = way(goal_for_time(points, wish.target, least))
    else:
        goal = (
            f"the machine from which on more money buys little time (knee of the front by "
            f"{pace.title}), with {strength}"
        )
        plan = way(goal_at_knee(points, least))
    return NextSteps(study, space, steps, found, wish, goal, plan, rival)


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
    """Seconds for each unit of money; infinite where it costs nothing."""
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
    """Changes that are good alone, most seconds that count for the money first.

    More seconds of the cycle break a tie.
    """
    steps = found.steps

    def key(nth: int) -> tuple[float, float, int]:
        gained = gains(steps.base, steps.sheet, nth)
        rate = seconds_per_money(gained[found.pace.gain], outlay_of(steps, steps.sheet, nth))
        return -rate, -gained["cycle_s"], nth

    return sorted(np.flatnonzero(steps.good_alone).tolist(), key=key)


def in_company(found: NextSteps) -> list[int]:
    """Changes that are good with others only, the one whose bundle gains most first.

    A bundle that some of its own parts beat is none: the change adds nothing to them.
    """
    steps = found.steps
    needy = np.flatnonzero(~steps.good_alone & (steps.bundle >= 0)).tolist()
    return sorted(
        (nth for nth in needy if int(steps.bundle[nth]) not in found.beaten),
        key=lambda nth: (
            -gains(steps.base, steps.bundle_sheet, int(steps.bundle[nth]))[found.pace.gain],
            nth,
        ),
    )


def useless(found: NextSteps) -> list[int]:
    """Changes that no bundle makes good, the one that would gain most first."""
    steps = found.steps
    left = np.flatnonzero(~steps.good_alone).tolist()
    company = frozenset(in_company(found))
    return sorted(
        (nth for nth in left if nth not in company),
        key=lambda nth: (-gains(steps.base, steps.sheet, nth)[found.pace.gain], nth),
    )


def on_the_front(found: NextSteps, nth: int) -> int | None:
    """Cheapest machine of the front with a part that is quicker and has the force asked for."""
    steps, front = found.steps, found.front
    place = int(steps.category[nth])
    results = front.sheet.results
    fit = np.flatnonzero(
        (front.indices[:, place] == steps.rows[nth][place])
        & (results[steps.pace] < steps.base_time - LEAST_GAIN)
        & (results["force_N"] >= steps.least_force)
    )
    if len(fit) == 0:
        return None
    return int(fit[np.lexsort((results[steps.pace][fit], results["cost.outlay"][fit]))[0]])


def why_not_alone(found: NextSteps, nth: int, most: int = 1) -> str:
    """What is wrong with a change on its own; so many of the limits it crosses are named."""
    steps, study = found.steps, found.study
    crossed = crossed_by(steps.sheet, nth)
    if crossed:
        named = [title(found, name) for name in crossed[:most]]
        more = [f"{len(crossed) - most} more"] if len(crossed) > most else []
        return f"crosses {listed([*named, *more])}"
    if not steps.strong[nth]:
        lost = -gains(steps.base, steps.sheet, nth)["force_N"]
        return f"loses {show(lost, 'force', study.system, 3)} of force"
    gained = gains(steps.base, steps.sheet, nth)
    if gained[found.pace.gain] < -SHOWN_TIME:
        slower = seconds(found, -gained[found.pace.gain])
        return f"makes {found.pace.whole} {slower} longer"
    if gained["cycle_s"] > SHOWN_TIME:
        quicker = seconds(found, gained["cycle_s"])
        return f"takes {quicker} off the cycle without a log but nothing off a piece"
    return "gains no time"


def listed(words: Sequence[str]) -> str:
    """Words in a row, "and" before the last."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def seconds(found: NextSteps, saved: float) -> str:
    """Time as a stopwatch tells it."""
    return show(round(saved, 2), "time", found.study.system, 3)


def title(found: NextSteps, name: str) -> str:
    """Words of a limit, as they stand in a sentence."""
    return title_of(found.study, name)


def title_of(study: Study, name: str) -> str:
    """Words of a limit of a study, as they stand in a sentence."""
    titles = {limit.name: limit.title for limit in limits_of(study.setting)}
    return inside(titles[name])
