"""Machines, plans and studies side by side: every difference in parts, results and limits."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise import __version__
from optimise.errors import CallError, Gathered, StudyError
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
from optimise.search.goals import CYCLE, PIECE
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.units import System, convert, show

ASKED_FIRST = (
    PIECE,
    CYCLE,
    "cycle.extend_s",
    "cycle.retract_s",
    "force_N",
    "oil.steady_degC",
    "cost.outlay",
    "cost.price",
)
"""Results that stand first where they differ."""
LITTLE = 0.01
"""Difference, as a share, under which others wait."""
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
        Fewer than two machines, variants without a study, or files that are no answers, all told.
    StudyError
        Studies, files or variants that cannot be read, all told.
    """
    found: list[Compared] = []
    notes: list[str] = []
    studies: list[tuple[Path, Study]] = []
    faults = Gathered()
    for place in places:
        if _answers(place):
            machines, said = faults.look(partial(read_saved, place)) or ([], [])
            found += machines
            notes += said
        elif study := faults.look(partial(load_study, place)):
            studies.append((place, study))
            found.append(worked_out(study, study.name))
    for variant in variants if studies else ():
        sets = [one.strip() for one in variant.split(";") if one.strip()]
        changed = faults.look(partial(_changed, studies[0][0], sets))
        if changed:
            found.append(worked_out(changed, "with " + "; ".join(sets)))
    if variants and all(map(_answers, places)):
        faults.look(_refuse_variants)
    faults.tell()
    if len(found) < 2:
        raise CallError("a comparison takes two machines or more: name another, or use --with")
    shown = system or (studies[0][1].system if studies else _units_of(found[0]))
    return Comparison(_told_apart(found), shown, tuple(stale_flags(found)), tuple(notes))


def _answers(place: Path) -> bool:
    """Whether a place is a file of saved answers."""
    return place.suffix in SAVED_ANSWERS and place.is_file()


def _refuse_variants() -> None:
    raise CallError(
        "--with changes the first study of the call, and none is named: name its folder"
    )


def _changed(place: Path, sets: Sequence[str]) -> Study:
    """Study with the changes of a variant; its faults stand at ``--with``."""
    try:
        return load_study(place, sets)
    except StudyError as error:
        raise StudyError(
            dataclasses.replace(fault, place=fault.place.replace("--set ", "--with ", 1))
            if not fault.path
            else fault
            for fault in error.faults
        ) from None


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
        (PIECE, "time", "quicker a piece", "slower a piece"),
        (CYCLE, "time", "quicker without a log", "slower without a log"),
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


@dataclass(frozen=True)
class _Row:
    """One difference: its kind, words, a cell for each machine, and how much it is.

    ``much`` is a share of the larger number, or of a limit's bound; infinite for parts, for what
    only some machines have and for a limit that only some keep.
    """

    kind: str
    words: str
    cells: list[str]
    much: float
    first: bool = False

    @property
    def large(self) -> bool:
        """Whether it shows and is worth a line: asked first, or of some size."""
        return (self.first or self.much >= LITTLE) and len(set(self.cells)) > 1


def _much(values: Sequence[float | None], share: bool) -> float:
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        return math.inf
    largest = 1.0 if share else max(abs(value) for value in known)
    return (max(known) - min(known)) / largest if largest > 0.0 else 0.0


def _rows(found: Comparison) -> list[_Row]:
    """Every difference: parts, results, margins; what is asked first, then the largest."""
    titles = {name: title for one in found.machines for name, title in one.titles.items()}
    named = {result.key: result for result in RESULTS}

    def result(key: str) -> _Row:
        numbers = [one.results.get(key) for one in found.machines]
        cells = [
            "" if number is None else _shown(found, one, number, named[key].unit)
            for one, number in zip(found.machines, numbers, strict=True)
        ]
        return _Row(RESULT, named[key].title, cells, _much(numbers, False), key in ASKED_FIRST)

    def margin(name: str) -> _Row:
        readings = [one.limits.get(name) for one in found.machines]
        crossed = " CROSSED" if _hard(name) else " crossed, advisory"
        cells = [
            ""
            if reading is None
            else percent(math.nan if reading[0] is None else reading[0])
            + ("" if reading[1] else crossed)
            for reading in readings
        ]
        kept = {reading[1] for reading in readings if reading is not None}
        shares = [reading[0] for reading in readings if reading is not None]
        return _Row(MARGIN, titles[name], cells, math.inf if len(kept) > 1 else _much(shares, True))

    def ranked(rows: Sequence[_Row]) -> list[_Row]:
        return sorted(rows, key=lambda row: (not row.first, 0.0 if row.first else -row.much))

    return [
        *(
            _Row(
                PART,
                key.replace("_", " "),
                [one.parts.get(key, "") for one in found.machines],
                math.inf,
            )
            for key in found.parts
        ),
        *ranked([result(key) for key in sorted(found.results, key=_asked_at)]),
        *ranked([margin(name) for name in found.limits]),
    ]


def _asked_at(key: str) -> int:
    return ASKED_FIRST.index(key) if key in ASKED_FIRST else len(ASKED_FIRST)


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
    rows = [row for row in every if row.large]
    _print_rows(console, found, rows)
    if not rows:
        console.print("These machines do not differ.")
    little = [row for row in every if not row.large]
    if little and whole:
        console.print(f"Different by less than {100.0 * LITTLE:.0f} %:")
        _print_rows(console, found, little)
    elif little:
        console.print(
            f"{len(little)} more differ by less than {100.0 * LITTLE:.0f} %: see --all or --json."
        )
    console.print(Text(CAUTIONS, style="italic"))


def _print_rows(console: Console, found: Comparison, rows: Sequence[_Row]) -> None:
    for kind in (PART, RESULT, MARGIN):
        table = Table(kind, box=None, pad_edge=False)
        for machine in found.machines:
            table.add_column(Text(machine.label))
        for row in rows:
            if row.kind == kind:
                table.add_row(Text(row.words), *(Text(cell) for cell in row.cells))
        if table.row_count:
            console.print(table)
            console.print()
