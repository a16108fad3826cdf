"""A study folder to a checked :class:`Study`, or every fault in it at once."""

from __future__ import annotations

import dataclasses
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from optimise.errors import Fault, StudyError, nearest, quoted
from optimise.files import fingerprint, read_text
from optimise.machine.limits import LIMITS
from optimise.machine.parts import CATEGORIES
from optimise.machine.setting import Frame, LimitChange, Log, Oil, Setting
from optimise.physics.oil import viscosity_100_from_index
from optimise.study.checks import ORDERS, contradictions, order_faults, rod_faults
from optimise.study.entries import ISO_GRADES, commands_terminal
from optimise.study.fault_words import Guesses, dotted, meant
from optimise.study.model import Buyers, Lineup, Measurement, PriceList, Study
from optimise.study.places import Loc, lines_of, parse_toml
from optimise.study.pricelists import RawList, price_list, read_list
from optimise.study.schema import (
    MOST_BUYERS,
    MOST_ENTRIES,
    MOST_PARTS,
    RESULT_UNITS,
    build,
    document_model,
    table_model,
    tables,
    user_limit_models,
)
from optimise.study.sets import Changes, apply_sets
from optimise.study.table_faults import MOST_JUDGED, Finding, check, cross_zero, good_values
from optimise.units import System, show

STUDY_FILE = "study.toml"
LARGEST_STUDY = 200_000
"""Largest study.toml in bytes."""
_SQUARE_MM = 1e-6


def load_study(path: str | os.PathLike[str], sets: Sequence[str] = ()) -> Study:
    """Load a study with its price lists.

    Parameters
    ----------
    path
        Study folder, or its study.toml.
    sets
        Changes for this call: ``category=part name`` puts another part on the machine asked about,
        ``category.field=quantity`` changes one field of the part on it, and ``section.key=value``
        changes what study.toml says; entries of a list count from 1 (``wood.1.share=0.5``).

    Raises
    ------
    StudyError
        With every fault of study.toml, of all price lists and of ``sets``.
    """
    file = _study_file(Path(path))
    text = read_text(file, LARGEST_STUDY)
    syntax: list[Fault] = []
    document: dict[str, Any] = {}
    try:
        document = parse_toml(text, str(file))
    except StudyError as error:
        syntax.extend(error.faults)
    system = _system(document, sets)
    raws = {category: read_list(file.parent, category, system) for category in CATEGORIES}
    csv_faults = [fault for raw in raws.values() for fault in raw.faults]
    if syntax:
        raise StudyError([*syntax, *csv_faults])
    changes = apply_sets(sets, document, system)
    findings = check(document_model(), document, system)
    findings += _cross_findings(document, raws, system)
    faults = _placed(findings, str(file), text, changes)
    faults += changes.faults
    faults += _machine_faults(document, raws, changes, system)
    if faults or csv_faults:
        raise StudyError([*faults, *csv_faults])
    study = _study(file.parent, document, raws, changes, system)
    return dataclasses.replace(study, changes=tuple(sets))


def _study_file(path: Path) -> Path:
    try:
        if path.is_dir():
            if (path / STUDY_FILE).exists():
                return path / STUDY_FILE
            found, hint = f"a folder without {STUDY_FILE}", ""
        elif path.exists():
            return path
        else:
            around = path.absolute().parent
            others = [entry.name for entry in around.iterdir()] if around.is_dir() else []
            close = nearest(path.name, others)
            found, hint = (
                "no such file or folder",
                f"did you mean {quoted(close)}?" if close else "",
            )
    except PermissionError:
        found, hint = "no permission to look into it", ""
    except (OSError, ValueError):
        return path
    raise StudyError([Fault(str(path), "", found, f"a study folder or its {STUDY_FILE}", hint)])


def _system(document: Mapping[str, Any], sets: Sequence[str]) -> System:
    """Unit system of the study's messages; a wrong one is reported elsewhere."""
    said = document.get("units")
    for text in sets:
        key, _, value = text.partition("=")
        said = value.strip() if key.strip() == "units" else said
    return "metric" if said == "metric" else "us"


# --- between fields -----------------------------------------------------------------------------


def _cross_findings(
    document: Mapping[str, Any], raws: Mapping[str, RawList], system: System
) -> list[Finding]:
    findings: list[Finding] = []
    guesses = Guesses()
    for name, owner in tables().items():
        if owner in ORDERS:
            values = good_values(table_model(owner), document.get(name), system)
            if owner is Oil and isinstance(document.get(name), Mapping):
                found, values = _oil(_table_at(document, name), values, system)
                findings += found
            for finding in order_faults(owner, values, system):
                findings.append(dataclasses.replace(finding, loc=(name, *finding.loc)))
    findings += _frame_findings(document, system)
    findings += _wood_findings(_entries(document, "wood"), system)
    findings += _limit_findings(document.get("limits"))
    findings += _user_limit_findings(_entries(document, "user_limits"), system)
    findings += _owned_findings(_table_at(document, "owned"), raws, system, guesses)
    findings += _space_findings(_table_at(document, "space"), raws, guesses)
    findings += _buyers_findings(document.get("buyers"), _entries(document, "wood"), guesses)
    findings += _leave_out_findings(_table_at(document, "lineup"), raws, guesses)
    return findings


def _table_at(document: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    table = document.get(name)
    return table if isinstance(table, Mapping) else {}


def _entries(document: Mapping[str, Any], name: str) -> list[Any]:
    """Entries of a list, as many as it may have."""
    entries = document.get(name)
    return entries[:MOST_ENTRIES] if isinstance(entries, list) else []


def _frame_findings(document: Mapping[str, Any], system: System) -> Iterator[Finding]:
    frame = good_values(table_model(Frame), document.get("frame"), system)
    if frame.get("column") == "stepped" and frame.get("barrel_length") == 0.0:
        yield Finding(
            ("frame", "barrel_length"),
            "no barrel_length",
            'a length more than 0, because column = "stepped" counts the barrel by itself',
        )


def _oil(
    raw: Mapping[str, Any], values: dict[str, Any], system: System
) -> tuple[list[Finding], dict[str, Any]]:
    """Faults in how the viscosity is stated, and the values with both viscosities filled in."""
    stated = [key for key in ("viscosity_40", "viscosity_100") if key in raw]
    if "grade" in raw:
        if stated:
            wanted = "either a grade with a viscosity_index, or viscosity_40 and viscosity_100"
            return [Finding(("oil", key), f"grade and {key}", wanted) for key in stated], values
        return _oil_by_grade(values, system)
    if "viscosity_index" in raw:
        wanted = "a viscosity_index only beside a grade"
        found = "viscosity_index without a grade"
        return [Finding(("oil", "viscosity_index"), found, wanted)], values
    absent = [key for key in ("viscosity_40", "viscosity_100") if key not in raw]
    if not absent:
        return [], values
    wanted = "viscosity_40 and viscosity_100, or a grade with a viscosity_index"
    found = f"no {' and no '.join(absent)}"
    return [Finding(("oil", absent[0]), found, wanted)], values


def _oil_by_grade(values: dict[str, Any], system: System) -> tuple[list[Finding], dict[str, Any]]:
    grade, index = values.get("grade"), values.get("viscosity_index")
    if grade is None or index is None:
        return [], {}
    at_40 = ISO_GRADES[grade] * _SQUARE_MM
    try:
        at_100 = viscosity_100_from_index(at_40, index)
    except ValueError as error:
        wanted = f"a viscosity index that an oil of grade {grade} can have"
        found = f"{show(index, 'count', system)}"
        return [Finding(("oil", "viscosity_index"), found, wanted, str(error))], {}
    return [], {**values, "viscosity_40": at_40, "viscosity_100": at_100}


def _wood_findings(wood: Sequence[object], system: System) -> Iterator[Finding]:
    shares = [good_values(table_model(Log), log, system).get("share") for log in wood]
    if wood and all(share == 0.0 for share in shares):
        yield Finding(("wood",), "shares that are all 0", "a class of logs with a share above 0")


def _limit_findings(limits: object) -> Iterator[Finding]:
    for name, change in limits.items() if isinstance(limits, Mapping) else ():
        if isinstance(change, Mapping) and not change:
            yield Finding(("limits", name), "an empty table", "a bound, a kind or both")


def _user_limit_findings(limits: Sequence[object], system: System) -> list[Finding]:
    findings: list[Finding] = []
    readable: list[tuple[int, Mapping[str, Any]]] = []
    taken = {limit.name: "a limit of the machine" for limit in LIMITS}
    for index, raw in enumerate(limits):
        if not isinstance(raw, Mapping):
            continue
        loc: Loc = ("user_limits", index)
        stated = [key for key in ("at_most", "at_least") if key in raw]
        if len(stated) != 1:
            found = "both at_most and at_least" if stated else "neither at_most nor at_least"
            findings.append(Finding(loc, found, "exactly one of at_most and at_least"))
        name = raw.get("name")
        if isinstance(name, str) and name in taken:
            found = f"{quoted(name)}, the name of {taken[name]}"
            findings.append(Finding((*loc, "name"), found, "a name of its own"))
        elif isinstance(name, str):
            taken[name] = f"limit {index + 1} of the study"
        unit = RESULT_UNITS.get(str(raw.get("result")))
        if unit is not None:
            values = good_values(user_limit_models()[unit], raw, system)
            readable.append((index, values))
            findings += _zero_findings(loc, values, unit, system)
    findings += islice(contradictions(readable), MOST_JUDGED)
    return findings


def _zero_findings(
    loc: Loc, values: Mapping[str, Any], unit: str, system: System
) -> Iterator[Finding]:
    datum = _datum_of(unit)
    for key in ("at_most", "at_least"):
        bound = values.get(key)
        if bound is not None and cross_zero(bound, datum):
            wanted = "a bound off zero, because a margin is a share of the bound"
            yield Finding((*loc, key), show(bound, unit, system), wanted)


def _datum_of(unit: str) -> float:
    """Zero from which margins on a kind of unit count."""
    return next((limit.datum for limit in LIMITS if limit.unit == unit), 0.0)


def _owned_findings(
    owned: Mapping[str, Any], raws: Mapping[str, RawList], system: System, guesses: Guesses
) -> Iterator[Finding]:
    for category, raw in raws.items():
        name = owned.get(category)
        if not isinstance(name, str) or not name.strip() or commands_terminal(name):
            continue
        if raw.readable and name not in raw.names:
            wanted = f"a name of {category}.csv"
            hint = guesses.meant(name, raw.names)
            yield Finding(("owned", category), quoted(name), wanted, hint)
    rod, bore = (raws[category].row_named(owned.get(category)) for category in ("rod", "bore"))
    for finding in rod_faults(rod, bore, system):
        yield dataclasses.replace(finding, loc=("owned", "rod"))


def _space_findings(
    space: Mapping[str, Any], raws: Mapping[str, RawList], guesses: Guesses
) -> Iterator[Finding]:
    keep = space.get("keep") if isinstance(space.get("keep"), list) else []
    for category, names in _table_at(space, "only").items():
        if category not in raws or not isinstance(names, list):
            continue
        loc: Loc = ("space", "only", category)
        if category in (keep or ()):
            found = f"{category} under keep and under only"
            yield Finding(loc, found, f"{category} in one of the two")
        raw = raws[category]
        known, before = set(raw.names), set[str]()
        for index, name in enumerate(names[:MOST_PARTS]):
            if not isinstance(name, str):
                continue
            if name in before:
                yield Finding((*loc, index), f"{quoted(name)} again", "each name once")
            elif raw.readable and name not in known:
                hint = guesses.meant(name, raw.names)
                yield Finding((*loc, index), quoted(name), f"a name of {category}.csv", hint)
            before.add(name)


def _buyers_findings(buyers: object, wood: Sequence[object], guesses: Guesses) -> Iterator[Finding]:
    groups = buyers if isinstance(buyers, list) else []
    woods = [log["name"] for log in wood if isinstance(log, Mapping) and "name" in log]
    known = [name for name in woods if isinstance(name, str)]
    taken: set[str] = set()
    for index, group in enumerate(groups[:MOST_BUYERS]):
        if not isinstance(group, Mapping):
            continue
        name, split = group.get("name"), group.get("wood")
        if isinstance(name, str) and name in taken:
            yield Finding(("buyers", index, "name"), f"{quoted(name)} again", "a name of its own")
        elif isinstance(name, str):
            taken.add(name)
        if isinstance(split, str) and split and split not in known:
            wanted, hint = "the name of a class of [[wood]]", guesses.meant(split, known)
            yield Finding(("buyers", index, "wood"), quoted(split), wanted, hint)


def _leave_out_findings(
    lineup: Mapping[str, Any], raws: Mapping[str, RawList], guesses: Guesses
) -> Iterator[Finding]:
    for category, names in _table_at(lineup, "leave_out").items():
        if category not in raws or not isinstance(names, list) or not raws[category].readable:
            continue
        loc: Loc = ("lineup", "leave_out", category)
        known = set(raws[category].names)
        for index, name in enumerate(names[:MOST_PARTS]):
            if isinstance(name, str) and name not in known:
                hint = guesses.meant(name, raws[category].names)
                yield Finding((*loc, index), quoted(name), f"a name of {category}.csv", hint)
        if known <= {name for name in names if isinstance(name, str)}:
            yield Finding(loc, f"every part of {category}.csv", "at least one part left in")


def _machine_faults(
    document: Mapping[str, Any],
    raws: Mapping[str, RawList],
    changes: Changes,
    system: System,
) -> list[Fault]:
    """Faults of the parts and fields that this call puts on the machine."""
    faults: list[Fault] = []
    values: dict[str, dict[str, float]] = {}
    places: dict[str, str] = {}
    owned = _table_at(document, "owned")
    for category, raw in raws.items():
        name = owned.get(category)
        if category in changes.fitted:
            name, place = changes.fitted[category]
            places[category] = place
            if raw.readable and name not in raw.names:
                wanted = f"a name of {category}.csv"
                hint = meant(name, raw.names)
                faults.append(Fault("", place, quoted(name), wanted, hint))
        row = dict(raw.row_named(name))
        for key, (number, place) in changes.overrides.get(category, {}).items():
            row[key] = number
            places[category] = place
        values[category] = row
        if category in changes.overrides:
            for finding in order_faults(CATEGORIES[category], row, system):
                found = f"{finding.loc[0]} {finding.found}"
                faults.append(Fault("", places[category], found, finding.expected))
    at = places.get("rod") or places.get("bore")
    for finding in rod_faults(values["rod"], values["bore"], system) if at else ():
        faults.append(Fault("", at or "", finding.found, finding.expected))
    return faults


# --- places -------------------------------------------------------------------------------------


def _placed(findings: Sequence[Finding], path: str, text: str, changes: Changes) -> list[Fault]:
    """Findings as faults in the order of the file, each on its line or at its ``--set``."""
    lines = lines_of(text) if findings else {}
    faults: dict[Fault, int] = {}
    for finding in findings:
        said = (finding.found, finding.expected, finding.hint)
        place = changes.place_of(finding.loc)
        if not place and finding.loc not in lines:
            place = changes.place_inside(finding.loc)
        if place:
            faults.setdefault(Fault("", place, *said), len(lines))
            continue
        loc = finding.loc
        while loc and loc not in lines:
            loc = loc[:-1]
        line = lines.get(loc, 0)
        where = f"line {line} ({dotted(loc)})" if loc else ""
        faults.setdefault(Fault(path, where, *said), line)
    return sorted(faults, key=lambda fault: faults[fault])


# --- result -------------------------------------------------------------------------------------


def _study(
    folder: Path,
    document: dict[str, Any],
    raws: Mapping[str, RawList],
    changes: Changes,
    system: System,
) -> Study:
    values = dict(document_model().model_validate(document, context={"system": system}))
    setting = _setting(values, _table_at(document, "oil"), system)
    owned = dict(values["owned"])
    lists = {
        category: price_list(raw, owned[category], setting.money.labour_rate)
        for category, raw in raws.items()
    }
    fitted = {
        category: changes.fitted[category][0] if category in changes.fitted else name
        for category, name in owned.items()
    }
    overrides = {
        category: {key: number for key, (number, _) in fields.items()}
        for category, fields in changes.overrides.items()
    }
    allowed = _allowed(values["space"], lists, owned)
    measurements = tuple(_as(Measurement, entry) for entry in values["measurements"])
    buyers = tuple(_as(Buyers, entry) for entry in values["buyers"])
    lineup = _lineup(values["lineup"])
    depends = {
        "setting": _plain(setting),
        "lists": {category: _plain(prices) for category, prices in lists.items()},
        "owned": owned,
        "fitted": fitted,
        "overrides": overrides,
        "allowed": allowed,
        "measurements": _plain(measurements),
        "buyers": _plain(buyers),
        "lineup": _plain(lineup),
        "currency": values["currency"],
        "price_date": values["price_date"],
    }
    return Study(
        name=values["name"],
        title=values["title"],
        folder=folder,
        system=system,
        currency=values["currency"],
        price_date=values["price_date"],
        setting=setting,
        lists=lists,
        owned=owned,
        fitted=fitted,
        overrides=overrides,
        allowed=allowed,
        measurements=measurements,
        buyers=buyers,
        lineup=lineup,
        notes=values["notes"],
        fingerprint=fingerprint(
            (name, json.dumps(value, sort_keys=True).encode()) for name, value in depends.items()
        ),
    )


def _as(owner: type[Any], value: Any) -> Any:
    return value if isinstance(value, owner) else build(owner, value)


def _lineup(table: Any) -> Lineup:
    if table is None:
        return Lineup()
    stated = dict(table.leave_out) if table.leave_out is not None else {}
    left_out = {category: tuple(names) for category, names in stated.items() if names}
    return Lineup(stock=table.stock, model_cost=table.model_cost, leave_out=left_out)


def _setting(values: Mapping[str, Any], raw_oil: Mapping[str, Any], system: System) -> Setting:
    _, oil = _oil(raw_oil, dict(values["oil"]), system)
    moved = {} if values["limits"] is None else dict(values["limits"])
    changes = {name: build(LimitChange, change) for name, change in moved.items() if change}
    setting: Setting = build(Setting, {**values, "oil": build(Oil, oil), "limit_changes": changes})
    return setting


def _allowed(
    space: Any, lists: Mapping[str, PriceList], owned: Mapping[str, str]
) -> dict[str, tuple[str, ...]]:
    keep = space.keep if space is not None else []
    only = dict(space.only) if space is not None and space.only is not None else {}
    allowed: dict[str, tuple[str, ...]] = {}
    for category, prices in lists.items():
        names = prices.names
        if category in keep:
            names = (owned[category],)
        elif only.get(category):
            names = tuple(name for name in prices.names if name in only[category])
        allowed[category] = names
    return allowed


def _plain(value: Any) -> Any:
    """Value as JSON holds it, floats to the last bit."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)
        }
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    return value
