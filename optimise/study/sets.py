"""Changes for one call, as written after ``--set``."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic_core import PydanticCustomError

from optimise.errors import Fault, StudyError, quoted
from optimise.machine.parts import CATEGORIES
from optimise.machine.quantities import quantities
from optimise.study.entries import read_quantity
from optimise.study.fault_words import described, meant
from optimise.study.places import Loc, parse_toml
from optimise.study.schema import document_model
from optimise.study.table_faults import key_meant
from optimise.units import System

WANTED = "category=part, category.field=quantity or section.key=value"
_LONGEST = 10_000


_ABOUT_MEASUREMENTS = ("constants", "measurements")


def measured_under(sets: Sequence[str]) -> list[str]:
    """Those of a call's changes that hold for the measurements too.

    Readings were taken on the machine owned in the study's own conditions; another part, another
    place or other wood belong to the question, constants and readings themselves to both.
    """
    heads = (text.partition("=")[0].partition(".")[0].strip() for text in sets)
    return [text for text, head in zip(sets, heads, strict=True) if head in _ABOUT_MEASUREMENTS]


@dataclass
class Changes:
    """What a call changes about a study.

    Attributes
    ----------
    document
        Place of each changed value of study.toml, by its way.
    fitted
        Part put on the machine and its place, by category.
    overrides
        Value in SI and its place, by category and field.
    faults
        All that is wrong with the changes by themselves.
    """

    document: dict[Loc, str] = field(default_factory=dict)
    fitted: dict[str, tuple[str, str]] = field(default_factory=dict)
    overrides: dict[str, dict[str, tuple[float, str]]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def place_of(self, loc: Loc) -> str:
        """Place of the change that made what stands at ``loc``; "" when none did."""
        for changed, place in reversed(self.document.items()):
            if loc[: len(changed)] == changed:
                return place
        return ""

    def place_inside(self, loc: Loc) -> str:
        """Place of a change to something inside ``loc``."""
        for changed, place in reversed(self.document.items()):
            if changed[: len(loc)] == loc:
                return place
        return ""


def apply_sets(sets: Sequence[str], document: dict[str, Any], system: System) -> Changes:
    """Put changes into the data of a study.toml, in place, and sort out those to the machine.

    The last of several changes to one thing holds.
    """
    changes = Changes()
    for text in sets:
        key, sign, value = text.partition("=")
        place = f"--set {text}"
        steps = [step.strip() for step in key.split(".")]
        if not sign or not all(steps):
            changes.faults.append(Fault("", place, quoted(text), WANTED))
        elif len(text) > _LONGEST:
            found = f"{len(text)} characters"
            changes.faults.append(Fault("", place, found, f"at most {_LONGEST} characters"))
        elif steps[0] in CATEGORIES:
            _change_machine(steps, value.strip(), place, changes, system)
        elif steps[0] in document_model().model_fields:
            _change_document(steps, value.strip(), place, changes, document)
        else:
            changes.faults.append(Fault("", place, quoted(steps[0]), WANTED, key_meant(steps[0])))
    return changes


def _change_machine(
    steps: list[str], value: str, place: str, changes: Changes, system: System
) -> None:
    category = steps[0]
    if len(steps) == 1:
        changes.fitted[category] = (value, place)
        return
    name = ".".join(steps[1:])
    specs = quantities(CATEGORIES[category])
    if name not in specs:
        hint = meant(name, specs)
        changes.faults.append(Fault("", place, quoted(name), f"a field of {category}", hint))
        return
    try:
        number = read_quantity(value, specs[name], system)
    except PydanticCustomError as error:
        context = error.context or {}
        changes.faults.append(
            Fault("", place, context["found"], context["expected"], context["hint"])
        )
        return
    changes.overrides.setdefault(category, {})[name] = (number, place)


def _change_document(
    steps: list[str], value: str, place: str, changes: Changes, document: dict[str, Any]
) -> None:
    spot: Any = document
    loc: Loc = ()
    for index, step in enumerate(steps):
        at: str | int = step
        if isinstance(spot, list):
            position = int(step) if step.isascii() and step.isdigit() and len(step) < 6 else 0
            if not 1 <= position <= len(spot):
                wanted = f"a position from 1 to {len(spot)}"
                changes.faults.append(Fault("", place, quoted(step), wanted))
                return
            at = position - 1
        elif not isinstance(spot, dict):
            found = f"{described(spot)} at {'.'.join(steps[:index])}"
            changes.faults.append(Fault("", place, found, "a table to change a key of"))
            return
        loc = (*loc, at)
        if index < len(steps) - 1:
            spot = spot.setdefault(at, {}) if isinstance(spot, dict) else spot[at]
    try:
        spot[loc[-1]] = _value(value, place)
    except StudyError as error:
        changes.faults.extend(
            dataclasses.replace(fault, path="", place=place) for fault in error.faults
        )
        return
    changes.document[loc] = place


def _value(text: str, place: str) -> Any:
    """Text as it is; a list is read as TOML reads it."""
    return parse_toml(f"value = {text}", place)["value"] if text.startswith("[") else text
