"""Machines, plans and studies side by side: every difference in parts, results and limits."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise import __version__
from optimise.errors import CallError
from optimise.errors import shown as safe
from optimise.files import SAVED_ANSWERS
from optimise.machine.limits import LIMITS
from optimise.machine.parts import CATEGORIES
from optimise.machine.results import RESULTS, reported
from optimise.report.answers import plain
from optimise.report.compared import Compared, worked_out
from optimise.report.saved import read_saved, stale_flags
from optimise.report.tables import Kept, head_of, inert, stamp_of
from optimise.report.text import CAUTIONS, in_currency, inside, percent
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.units import System, convert, show

PART, RESULT, MARGIN = "part", "result", "margin of the limit"
"""Kinds of differences."""


@dataclass(frozen=True)
class Comparison:
    """Machines side by side, what differs, and what is wrong with the comparison itself.

    ``notes`` say what of a saved answer is left out.
    """

    machines: tuple[Compared, ...]
    system: System
    flags: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def parts(self) -> list[str]:
        """Categories in which some machine has another part."""
        return [
            category
            for category in CATEGORIES
            if len({one.parts[category] for one in self.machines if category in one.parts}) > 1
        ]

    @property
    def results(self) -> list[str]:
        """Keys of results that differ."""
        return [
            result.key
            for result in RESULTS
            if not self._alike(
                [one.results[result.key] for one in self.machines if result.key in one.results]
            )
        ]

    @property
    def limits(self) -> list[str]:
        """Names of limits whose margins differ."""
        whole = [machine.limits for machine in self.machines if machine.limits]
        names = dict.fromkeys(name for limits in whole for name in limits)
        return [
            name
            for name in names
            if not self._alike([limits.get(name, (None, True))[0] for limits in whole])
        ]

    def _alike(self, values: Sequence[float | None]) -> bool:
        return alike(values, max(machine.same for machine in self.machines))


def alike(values: Sequence[float | None], same: float) -> bool:
    """Whether values are the same, or all unknown."""
    known = [value for value in values if value is not None]
    if len(known) < len(values) or not known:
        return not known
    return max(known) - min(known) <= same * max(abs(value) for value in known)


def compare(places: Sequence[Path], variants: Sequence[str], system: System | None) -> Comparison:
    """Side by side: studies, saved answers, and variants.

    Parameters
    ----------
    places
        Study folders, their study.toml, or files of saved answers.
    variants
        Changes of the first study, each ``KEY=VALUE`` parted by semicolons: one machine each.

    Raises
    ------
    CallError
        Fewer than two machines, variants without a study, or a file that is no answer.
    """
    found: list[Compared] = []
    notes: list[str] = []
    first: tuple[Path, Study] | None = None
    for place in places:
        if place.suffix in SAVED_ANSWERS and place.is_file():
            machines, said = read_saved(place)
            found += machines
            notes += said
        else:
            study = load_study(place)
            first = first or (place, study)
            found.append(worked_out(study, study.name))
    for variant in variants:
        if first is None:
            raise CallError(
                "--with changes the first study of the call, and none is named: name its folder"
            )
        sets = [one.strip() for one in variant.split(";") if one.strip()]
        found.append(worked_out(load_study(first[0], sets), "with " + "; ".join(sets)))
    if len(found) < 2:
        raise CallError("a comparison takes two machines or more: name another, or use --with")
    shown = system or (first[1].system if first else _units_of(found[0]))
    return Comparison(_told_apart(found), shown, tuple(stale_flags(found)), tuple(notes))


def _told_apart(machines: Sequence[Compared]) -> tuple[Compared, ...]:
    """Machines with labels of their own: by folder where studies share a name, else by number."""
    labels = [machine.label for machine in machines]
    folders = [str(machine.origin.get("folder", "")) for machine in machines]
    for label in dict.fromkeys(labels):
        twins = [at for at, other in enumerate(labels) if other == label]
        if len({folders[at] for at in twins}) > 1:
            for at in twins:
                labels[at] = f"{label} in {safe(folders[at], None)}"
        if len({labels[at] for at in twins}) < len(twins):
            for count, at in enumerate(twins, 1):
                labels[at] += f" ({count})"
    return tuple(
        dataclasses.replace(machine, label=label)
        for machine, label in zip(machines, labels, strict=True)
    )


def _units_of(machine: Compared) -> System:
    """Unit system in which the study of a saved answer is shown."""
    return "us" if machine.origin.get("units") == "us" else "metric"


# --- what to make of it -------------------------------------------------------------------------


def sentences(found: Comparison) -> list[str]:
    """Each machine against the first, in words."""
    first, *others = found.machines
    return [_against(found, first, other) for other in others]


def _against(found: Comparison, first: Compared, other: Compared) -> str:
    said = []
    currencies = {first.origin.get("currency"), other.origin.get("currency")}
    for key, kind, less, more in (
        ("cycle.total_s", "time", "quicker", "slower"),
        ("force_N", "force", "weaker", "stronger"),
        ("cost.outlay", "money", "cheaper", "dearer"),
    ):
        one, two = first.results.get(key), other.results.get(key)
        if one is None or two is None or alike([one, two], max(first.same, other.same)):
            continue
        if kind == "money" and len(currencies) > 1:
            continue
        word = less if two < one else more
        said.append(f"{_shown(found, other, abs(two - one), kind, 3)} {word}")
    same = "no quicker, stronger or dearer" if not said else ", ".join(said)
    crossed = [name for name, (_, kept) in other.limits.items() if not kept and _hard(name)]
    broken = (
        ""
        if not crossed
        else f"; it crosses {', '.join(inside(other.titles[name]) for name in crossed)}"
    )
    return f"{other.label} is {same} than {first.label}{broken}."


def _shown(found: Comparison, machine: Compared, value: float, kind: str, digits: int = 4) -> str:
    """A value with its unit, money with the currency of its machine."""
    if kind == "money":
        return in_currency(value, str(machine.origin.get("currency", "")))
    return show(value, kind, found.system, digits)


def _hard(name: str) -> bool:
    return all(limit.kind == "hard" for limit in LIMITS if limit.name == name)


# --- for programs -------------------------------------------------------------------------------


def compare_answer(found: Comparison) -> dict[str, Any]:
    """Answer of ``compare``."""
    units = {result.key: result.unit for result in RESULTS}
    return {
        "machines": [
            {
                "label": machine.label,
                **machine.origin,
                "saved": bool(machine.source),
                "parts": dict(machine.parts),
                "results": {
                    key: None if value is None else plain(reported(value, units[key]))
                    for key, value in machine.results.items()
                },
                "limits": {
                    name: {"margin": margin, "ok": kept}
                    for name, (margin, kept) in machine.limits.items()
                },
            }
            for machine in found.machines
        ],
        "differences": {
            "parts": found.parts,
            "results": found.results,
            "limits": found.limits,
        },
        "flags": list(found.flags),
        "notes": list(found.notes),
        "advice": sentences(found),
        "version": __version__,
    }


def _rows(found: Comparison) -> list[tuple[str, str, list[str]]]:
    """Kind, words and one cell for each machine, of every difference."""
    titles = {name: title for one in found.machines for name, title in one.titles.items()}
    named = {result.key: result for result in RESULTS}

    def value(one: Compared, key: str) -> str:
        number = one.results.get(key)
        return "" if number is None else _shown(found, one, number, named[key].unit)

    def margin(one: Compared, name: str) -> str:
        if name not in one.limits:
            return ""
        share, kept = one.limits[name]
        crossed = " CROSSED" if _hard(name) else " crossed, advisory"
        return percent(math.nan if share is None else share) + ("" if kept else crossed)

    return [
        *(
            (PART, key.replace("_", " "), [one.parts.get(key, "") for one in found.machines])
            for key in found.parts
        ),
        *(
            (RESULT, named[key].title, [value(one, key) for one in found.machines])
            for key in found.results
        ),
        *(
            (MARGIN, titles[name], [margin(one, name) for one in found.machines])
            for name in found.limits
        ),
    ]


def compare_table(found: Comparison) -> Kept:
    """Every machine a row, in one unit system: parts, results and margins that differ somewhere."""
    named = {result.key: result for result in RESULTS}
    titles = {name: title for one in found.machines for name, title in one.titles.items()}
    table = Kept(())
    table.writerow(
        [
            "Machine",
            *found.parts,
            *(head_of(named[key], found.system) for key in found.results),
            *(f"Margin: {titles[name]}" for name in found.limits),
            "Hard limits crossed",
        ]
    )
    for one in found.machines:
        values = {key: one.results.get(key) for key in found.results}
        margins = [one.limits.get(name, (None, True))[0] for name in found.limits]
        crossed = [name for name, (_, kept) in one.limits.items() if not kept and _hard(name)]
        table.writerow(
            [
                inert(one.label),
                *(inert(one.parts.get(category, "")) for category in found.parts),
                *(
                    "" if value is None else f"{convert(value, named[key].unit, found.system):.6g}"
                    for key, value in values.items()
                ),
                *("" if margin is None else f"{margin:.4f}" for margin in margins),
                inert(" ".join(crossed)),
            ],
            stamp_of(one.origin),
        )
    return table


# --- for people ---------------------------------------------------------------------------------


def print_compare(console: Console, found: Comparison, whole: bool = False) -> None:
    """Flags, what to make of it, then every difference that shows; with ``whole`` the rest too."""
    for flag in found.flags:
        console.print(Text(f"Mind: {flag}.", style="bold"))
    for note in found.notes:
        console.print(Text(f"{note}."))
    for sentence in sentences(found):
        console.print(Text(sentence, style="bold"))
    console.print()
    every = _rows(found)
    rows = [row for row in every if len(set(row[2])) > 1]
    _print_rows(console, found, rows)
    if not rows:
        console.print("These machines do not differ.")
    alike_rows = [row for row in every if row not in rows]
    if alike_rows and whole:
        console.print("Different only beyond the digits shown:")
        _print_rows(console, found, alike_rows)
    elif alike_rows:
        console.print(
            f"{len(alike_rows)} more differ only beyond the digits shown: see --all or --json."
        )
    console.print(Text(CAUTIONS, style="italic"))


def _print_rows(
    console: Console, found: Comparison, rows: Sequence[tuple[str, str, list[str]]]
) -> None:
    for kind in (PART, RESULT, MARGIN):
        table = Table(kind, box=None, pad_edge=False)
        for machine in found.machines:
            table.add_column(Text(machine.label))
        for one, words, cells in rows:
            if one == kind:
                table.add_row(Text(words), *(Text(cell) for cell in cells))
        if table.row_count:
            console.print(table)
            console.print()
