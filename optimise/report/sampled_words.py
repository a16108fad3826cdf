"""A sampled front in words, as an answer for programs and as a table."""

from __future__ import annotations

from typing import Any

import numpy as np
from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from optimise.machine.results import RESULTS, result_named
from optimise.report.answers import plain, provenance
from optimise.report.tables import Kept, inert
from optimise.report.text import CAUTIONS, percent, spread, written
from optimise.search.sampled import Sampled
from optimise.study.made_to_order import MadeToOrder
from optimise.units import KINDS, convert, unit_of

NOT_PROVEN = "sampled, not proven: between the ends of a range lie more machines than can be tried"


def price_note(made: MadeToOrder) -> str:
    """What the outlay of a part made to order stands for; "" where there is none."""
    if not made.settled:
        return ""
    parts = ", ".join(f"{category} ({name})" for category, name in made.settled.items())
    return f"Money counts {parts} at the price of the list, whatever its made-to-order size."


def sampled_answer(made: MadeToOrder, found: Sampled) -> dict[str, Any]:
    """Answer of ``front`` with ranges."""
    least, binding = found.sheet.least_margin, found.sheet.binding
    return {
        **provenance(made.study),
        "objectives": list(found.goals.keys),
        "proven": False,
        "why_not_proven": NOT_PROVEN,
        "ranges": [
            {
                "key": one.key,
                "low": float(low),
                "high": float(high),
                "unit": KINDS[one.kind].si_unit,
            }
            for one, low, high in zip(made.free, made.low, made.high, strict=True)
        ],
        "price_note": price_note(made),
        "sampler": found.sampler,
        "seed": found.seed,
        "designs_in_space": None,
        "lists_in_space": made.space.size,
        "designs_evaluated": found.designs,
        "begun_with": found.seeded,
        "ended": found.ended,
        "volume": [{"designs": designs, "volume": volume} for designs, volume in found.volume],
        "seconds": found.seconds,
        "designs": [
            {
                "parts": made.space.names(row),
                "made_to_order": {
                    one.key: float(value) for one, value in zip(made.free, numbers, strict=True)
                },
                "objectives": {
                    key: plain(found.sheet.results[key][lane]) for key in found.goals.keys
                },
                "limits_min_margin": plain(least[lane]),
                "binding": str(binding[lane]),
            }
            for lane, (row, numbers) in enumerate(zip(found.rows, found.numbers, strict=True))
        ],
    }


def print_sampled(console: Console, made: MadeToOrder, found: Sampled) -> None:
    """What was searched, and a choice of the machines found."""
    study = made.study
    console.print(Text(study.title or study.name, style="bold"))
    free = " and ".join(
        f"{one.key} from {one.label(0, study.system)} to {one.label(len(one) - 1, study.system)}"
        for one in made.free
    )
    console.print(
        Text(
            f"Free: {free}; besides, {made.space.size:,} ways to choose from the lists. "
            f"{found.designs:,} designs were worked out in {found.seconds:.1f} s, beginning with "
            f"the {found.seeded:,} of the lists alone ({found.ended})."
        )
    )
    if len(found.rows) == 0:
        console.print("No design that was tried keeps every hard limit.")
        return
    console.print(Text(f"{len(found.rows):,} are worth a look ({NOT_PROVEN})."))
    grown = found.volume[-1][1] / found.volume[0][1] if found.volume[0][1] > 0.0 else np.nan
    if np.isfinite(grown):
        console.print(
            Text(
                f"What they cover together of time, force and money is {grown:.2f} times what the "
                "lists alone cover."
                if grown >= 1.005
                else "They add next to nothing to what the lists alone cover."
            )
        )
    if note := price_note(made):
        console.print(Text(note))
    titles = [result_named(key).title.lower() for key in found.goals.keys]
    heads = [*titles, "least margin", *(one.key for one in made.free)]
    lanes = np.arange(len(found.rows))[spread(len(found.rows))].tolist()
    table, words = [heads], [""]
    for lane in lanes:
        shown = [written(found.sheet, key, study.system, (lane,)) for key in found.goals.keys]
        numbers = [
            one.shown(float(value), study.system)
            for one, value in zip(made.free, found.numbers[lane], strict=True)
        ]
        table.append([*shown, percent(float(found.sheet.least_margin[lane])), *numbers])
        names = made.space.names(found.rows[lane])
        other = [name for category, name in names.items() if name != study.fitted[category]]
        words.append(", ".join(other) or "the parts of the machine asked about")
    widths = [max(len(row[nth]) for row in table) for nth in range(len(heads))]
    for row, parts in zip(table, words, strict=True):
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        console.print(Text(line.rstrip(), style="" if parts else "bold"))
        if parts:
            console.print(Padding(Text(parts, style="dim"), (0, 0, 0, 4)))
    console.print(Text(CAUTIONS, style="italic"))


def sampled_table(made: MadeToOrder, found: Sampled) -> Kept:
    """Designs found, a row each: parts, free numbers and results in the study's units."""
    study = made.study
    table = Kept.of(study)
    pairs = [(one.key, one.kind) for one in made.free]
    pairs += [(result.title, result.unit) for result in RESULTS]
    heads = [
        f"{title} [{unit}]" if (unit := unit_of(kind, study.system)) else title
        for title, kind in pairs
    ]
    table.writerow([*made.space.categories, *heads, "Least margin", "Tightest limit"])
    if len(found.rows) == 0:
        return table
    numbers = [
        np.asarray(convert(values, one.kind, study.system))
        for one, values in zip(made.free, found.numbers.T, strict=True)
    ]
    numbers += [
        np.asarray(convert(found.sheet.results[result.key], result.unit, study.system))
        for result in RESULTS
    ]
    for lane, row in enumerate(found.rows):
        names = [inert(name) for name in made.space.names(row).values()]
        values = [f"{float(np.broadcast_to(one, len(found.rows))[lane]):.6g}" for one in numbers]
        least, binding = found.sheet.least_margin[lane], found.sheet.binding[lane]
        table.writerow([*names, *values, f"{float(least):.4f}", str(binding)])
    return table
