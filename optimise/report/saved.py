"""Saved answers: the machines in them, and whether their study is still what it was."""

from __future__ import annotations

import csv
import io
import json
import math
import stat
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

from optimise import __version__
from optimise.errors import CallError, RamfrontError, StudyError, shown, shown_path
from optimise.files import read_text
from optimise.machine.parts import CATEGORIES
from optimise.machine.results import RESULTS, Result, accepted
from optimise.report.compared import Compared
from optimise.report.tables import CHOSEN, ROWS, STAMP, active, head_of
from optimise.study.load import load_study
from optimise.units import System, factor, unit_of

SHORT = 12
"""Letters of a fingerprint that are shown."""
LARGEST_ANSWER = 30_000_000
"""Largest saved answer in bytes."""
LONGEST_WORD = 10_000
"""Longest name, folder or change in a saved answer, in characters."""
MOST_ROWS = 6
"""Machines of one saved answer that stand side by side."""
_DIGITS = 1e-5
"""Relative difference that six written digits may hide."""
_SYSTEMS: tuple[System, System] = ("us", "metric")
_ORIGIN = ("study", "fingerprint", "version", "constants")
"""What every saved answer for programs says of itself."""
_EXPECTED = (
    "an answer of 'ramfront check', 'steps', 'sweep' or 'lineup' with --json, saved as it was "
    "printed, or a table that 'ramfront front', 'steps', 'sweep', 'lineup' or 'compare' wrote"
)


def read_saved(path: Path) -> tuple[list[Compared], list[str]]:
    """Machines of a saved answer, and what is to be said of them.

    Raises
    ------
    CallError
        The file is no such answer.
    StudyError
        It cannot be read.
    """
    try:
        if path.suffix == ".json":
            text = read_text(path, LARGEST_ANSWER)
            answer = json.loads(text, parse_float=_finite, parse_constant=_finite)
            found = [
                _of_entry(path.stem, words, answer, machine)
                for words, machine in islice(_machines(answer), MOST_ROWS)
            ]
            return _not_none(found, path), []
        rows = _csv_rows(path) if path.suffix == ".csv" else _parquet_rows(path)
        chosen = [row for row in rows if row.get(CHOSEN)] or rows
        numbers = {id(row): nth for nth, row in enumerate(rows, 1)}
        found = [_of_row(path.stem, numbers[id(row)], row, len(rows)) for row in chosen[:MOST_ROWS]]
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError):
        raise CallError(
            f"{shown_path(str(path))}: found something else, expected {_EXPECTED}"
        ) from None
    more = len(rows) - len(found)
    said = f"{shown(path.stem)}: {len(found)} of its {len(rows):,} rows are shown"
    return _not_none(found, path), [said] if more else []


def _not_none(found: list[Compared], path: Path) -> list[Compared]:
    if not found:
        raise CallError(f"{shown_path(str(path))}: found no machine in it, expected one or more")
    return found


def _finite(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(value)
    return number


# --- answers for programs -----------------------------------------------------------------------


def _machines(answer: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Words and entry of each machine: of a check, a plan, a sweep or a line."""
    if "plan" in answer:
        yield "as it is", answer["machine"]
        for key, words in (("plan", "plan"), ("rival", "best for the same money")):
            if answer[key] is not None:
                yield words, answer[key]["goal"]
    elif "chosen" in answer:
        if "machine" in answer:
            yield "as it is", answer["machine"]
        for one in answer["chosen"]:
            yield one["label"], one["machine"]
    else:
        yield "", answer


def _of_entry(
    name: str, words: str, answer: Mapping[str, Any], machine: Mapping[str, Any]
) -> Compared:
    def number(key: str) -> float | None:
        spot: Any = machine
        for step in key.split("."):
            spot = spot.get(step) if isinstance(spot, Mapping) else None
        return None if spot is None else _finite(spot)

    results = {}
    for result in RESULTS:
        value = number(result.key)
        results[result.key] = None if value is None else float(accepted(value, result.unit))
    limits = machine["limits"]
    return Compared(
        label=shown(f"{name}, {words}" if words else name, None),
        origin=_origin(answer),
        parts={
            shown(str(category)): shown(_short(part), None)
            for category, part in machine["parts"].items()
        },
        results=results,
        limits={
            shown(_short(one["name"]), None): (
                None if one["margin"] is None else _finite(one["margin"]),
                bool(one["ok"]),
            )
            for one in limits
        },
        titles={
            shown(_short(one["name"]), None): shown(_short(one["title"]), None) for one in limits
        },
        source=shown(name, None),
    )


def _short(value: object) -> str:
    """Text of a word that is to be shown whole; ``ValueError`` where it goes on for pages."""
    text = str(value)
    if len(text) > LONGEST_WORD:
        raise ValueError(text[:LONGEST_WORD])
    return text


def _origin(answer: Mapping[str, Any]) -> dict[str, Any]:
    """What a saved answer says of itself, words where words belong."""
    found = {key: answer[key] for key in _ORIGIN}
    found |= {key: answer[key] for key in ("currency", "units", "folder") if key in answer}
    words = [value for key, value in found.items() if key != "constants"]
    changes = answer.get("changes", [])
    if not all(isinstance(word, str) for word in [*words, *changes, found["constants"]["from"]]):
        raise TypeError(words)
    return {
        **{
            key: value if key == "constants" else shown(_short(value), None)
            for key, value in found.items()
        },
        **({"folder": found["folder"]} if "folder" in found else {}),
        "changes": [_short(change) for change in changes],
    }


# --- tables -------------------------------------------------------------------------------------


def _csv_rows(path: Path) -> list[dict[str, str]]:
    reader = csv.reader(io.StringIO(read_text(path, LARGEST_ANSWER)), strict=True)
    try:
        heads, *rows = reader
    except csv.Error as error:
        raise ValueError(error) from None
    if len(set(heads)) < len(heads) or any(len(row) != len(heads) for row in rows):
        raise ValueError(heads)
    return [dict(zip(heads, row, strict=True)) for row in rows]


def _parquet_rows(path: Path) -> list[dict[str, str]]:
    try:
        import pyarrow  # noqa: PLC0415
        import pyarrow.parquet  # noqa: PLC0415
    except ImportError:
        raise CallError(
            f"{shown_path(str(path))}: reading Parquet needs the library pyarrow: pip install "
            "'ramfront[parquet]'"
        ) from None
    try:
        kept = path.stat()
        if not stat.S_ISREG(kept.st_mode) or kept.st_size > LARGEST_ANSWER:
            raise ValueError(path)
        rows = pyarrow.parquet.read_table(path).to_pylist()
    except (OSError, pyarrow.ArrowException) as error:
        raise ValueError(error) from None
    return [
        {head: "" if value is None else str(value) for head, value in row.items()} for row in rows
    ]


@cache
def _heads() -> dict[str, tuple[Result, str]]:
    """Result and unit of each head of a table, in either unit system."""
    return {
        head_of(result, system): (result, unit_of(result.unit, system))
        for system in _SYSTEMS
        for result in RESULTS
    }


@cache
def _us_heads() -> frozenset[str]:
    """Heads that stand in tables in US units only."""
    us, metric = ({head_of(result, system) for result in RESULTS} for system in _SYSTEMS)
    return frozenset(us - metric)


def _of_row(name: str, nth: int, row: Mapping[str, str], count: int) -> Compared:
    """Machine of a row of a kept table that has so many rows."""
    stamp = {head.lower(): active(row[head]) for head in STAMP}
    changes = json.loads(stamp["changes"] or "[]")
    if not all(isinstance(change, str) for change in changes):
        raise TypeError(changes)
    results: dict[str, float | None] = {}
    for head, (result, unit) in _heads().items():
        if row.get(head):
            scale, offset = factor(result.unit, unit)
            value = float(row[head]) * scale + offset
            results[result.key] = value if math.isfinite(value) else None
    parts = {category: row[category] for category in CATEGORIES if row.get(category)}
    if row.get("category") in CATEGORIES:
        parts[row["category"]] = row.get("part", "")
    for word in (*stamp.values(), *parts.values()):
        _short(word)
    words = row.get("Machine") or row.get(CHOSEN) or f"row {nth}"
    return Compared(
        label=shown(f"{name}, {active(words)}", None),
        origin={
            **{
                key: shown(stamp[key], None)
                for key in ("study", "fingerprint", "version", "currency")
            },
            "folder": stamp["folder"],
            "changes": changes,
            "units": "us" if any(row.get(head) for head in _us_heads()) else "metric",
        },
        parts={category: shown(active(part), None) for category, part in parts.items()},
        results=results,
        limits={},
        titles={},
        source=shown(name, None),
        same=_DIGITS,
        rows=(count, int(float(row[ROWS]))),
    )


# --- still true? --------------------------------------------------------------------------------


def stale_flags(machines: Sequence[Compared]) -> list[str]:
    """What makes saved answers doubtful: another state of a study, another version."""
    homes: dict[str, str] = {}
    for machine in machines:
        if not machine.source:
            homes.setdefault(machine.origin["study"], machine.origin["folder"])
    said: list[str] = []
    for machine in machines:
        if not machine.source:
            continue
        study = machine.origin["study"]
        home = homes.get(study, str(machine.origin.get("folder", "")))
        told = _changed(machine, home)
        if told:
            said.append(f"{machine.source}: {told}")
        there, then = machine.rows
        if there != then:
            said.append(f"{machine.source}: {there:,} of the {then:,} rows it was written with")
        if machine.origin["version"] != __version__:
            said.append(
                f"{machine.source}: made by version {machine.origin['version']}, this is "
                f"{__version__}"
            )
    known = [one.origin["constants"]["from"] for one in machines if "constants" in one.origin]
    if len(set(known)) > 1:
        said.append("some machines stand on measured constants and some on the study's")
    return list(dict.fromkeys(said))


def _changed(machine: Compared, home: str) -> str:
    """Why an answer may be no longer that of its study; "" where it is."""
    study, then = machine.origin["study"], machine.origin["fingerprint"]
    if not home:
        return (
            f"does not say where its study {study} was, so it cannot be told whether that has "
            "changed since: name the study's folder too"
        )
    place = shown_path(home)
    try:
        there = Path(home).exists()
    except (OSError, ValueError):
        there = False
    if not there:
        return (
            f"its study {study} is not in {place} any more, so it cannot be told whether it has "
            "changed since"
        )
    try:
        now = load_study(home, machine.origin.get("changes", ())).fingerprint
    except StudyError as error:
        return (
            f"made from another state of the study {study} in {place}: it cannot be read any more "
            f"as it was asked then ({error.faults[0]})"
        )
    except RamfrontError as error:
        return f"its study {study} in {place} cannot be read any more ({error})"
    if now == then:
        return ""
    return (
        f"made from another state of the study {study}: it has changed since in {place} "
        f"({then[:SHORT]} then, {now[:SHORT]} now)"
    )
