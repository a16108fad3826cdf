"""Machines, plans and studies side by side: every difference in parts, results and limits."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise import __version__
from optimise.errors import CallError, shown
from optimise.files import read_text
from optimise.machine.limits import LIMITS
from optimise.machine.parts import CATEGORIES
from optimise.machine.results import RESULTS, accepted, reported
from optimise.machine.sheet import Sheet, sheet_of
from optimise.report.answers import plain, provenance
from optimise.report.tables import Kept, inert
from optimise.report.text import CAUTIONS, in_currency, inside, percent
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.study.space import fitted_machine
from optimise.units import System, convert, show, unit_of

SAME = 1e-9
"""Relative difference up to which two numbers are the same."""
PART, RESULT, MARGIN = "part", "result", "margin of the limit"
"""Kinds of differences."""
ORIGIN = ("study", "fingerprint", "version", "constants")
"""What every saved answer says of itself."""
SHORT = 12
"""Letters of a fingerprint that are shown."""


@dataclass(frozen=True)
class Compared:
    """One machine of a comparison.

    Attributes
    ----------
    label
        Words for its column.
    origin
        Study, fingerprint, version and constants that it was worked out with, as answers carry
        them.
    parts
        Name by category.
    results
        SI by key; None where a saved answer has no such number.
    limits
        Margin and whether it is kept, by name.
    titles
        Words of each limit.
    saved
        Whether it was read from a file instead of worked out now.
    """

    label: str
    origin: Mapping[str, Any]
    parts: Mapping[str, str]
    results: Mapping[str, float | None]
    limits: Mapping[str, tuple[float | None, bool]]
    titles: Mapping[str, str]
    saved: bool


@dataclass(frozen=True)
class Comparison:
    """Machines side by side, what differs, and what is wrong with the comparison itself."""

    machines: tuple[Compared, ...]
    system: System
    flags: tuple[str, ...]

    @property
    def parts(self) -> list[str]:
        """Categories in which some machine has another part."""
        return [
            category
            for category in CATEGORIES
            if len({machine.parts.get(category) for machine in self.machines}) > 1
        ]

    @property
    def results(self) -> list[str]:
        """Keys of results that differ."""
        return [
            result.key
            for result in RESULTS
            if not _alike([machine.results.get(result.key) for machine in self.machines])
        ]

    @property
    def limits(self) -> list[str]:
        """Names of limits whose margins differ."""
        names = dict.fromkeys(name for machine in self.machines for name in machine.limits)
        return [
            name
            for name in names
            if not _alike([machine.limits.get(name, (None, True))[0] for machine in self.machines])
        ]


def _alike(values: Sequence[float | None]) -> bool:
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        return not known
    return max(known) - min(known) <= SAME * max(abs(value) for value in known)


def compare(places: Sequence[Path], variants: Sequence[str], system: System | None) -> Comparison:
    """Side by side: studies, saved answers of ``check`` and ``steps``, and variants.

    Parameters
    ----------
    places
        Study folders, their study.toml, or files of answers for programs.
    variants
        Changes of the first study, each ``KEY=VALUE`` parted by semicolons: one machine each.

    Raises
    ------
    CallError
        Fewer than two machines, variants without a study, or a file that is no answer.
    """
    found: list[Compared] = []
    first: tuple[Path, Study] | None = None
    for place in places:
        if place.suffix == ".json" and place.is_file():
            found += _saved(place)
        else:
            study = load_study(place)
            first = first or (place, study)
            found.append(_worked_out(study, study.name))
    for variant in variants:
        if first is None:
            raise CallError(
                "--with changes the first study of the call, and none is named: name its folder"
            )
        sets = [one.strip() for one in variant.split(";") if one.strip()]
        found.append(_worked_out(load_study(first[0], sets), "with " + "; ".join(sets)))
    if len(found) < 2:
        raise CallError("a comparison takes two machines or more: name another, or use --with")
    shown = system or (first[1].system if first else _units_of(found[0]))
    return Comparison(tuple(found), shown, tuple(_flags(found)))


def _units_of(machine: Compared) -> System:
    """Unit system in which the study of a saved answer is shown."""
    return "us" if machine.origin.get("units") == "us" else "metric"


def _worked_out(study: Study, label: str) -> Compared:
    sheet = sheet_of(fitted_machine(study), study.setting)
    return Compared(
        label=label,
        origin=provenance(study),
        parts=dict(study.fitted),
        results=_results(sheet),
        limits={one.limit.name: (plain(one.margin), bool(one.kept)) for one in sheet.limits},
        titles={one.limit.name: one.limit.title for one in sheet.limits},
        saved=False,
    )


def _results(sheet: Sheet) -> dict[str, float | None]:
    return {result.key: plain(sheet.results[result.key]) for result in RESULTS}


def _saved(path: Path) -> list[Compared]:
    """Machines of a saved answer: the one of a check, or first and last of a plan."""
    try:
        answer = json.loads(read_text(path), parse_float=_finite, parse_constant=_finite)
        return [_read(label, answer, machine) for label, machine in _machines(path.stem, answer)]
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError):
        raise CallError(
            f"{shown(str(path), None)}: found something else, expected an answer of "
            "'ramfront check --json' or 'ramfront steps --json', saved as it was printed"
        ) from None


def _machines(name: str, answer: Mapping[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    if "plan" not in answer:
        return [(name, answer)]
    found = [(f"{name}, as it is", answer["machine"])]
    for key, words in (("plan", "plan"), ("rival", "best for the same money")):
        if answer[key] is not None:
            found.append((f"{name}, {words}", answer[key]["goal"]))
    return found


def _read(label: str, answer: Mapping[str, Any], machine: Mapping[str, Any]) -> Compared:
    def number(key: str) -> float | None:
        spot: Any = machine
        for step in key.split("."):
            spot = spot.get(step) if isinstance(spot, Mapping) else None
        return None if spot is None else _finite(spot)

    results = {}
    for result in RESULTS:
        value = number(result.key)
        results[result.key] = None if value is None else float(accepted(value, result.unit))
    return Compared(
        label=shown(label, None),
        origin=_origin(answer),
        parts={
            shown(str(category)): shown(str(name), None)
            for category, name in machine["parts"].items()
        },
        results=results,
        limits={
            shown(str(one["name"]), None): (
                None if one["margin"] is None else _finite(one["margin"]),
                bool(one["ok"]),
            )
            for one in machine["limits"]
        },
        titles={
            shown(str(one["name"]), None): shown(str(one["title"]), None)
            for one in machine["limits"]
        },
        saved=True,
    )


def _finite(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(value)
    return number


def _origin(answer: Mapping[str, Any]) -> dict[str, Any]:
    """What a saved answer says of itself, words where words belong."""
    found = {key: answer[key] for key in ORIGIN}
    found |= {key: answer[key] for key in ("currency", "units") if key in answer}
    words = [value for key, value in found.items() if key != "constants"]
    if not all(isinstance(word, str) for word in [*words, found["constants"]["from"]]):
        raise TypeError(words)
    return {
        key: value if key == "constants" else shown(value, None) for key, value in found.items()
    }


def _flags(machines: Sequence[Compared]) -> list[str]:
    """What makes a comparison doubtful: another state of a study, another version."""
    said = []
    plain_state: dict[str, tuple[str, str]] = {}
    saved_state: dict[str, tuple[str, str]] = {}
    for machine in machines:
        if not machine.saved:
            plain_state.setdefault(
                machine.origin["study"], (machine.origin["fingerprint"], machine.label)
            )
    for machine in machines:
        if not machine.saved:
            continue
        study, print_then = machine.origin["study"], machine.origin["fingerprint"]
        now = plain_state.get(study)
        if now is not None and now[0] != print_then:
            said.append(
                f"{machine.label}: made from another state of the study {study}: it has changed "
                f"since, or one of the two was asked with --set ({print_then[:SHORT]} then, "
                f"{now[0][:SHORT]} now)"
            )
        if now is None:
            print_first, label = saved_state.setdefault(study, (print_then, machine.label))
            if print_first != print_then:
                said.append(
                    f"{machine.label}: made from another state of the study {study} than {label}: "
                    "it changed between the two, or one of them was asked with --set "
                    f"({print_first[:SHORT]} and {print_then[:SHORT]})"
                )
        if machine.origin["version"] != __version__:
            said.append(
                f"{machine.label}: made by version {machine.origin['version']}, this is "
                f"{__version__}"
            )
    sources = {machine.origin["constants"]["from"] for machine in machines}
    if len(sources) > 1:
        said.append("some machines stand on measured constants and some on the study's")
    return said


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
        one, two = first.results[key], other.results[key]
        if one is None or two is None or _alike([one, two]):
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
                "saved": machine.saved,
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
        "advice": sentences(found),
        "version": __version__,
    }


def _rows(found: Comparison) -> list[tuple[str, str, list[str]]]:
    """Kind, words and one cell for each machine, of every difference."""
    titles = {name: title for one in found.machines for name, title in one.titles.items()}
    named = {result.key: result for result in RESULTS}

    def value(one: Compared, key: str) -> str:
        number = one.results[key]
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
    units = {key: unit_of(named[key].unit, found.system) for key in found.results}
    table = Kept(("", "", ""))
    table.writerow(
        [
            "Machine",
            *found.parts,
            *(f"{named[key].title} [{unit}]" if unit else named[key].title
              for key, unit in units.items()),
            *(f"Margin: {titles[name]}" for name in found.limits),
            "Hard limits crossed",
            "Currency",
        ]
    )  # fmt: skip
    for one in found.machines:
        values = {key: one.results[key] for key in found.results}
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
                inert(str(one.origin.get("currency", ""))),
            ],
            (inert(str(one.origin["study"])), one.origin["fingerprint"], one.origin["version"]),
        )
    return table


# --- for people ---------------------------------------------------------------------------------


def print_compare(console: Console, found: Comparison) -> None:
    """Flags, then every difference."""
    for flag in found.flags:
        console.print(Text(f"Mind: {flag}.", style="bold"))
    rows = _rows(found)
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
    if not rows:
        console.print("These machines do not differ.")
    for sentence in sentences(found):
        console.print(Text(sentence))
    console.print(Text(CAUTIONS, style="italic"))
