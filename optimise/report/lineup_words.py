"""The line of models and the upgrade kits for people: sentences, and tables on a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.machine.limits import limits_of
from optimise.machine.sheet import Sheet, sheet_of
from optimise.report.text import CAUTIONS, inside, money, percent
from optimise.search.front import Blocking, FrontAnswer
from optimise.search.kits import Kit, Kits, upgrade_kits
from optimise.search.lineup import (
    LISTED,
    Line,
    LineupAnswer,
    Model,
    Need,
    Stopped,
    betters,
    new_setting,
    study_lineup,
)
from optimise.search.problem import Progress
from optimise.study.model import Study
from optimise.units import System, show

HOUR = 3600.0
COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")
MOST_STOPPING = 3
"""Limits that are named where no machine does for a group."""
BEST_VALUE = "most seconds for the money, no weaker"


@dataclass(frozen=True)
class LineupReport:
    """All that is said of the lines of a study, with the sheet of each different model."""

    study: Study
    answer: LineupAnswer
    kits: Kits
    rows: tuple[tuple[int, ...], ...]
    sheet: Sheet | None

    def margin(self, model: Model) -> tuple[float, str]:
        """Least margin of a model's hard limits, and the limit that has it."""
        if self.sheet is None:
            raise ValueError("a line without models has no margins")
        lane = self.rows.index(model.row)
        return float(self.sheet.least_margin[lane]), str(self.sheet.binding[lane])


def lineup_report(
    study: Study,
    models: int | None = None,
    progress: Progress | None = None,
    front: FrontAnswer | None = None,
    by_piece: FrontAnswer | None = None,
) -> LineupReport:
    """Find lines and kits; ``models`` asks for one line.

    Fronts of the machines that the study searches may be handed over: of cycle times, and by the
    time per piece.
    """
    answer = study_lineup(study, models, progress)
    kits = upgrade_kits(study, answer.needs, answer.terms, progress, front, by_piece)
    rows = tuple(dict.fromkeys(model.row for line in answer.lines for model in line.models))
    sheet = None
    if rows:
        machines = answer.space.machine(np.asarray(rows, dtype=np.intp))
        sheet = sheet_of(machines, new_setting(study))
    return LineupReport(study, answer, kits, rows, sheet)


# --- what to do ---------------------------------------------------------------------------------


def and_words(words: Sequence[str]) -> str:
    """Names in a row, the last after an "and"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _count(number: int, thing: str) -> str:
    word = COUNTS[number] if number < len(COUNTS) else str(number)
    return f"{word} {thing}{'' if number == 1 else 's'}"


def _names(answer: LineupAnswer, groups: Sequence[int]) -> str:
    return and_words([answer.needs[group].name for group in groups])


def shown_lines(answer: LineupAnswer) -> tuple[Line, ...]:
    """Lines that are shown, by the models allowed."""
    return answer.lines[: max(LISTED, answer.chosen + 1)]


def keeps_most(answer: LineupAnswer) -> int:
    """Place of the line of which the shop keeps most, the shortest of equals."""
    keeps = [line.contribution for line in shown_lines(answer)]
    return next(nth for nth, one in enumerate(keeps) if not betters(max(keeps), one))


def kit_words(kit: Kit) -> str:
    """Parts of a kit."""
    return "; ".join(kit.parts.values()) or "none: the machine as it is does"


def terms_sentences(found: LineupReport) -> tuple[str, ...]:
    """What a line is worth, and whether it is proven that no other is worth more."""
    study, answer = found.study, found.answer
    proven = (
        "Proven: no other line is worth more."
        if answer.proven
        else "Not proven: too many machines come near the cheapest, and only the nearest were "
        f"tried. Another line could be worth {money(study, answer.gap)} more at most."
    )
    return (
        proven,
        "A line is worth what its buyers pay at most, less the parts of the machines sold "
        f"to them, less {money(study, answer.terms.model_cost)} a model and a stock of "
        f"{answer.terms.stock:g} of each different part. Of that the shop keeps its share at cost "
        f"and a margin of {100.0 * answer.terms.margin:.0f} % of the price; hours of building are "
        "not in the cost. Cycle times are without a log.",
    )


def _no_machine(study: Study, need: Need, stopped: Stopped, blocking: Sequence[Blocking]) -> str:
    """Why no machine does for a group, and the limits that stop most."""
    system = study.system
    titles = {limit.name: inside(limit.title) for limit in limits_of(study.setting)}
    most = [
        f"{titles[one.name]} stops {100.0 * one.crossed:.0f} %" for one in blocking[:MOST_STOPPING]
    ]
    limits = f"; in a sample of them {and_words(most)}" if most else ""
    if stopped.none_feasible:
        return f"no machine of these lists keeps every hard limit{limits}"
    if stopped.blocking:
        return (
            "every machine of these lists that is quick and strong enough for them crosses a hard "
            f"limit{limits}"
        )
    if stopped.least_time > need.cycle_time:
        quickest = show(stopped.least_time, "time", system)
        return f"no machine of these lists is quick enough for them: the quickest takes {quickest}"
    if stopped.most_force < need.force:
        strongest = show(stopped.most_force, "force", system)
        return f"no machine of these lists is strong enough for them: the strongest has {strongest}"
    return "no machine of these lists is as quick and as strong at once as they ask"


def why_left_out(study: Study, answer: LineupAnswer, group: int, *, brief: bool = False) -> str:
    """Why a group is not served, as a part of a sentence; ``brief`` names no limits."""
    need, cost = answer.needs[group], answer.cheapest[group]
    stopped = answer.stops[group]
    if stopped is not None:
        return _no_machine(study, need, stopped, () if brief else stopped.blocking)
    if cost > answer.terms.highest_cost(need.price):
        price = answer.terms.price(cost)
        over = price - need.price
        return (
            f"the cheapest machine that does for them sells at {money(study, price)}, "
            f"{money(study, math.ceil(over))} over what they pay"
        )
    if group in answer.lines[-1].served():
        many = _count(answer.line.most, "model")
        return f"no more than {many} may be built, and a longer line would serve them"
    return "what they pay over the parts does not bring in the stock and cost of another model"


def advice(study: Study, answer: LineupAnswer) -> tuple[str, ...]:
    """Sentences that the shop can act on: what to build, one more, and the shop's own share."""
    line = answer.line
    left = [group for group in range(len(answer.needs)) if group not in line.served()]
    if not line.models:
        return (_build_none(study, answer),)
    served = [
        f"{letter_of(nth)} for {_names(answer, model.serves)} at {money(study, model.price)}"
        for nth, model in enumerate(line.models)
    ]
    build = f"Build {_count(len(line.models), 'model')}: {and_words(served)}"
    if len(line.models) > 1:
        build += f", with {_count(len(line.shared), 'part')} in common"
    for group in left:
        build += f"; leave out {answer.needs[group].name}, because "
        build += why_left_out(study, answer, group)
    return f"{build}.", _next_model(study, answer), *_for_the_shop(study, answer)


def _build_none(study: Study, answer: LineupAnswer) -> str:
    over = [
        answer.terms.price(cost) - need.price
        for need, cost in zip(answer.needs, answer.cheapest, strict=True)
    ]
    nearest = int(np.argmin(over))
    reason = why_left_out(study, answer, nearest)
    return (
        f"Build no model for these buyers: nearest are {answer.needs[nearest].name}, and {reason}."
    )


def _next_model(study: Study, answer: LineupAnswer) -> str:
    line, chosen = answer.line, answer.chosen
    spare = line.most - len(line.models)
    further = next(
        (more for more in range(1, len(answer.lines) - chosen) if answer.gain(chosen, more) > 0.0),
        0,
    )
    if further:
        gain = money(study, answer.gain(chosen, further))
        words = f"{_count(further, 'more model').capitalize()} would bring {gain} more"
    elif spare:
        words = f"{_count(spare, 'more model').capitalize()} would bring nothing"
    else:
        words = f"One more model would bring nothing: stop at {_count(line.most, 'model')}"
    return f"{words}."


def _for_the_shop(study: Study, answer: LineupAnswer) -> tuple[str, ...]:
    """Says so where the shop itself keeps most of another line than the one to build."""
    line, best = answer.line, answer.lines[keeps_most(answer)]
    if not betters(best.contribution, line.contribution):
        return ()
    many, other = (_count(len(one.models), "model") for one in (line, best))
    short = money(study, math.ceil(best.contribution - line.contribution))
    return (
        f"That is best for shop and buyers together ({money(study, line.worth)}). For the shop "
        f"alone, at these prices of cost and margin, {other} keep"
        f"{'s' * (len(best.models) == 1)} most: {money(study, best.contribution)} against "
        f"{money(study, line.contribution)} with {many}. Build {other}, or {many} if buyers pay "
        f"{short} more between them.",
    )


def letter_of(nth: int) -> str:
    """Name of a model of a line."""
    return chr(ord("A") + nth)


# --- for people ---------------------------------------------------------------------------------


def print_lineup(console: Console, found: LineupReport) -> None:
    """Lines by size, the models of the one chosen, the kits, and what to do."""
    study, answer = found.study, found.answer
    console.print(Text(study.title or study.name, style="bold"))
    console.print(
        f"{answer.space.size:,} new machines can be built from these lists; "
        f"{answer.candidates:,} of them may be in a best line. Found in {answer.seconds:.1f} s."
    )
    for sentence in terms_sentences(found):
        console.print(sentence)
    console.print()
    _print_lines(console, found)
    _print_models(console, found)
    _print_buyers(console, found)
    _print_kits(console, found)
    for sentence in advice(study, answer):
        console.print(Text(sentence))
    console.print(Text(CAUTIONS, style="italic"))


def _print_lines(console: Console, found: LineupReport) -> None:
    study, answer = found.study, found.answer
    table = Table(
        "models", "worth", "one more brings", "shop's share", "stock", "saved by sharing", "serves",
        box=None, pad_edge=False,
    )  # fmt: skip
    for nth, line in enumerate(shown_lines(answer)):
        fewer = "" if len(line.models) == line.most else f" ({len(line.models)} used)"
        amounts = (line.worth, answer.gain(nth), line.contribution)
        groups = [_names(answer, model.serves) for model in line.models]
        table.add_row(
            f"{line.most}{fewer}",
            *(money(study, amount) for amount in amounts),
            money(study, line.stock_cost),
            money(study, line.shared_saving),
            Text(" | ".join(groups) or "nobody"),
            style="bold" if nth == answer.chosen else "",
        )
    console.print(table)
    console.print()


def _print_models(console: Console, found: LineupReport) -> None:
    study, answer = found.study, found.answer
    line, system = answer.line, study.system
    if not line.models:
        return
    shared = set(line.shared)
    table = Table(
        "model", "serves", "price", "cost", "cycle", "force", "least margin",
        box=None, pad_edge=False,
    )  # fmt: skip
    for nth, model in enumerate(line.models):
        table.add_row(
            letter_of(nth),
            Text(_names(answer, model.serves)),
            money(study, model.price),
            money(study, model.cost),
            show(model.cycle_time, "time", system),
            show(model.force, "force", system),
            percent(found.margin(model)[0]),
        )
    console.print(table)
    console.print()
    parts = Table("part", *(letter_of(nth) for nth in range(len(line.models))), box=None)
    for place, prices in enumerate(answer.space.lists):
        names = []
        for model in line.models:
            mark = " *" if (place, model.row[place]) in shared else ""
            names.append(Text(prices.names[model.row[place]] + mark))
        parts.add_row(prices.category.replace("_", " "), *names)
    console.print(parts)
    if shared:
        console.print("* in more than one model")
    console.print()


def _print_buyers(console: Console, found: LineupReport) -> None:
    study, answer = found.study, found.answer
    table = Table(
        "buyers", "number", "force at least", "cycle at most", "pay at most", "buy",
        box=None, pad_edge=False,
    )  # fmt: skip
    for group, need in enumerate(answer.needs):
        served = [
            letter_of(nth) for nth, model in enumerate(answer.line.models) if group in model.serves
        ]
        table.add_row(
            Text(need.name),
            f"{need.number:g}",
            show(need.force, "force", study.system),
            show(need.cycle_time, "time", study.system),
            money(study, need.price),
            Text(
                served[0] if served else f"none: {why_left_out(study, answer, group, brief=True)}"
            ),
        )
    console.print(table)
    console.print()


def _gained(kit: Kit, system: System) -> str:
    """Seconds off a piece to the hundredth, without a sign where they are none."""
    return show(round(kit.seconds_gained, 2) + 0.0, "time", system)


def _print_kits(console: Console, found: LineupReport) -> None:
    study, kits, system = found.study, found.kits, found.study.system
    console.print(
        "Upgrade kits, fitted, for a machine such as the one owned ("
        f"{show(kits.piece_time, 'time', system)} a piece, cycle without a log "
        f"{show(kits.cycle_time, 'time', system)}, {show(kits.force, 'force', system)}); the shop "
        "takes back what comes off. Gains are seconds off a piece, hands and wood and all:"
    )
    table = Table(
        "kit for", "price", "hours", "cycle", "a piece", "force", "gains", "price per second",
        "parts",
        box=None, pad_edge=False,
    )  # fmt: skip
    named = [need.name for need in found.answer.needs]
    rows = [*zip(named, kits.for_groups, strict=True), (BEST_VALUE, kits.best_value)]
    for name, kit in rows:
        if kit is None:
            table.add_row(Text(name), *[""] * 7, Text("no kit does"))
            continue
        each = kit.per_second
        table.add_row(
            Text(name),
            money(study, kit.price),
            f"{kit.fitting_time / HOUR:.1f}",
            show(kit.cycle_time, "time", system),
            show(kit.piece_time, "time", system),
            show(kit.force, "force", system),
            _gained(kit, system),
            "" if each is None else money(study, each),
            Text(kit_words(kit)),
        )
    console.print(table)
    console.print()
