"""Answers in words and tables for the terminal."""

from __future__ import annotations

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.machine.findings import FINDINGS
from optimise.machine.limits import limits_of
from optimise.machine.results import RESULTS, result_named
from optimise.machine.sheet import LimitReading, Sheet
from optimise.search.front import OBJECTIVES, FrontAnswer
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


def written(sheet: Sheet, key: str, system: System, lane: tuple[int, ...] = ()) -> str:
    """Result of one machine with its unit."""
    return show(float(sheet.results[key][lane]), result_named(key).unit, system)


def percent(share: float) -> str:
    """Margin as a person reads it."""
    return "unknown" if not np.isfinite(share) else f"{100.0 * share:+.0f} %"


def _limit_row(reading: LimitReading, system: System) -> tuple[str, str, str, str, str]:
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


def print_check(console: Console, study: Study, sheet: Sheet, owned: Sheet) -> None:
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
    results = Table("result", "value", box=None, pad_edge=False)
    if varied:
        results.add_column("machine owned")
    for result in RESULTS:
        row = [result.title, written(sheet, result.key, system)]
        if varied:
            row.append(written(owned, result.key, system))
        results.add_row(*row)
    console.print(results)
    console.print()
    limits = Table("limit", "value", "bound", "margin", "", box=None, pad_edge=False)
    for reading in sorted(sheet.limits, key=_by_margin):
        if reading.limit.name != "solution_found" or not reading.kept:
            limits.add_row(*_limit_row(reading, system), style="" if reading.kept else "bold")
    console.print(limits)
    for reading in sorted(sheet.limits, key=_by_margin):
        if not reading.kept:
            console.print(Text(f"{reading.limit.title}: {reading.limit.advice}"))
    for sentence in findings_of(sheet, system):
        console.print(Text(sentence))
    _print_measurements(console, study, owned)
    tightest = next(r for r in sheet.limits if r.limit.name == str(sheet.binding))
    if bool(sheet.feasible):
        console.print(
            Text(
                f"All hard limits are kept; the tightest is {tightest.limit.title.lower()} "
                f"({percent(float(tightest.margin))})."
            )
        )
    else:
        count = sum(not r.kept for r in sheet.limits if r.limit.kind == "hard")
        console.print(
            Text(f"{count} hard limit{'s' if count > 1 else ''} crossed: do not run it like this.")
        )
    console.print(Text(CAUTIONS, style="italic"))


def _by_margin(reading: LimitReading) -> tuple[bool, float]:
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


def _spread(count: int) -> list[int]:
    """Rows to show of a front: ends and an even choice between."""
    return sorted({round(x) for x in np.linspace(0, count - 1, min(count, SHOWN_DESIGNS))})


def print_front(console: Console, study: Study, space: Space, answer: FrontAnswer) -> None:
    """What the front covers, and a choice of its designs."""
    console.print(Text(study.title or study.name, style="bold"))
    console.print(
        f"{answer.designs_in_space:,} machines can be bolted together from these lists. "
        f"{answer.designs_evaluated:,} had to be worked out, in {answer.seconds:.1f} s."
    )
    if len(answer.indices) == 0:
        _print_nothing(console, study, space, answer)
        return
    sureness = (
        "proven: no other machine of the lists is quicker without being weaker or dearer"
        if answer.proven
        else f"sampled, not proven: {answer.why_not}"
    )
    console.print(
        f"{len(answer.indices):,} of them are worth a look; together they are the front "
        f"({sureness})."
    )
    table = Table(
        "cycle", "force", "outlay", "least margin", "parts that change", box=None, pad_edge=False
    )
    least = answer.sheet.least_margin
    for lane in _spread(len(answer.indices)):
        names = space.names(answer.indices[lane])
        changes = [name for category, name in names.items() if name != study.owned[category]]
        shown = [written(answer.sheet, key, study.system, (lane,)) for key in OBJECTIVES]
        table.add_row(
            *shown, percent(float(least[lane])), Text("; ".join(changes) or "none: as owned")
        )
    console.print(table)
    console.print(Text(CAUTIONS, style="italic"))


def _print_nothing(console: Console, study: Study, space: Space, answer: FrontAnswer) -> None:
    console.print("No machine of these lists keeps every hard limit.")
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
