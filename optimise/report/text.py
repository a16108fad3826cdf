"""Answers in words and tables for the terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimise.machine.findings import FINDINGS
from optimise.machine.limits import limits_of
from optimise.machine.results import RESULTS, result_named
from optimise.machine.sheet import LimitReading, Sheet
from optimise.report.doubt import between, chance_words, range_sentences
from optimise.search.alike import Apart, apart
from optimise.search.chances import DRAWS
from optimise.search.front import OBJECTIVES, FrontAnswer
from optimise.search.ranges import Ranges
from optimise.search.sureness import Sureness
from optimise.study.model import MEASURED_RESULTS, Study
from optimise.study.space import Space
from optimise.units import System, show

CAUTIONS = (
    "These figures are estimates, not a certificate. Oil under pressure cuts skin at a pinhole: "
    "never feel for a leak, and take any such wound to a hospital at once. Keep hands away from "
    "wedge and plate; a quicker ram leaves less time. Keep the relief valve, two-hand control and "
    "guards as they must be, and never set the relief above the lowest rating. Oil, pump and "
    "exhaust burn; run the engine outdoors only. An overloaded rod can buckle without warning. "
    "Changes may end a maker's approval: local codes, the makers and licensed practice decide."
)
SHOWN_DESIGNS = 12


def written(
    sheet: Sheet, key: str, system: System, lane: tuple[int, ...] = (), currency: str = ""
) -> str:
    """Result of one machine with its unit; money has its currency where that is named."""
    kind = result_named(key).unit
    return with_currency(show(float(sheet.results[key][lane]), kind, system), kind, currency)


def with_currency(words: str, kind: str, currency: str) -> str:
    """Amount as written, with its currency where it is money, alone or for a volume.

    Examples
    --------
    >>> with_currency("1.321 /ft³", "volume_price", "USD"), with_currency("3.5 in", "length", "USD")
    ('1.321 USD/ft³', '3.5 in')
    """
    if not currency:
        return words
    if kind == "volume_price":
        return words.replace(" /", f" {currency}/")
    return f"{words} {currency}" if kind == "money" else words


def percent(share: float) -> str:
    """Margin as a person reads it."""
    return "unknown" if not np.isfinite(share) else f"{100.0 * share:+.0f} %"


def money(study: Study, amount: float) -> str:
    """Amount in whole units with its currency; halves go away from zero, as on the page."""
    return in_currency(amount, study.currency)


SHOWN_TIME = 0.005
"""Time [s] under which a difference is not spoken of."""


def in_currency(amount: float, currency: str) -> str:
    """Amount of money as :func:`money` writes it.

    Examples
    --------
    >>> in_currency(-1292.5, "USD")
    '-1,293 USD'
    """
    whole = math.floor(abs(amount) + 0.5)
    return f"{'-' * (amount < 0.0 and whole > 0)}{whole:,} {currency}".strip()


def round_money(rates: Sequence[float]) -> int:
    """Round sum of money, 100 or more, that buys a second or so at the best of some rates [s]."""
    known = [rate for rate in rates if math.isfinite(rate) and rate > 0.0]
    return int(10 ** max(2, math.ceil(-math.log10(max(known))))) if known else 100


def inside(words: str) -> str:
    """Words of their own as they stand inside a sentence.

    Examples
    --------
    >>> inside("Take wider hoses."), inside("ISO grade")
    ('take wider hoses.', 'ISO grade')
    """
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]


def opening(words: str) -> str:
    """Words as they begin a sentence; the rest keeps its letters.

    Examples
    --------
    >>> opening("above 25 degC")
    'Above 25 degC'
    """
    return words[:1].upper() + words[1:]


def limit_row(reading: LimitReading, system: System) -> tuple[str, str, str, str, str]:
    """Limit, value, bound, margin and whether it is kept, in words."""
    limit = reading.limit
    crossed = "CROSSED" if limit.kind == "hard" else "crossed, advisory"
    bound = f"{limit.sense} {show(float(reading.bound), limit.unit, system)}"
    value = show(float(reading.value), limit.unit, system)
    return (
        limit.title,
        value,
        bound,
        percent(float(reading.margin)),
        "kept" if reading.kept else crossed,
    )


def findings_of(sheet: Sheet, system: System) -> list[str]:
    """Sentences that are to be said of one machine."""
    return [
        finding.sentence(lambda key: written(sheet, key, system))
        for finding in FINDINGS
        if finding.holds(sheet.results)
    ]


CORRECTED = (
    "Worked out with the constants that fit the measurements best, not with those of the study."
)


def print_check(
    console: Console, study: Study, sheet: Sheet, owned: Sheet, ranges: Ranges | None = None
) -> None:
    """Parts, results, limits by margin and what to change, for one machine."""
    system = study.system
    console.print(Text(study.title or study.name, style="bold"))
    parts = Table("part", "on the machine", box=None, pad_edge=False)
    for category, name in study.fitted.items():
        changed = name != study.owned[category] or category in study.overrides
        words = Text(name + (" (changed for this call)" if changed else ""))
        parts.add_row(category.replace("_", " "), words)
    console.print(parts)
    console.print()
    varied = study.fitted != study.owned or bool(study.overrides)
    if study.corrected:
        console.print(Text(CORRECTED))
    intervals = {} if ranges is None else ranges.intervals
    results = Table("result", "value", "9 times in 10", box=None, pad_edge=False)
    if varied:
        results.add_column("machine owned")
    for result in RESULTS:
        interval = intervals.get(result.key)
        row = [
            result.title,
            written(sheet, result.key, system, currency=study.currency),
            ""
            if interval is None
            else with_currency(
                between(*interval, result.unit, system), result.unit, study.currency
            ),
        ]
        if varied:
            row.append(written(owned, result.key, system, currency=study.currency))
        results.add_row(*row)
    console.print(results)
    console.print()
    _print_limits(console, sheet, system, ranges)
    for reading in sorted(sheet.limits, key=by_margin):
        if not reading.kept:
            console.print(Text(f"{reading.limit.title}: {reading.limit.advice}"))
    for sentence in findings_of(sheet, system):
        console.print(Text(sentence))
    _print_measurements(console, study, owned)
    for sentence in range_sentences(study, sheet, ranges):
        console.print(Text(sentence))
    tightest = next(r for r in sheet.limits if r.limit.name == str(sheet.binding))
    if bool(sheet.feasible):
        console.print(
            Text(
                f"All hard limits are kept; the tightest is {inside(tightest.limit.title)} "
                f"({percent(float(tightest.margin))})."
            )
        )
    else:
        count = sum(not r.kept for r in sheet.limits if r.limit.kind == "hard")
        console.print(
            Text(f"{count} hard limit{'s' if count > 1 else ''} crossed: do not run it like this.")
        )
    console.print(Text(CAUTIONS, style="italic"))


def _print_limits(console: Console, sheet: Sheet, system: System, ranges: Ranges | None) -> None:
    limits = Table("limit", "value", "bound", "margin", "", "chance", box=None, pad_edge=False)
    for reading in sorted(sheet.limits, key=by_margin):
        if reading.limit.name != "solution_found" or not reading.kept:
            known = None if ranges is None else ranges.chances[reading.limit.name]
            chance = "" if known is None or ranges is None else chance_words(known, ranges.draws)
            style = "" if reading.kept else "bold"
            limits.add_row(*limit_row(reading, system), chance, style=style)
    console.print(limits)


def by_margin(reading: LimitReading) -> tuple[bool, float]:
    """Order of limits: those crossed first, then by what is left."""
    margin = float(reading.margin)
    return bool(reading.kept), margin if np.isfinite(margin) else -np.inf


def _print_measurements(console: Console, study: Study, owned: Sheet) -> None:
    if not study.measurements:
        return
    table = Table("measured on the machine owned", "measured", "model", box=None, pad_edge=False)
    for measured in study.measurements:
        table.add_row(
            Text(measured.kind.replace("_", " ")),
            f"{measured.written(study.system)} (mean of {measured.repeats})",
            written(owned, MEASURED_RESULTS[measured.kind], study.system),
        )
    console.print()
    console.print(table)
    console.print()


def spread(count: int) -> list[int]:
    """Rows to show of a front: ends and an even choice between."""
    return sorted({round(x) for x in np.linspace(0, count - 1, min(count, SHOWN_DESIGNS))})


def print_front(
    console: Console,
    study: Study,
    space: Space,
    answer: FrontAnswer,
    sureness: Sureness | None = None,
    near: tuple[float, float] | None = None,
) -> None:
    """What the front covers, and a choice of its designs.

    With ``near``, a time [s] and a share of the price, all designs that stand for the others.
    """
    console.print(Text(study.title or study.name, style="bold"))
    if study.corrected:
        console.print(Text(CORRECTED))
    console.print(
        f"{answer.designs_in_space:,} machines can be bolted together from these lists. "
        f"{answer.designs_evaluated:,} had to be worked out, in {answer.seconds:.1f} s."
    )
    sure = answer.chances
    if sure is not None:
        console.print(Text(f"Asked for: {sure.meaning}."))
    if len(answer.indices) == 0:
        _print_nothing(console, study, space, answer)
        return
    usual = answer.objectives == OBJECTIVES
    titles = [result_named(key).title.lower() for key in answer.objectives]
    such = "machine" if sure is None else "such machine"
    proof = (
        f"not proven: {answer.why_not}"
        if not answer.proven
        else f"proven: no other {such} of the lists is quicker without being weaker or dearer"
        if usual
        else f"proven: no other {such} of the lists is better in one of {', '.join(titles)} "
        "without being worse in another"
    )
    front = "the front" if answer.proven else "the best found so far"
    count = len(answer.indices)
    many = f"{count:,} of them are worth a look; together they are"
    words = many if count > 1 else "One of them is worth a look; it alone is"
    console.print(Text(f"{words} {front} ({proof})."))
    lanes = np.arange(count)
    if usual and count > 1:
        view = apart(answer, *(near or ()))
        console.print(_how_alike(view, listed=near is not None))
        lanes = view.shown
    if near is None:
        lanes = lanes[spread(len(lanes))]
    heads = ["cycle", "force", "outlay"] if usual else titles
    cycle = [] if sureness is None else ["9 times in 10" if usual else "cycle, 9 times in 10"]
    heads = [*heads, "least margin", *cycle, *(["keeps limits"] if cycle else [])]
    rows = [heads]
    least = answer.sheet.least_margin
    for lane in lanes.tolist():
        shown = [written(answer.sheet, key, study.system, (lane,)) for key in answer.objectives]
        cells = [] if sureness is None else _sure_cells(sureness, lane, study.system)
        rows.append([*shown, percent(float(least[lane])), *cells])
    widths = [max(len(row[nth]) for row in rows) for nth in range(len(rows[0]))]
    changes = [changed_parts(study, space, answer, lane) for lane in lanes.tolist()]
    for row, words in zip(rows, ["", *changes], strict=True):
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        console.print(Text(line.rstrip(), style="" if words else "bold"))
        if words:
            console.print(Padding(Text(words, style="dim"), (0, 0, 0, 4)))
    if sureness is not None and sure is None:
        console.print(_how_sure(sureness))
    console.print(Text(CAUTIONS, style="italic"))


def changed_parts(study: Study, space: Space, answer: FrontAnswer, lane: int) -> str:
    """Parts of a design that are not on the machine owned."""
    names = space.names(answer.indices[lane])
    changed = [name for category, name in names.items() if name != study.owned[category]]
    return "; ".join(changed) or "nothing to put on: the machine as it is"


def _how_alike(view: Apart, *, listed: bool) -> Text:
    time, share = f"{view.time:g} s", f"{100.0 * view.share:g} %"
    better = (
        f"stronger, {f'more than {time} quicker' if view.time else 'quicker'} or "
        f"{f'more than {share} of its price cheaper' if view.share else 'cheaper'}"
    )
    count = len(view.shown)
    if count == len(view.stand_in):
        words = f"None of them stands for another: each is {better} than any other"
    elif count == 1:
        words = f"One of them stands for all: none that it stands for is {better}"
    else:
        words = f"{count:,} of them stand for all: none that they stand for is {better}"
    if not listed:
        words += (
            f'. {SHOWN_DESIGNS} of these follow; --apart "{time}, {share}" lists all'
            if count > SHOWN_DESIGNS
            else ". They follow"
        )
    return Text(words + ".")


def _sure_cells(sureness: Sureness, lane: int, system: System) -> list[str]:
    low, high = float(sureness.low[lane]), float(sureness.high[lane])
    chance = chance_words(float(sureness.all_kept[lane]), DRAWS)
    return [between(low, high, "time", system), chance]


def _how_sure(sureness: Sureness) -> str:
    count = int((sureness.all_kept >= 0.9).sum())
    return (
        f"{count:,} of the {len(sureness.all_kept):,} keep all hard limits with a chance of 90 % "
        "or more, tolerances of parts counted; --sure 0.9 finds the front of all machines that do."
    )


def _print_nothing(console: Console, study: Study, space: Space, answer: FrontAnswer) -> None:
    if not answer.proven:
        console.print(Text(f"None that is asked for was found; not proven: {answer.why_not}."))
    elif answer.chances is not None:
        console.print("No machine of these lists is as sure as that: proven.")
    else:
        console.print("No machine of these lists keeps every hard limit.")
    if answer.chances is not None:
        console.print("Without --sure the front shows how sure each of its machines is.")
        return
    titles = {limit.name: limit for limit in limits_of(study.setting)}
    table = Table(
        "limit in the way", "stops", "stops alone", "what to change", box=None, pad_edge=False
    )
    for block in answer.blocking[:SHOWN_DESIGNS]:
        limit = titles[block.name]
        table.add_row(
            Text(limit.title),
            f"{100 * block.crossed:.1f} %",
            f"{100 * block.alone:.1f} %",
            Text(limit.advice),
        )
    console.print(table)
    console.print("Nearest machines of a random sample:")
    for row in answer.nearest:
        console.print(Text("  " + "; ".join(space.names(row).values())))
