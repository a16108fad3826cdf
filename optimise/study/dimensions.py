"""Dimensions of a sweep as written by a person: a price list, some of its parts, or numbers.

``rod`` is the whole list that a search may use; ``rod=2 in rod | 2.5 in rod`` some of it;
``rod.diameter=1.5..3.5 in by 0.25`` a range with its step, ``surroundings.air_temperature=-10..35
degC`` one with steps of our own; ``frame.stroke=20 in | 24 in`` a list. Keys are those of
``--set``.
"""

from __future__ import annotations

import dataclasses
import math
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, get_args

import numpy as np
from pydantic import BaseModel
from pydantic_core import PydanticCustomError

from optimise.columns import Array, Column
from optimise.errors import Fault, StudyError, quoted
from optimise.machine.parts import CATEGORIES
from optimise.machine.quantities import Quantity, quantities
from optimise.machine.setting import Setting
from optimise.study.entries import read_quantity
from optimise.study.fault_words import meant
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.study.schema import bound_spec, document_model, user_limit_spec
from optimise.study.table_faults import key_meant
from optimise.units import KINDS, System, UnitFault, convert, parse, show, unit_of

MOST_POINTS = 200
"""Points of one dimension."""
WORD_SECTIONS = ("frame", "oil")
"""Tables of which words and whole numbers may be swept too, such as an oil grade."""
EXAMPLES = (
    '"rod", "rod=one name | another name", "rod.diameter=1.5..3.5 in by 0.25" or '
    '"surroundings.air_temperature=-10..35 degC"'
)
_LONGEST = 10_000
_LEADING_NUMBER = re.compile(r"\s*[+-]?[\d./ -]*\d\.?\s*")
_RENAMED = {"limits": "limit_changes"}


@dataclass(frozen=True, eq=False)
class Dimension:
    """One dimension of a sweep.

    Attributes
    ----------
    text
        As written.
    key
        Key of ``--set``.
    names
        Part names or words, where these are what varies.
    values
        Numbers in SI, rising, where these are.
    spec
        What the numbers mean.
    """

    text: str
    key: str
    names: tuple[str, ...] = ()
    values: Array | None = None
    spec: Quantity | None = None

    @property
    def steps(self) -> tuple[str, ...]:
        """Key, step by step."""
        return tuple(self.key.split("."))

    @property
    def category(self) -> str:
        """Part category that it varies; "" for what is not a part."""
        return self.steps[0] if self.steps[0] in CATEGORIES else ""

    @property
    def of_parts(self) -> bool:
        """Whether whole parts vary, which have a price."""
        return self.key in CATEGORIES

    @property
    def of_setting(self) -> bool:
        """Whether it is about anything but the parts."""
        return not self.category

    def __len__(self) -> int:
        return len(self.names) if self.values is None else len(self.values)

    def label(self, nth: int, system: System) -> str:
        """One point in words."""
        return self.names[nth] if self.values is None else self.shown(self.values[nth], system)

    def shown(self, value: float, system: System) -> str:
        """A number on it with its unit."""
        return show(float(value), self.kind, system)

    @property
    def kind(self) -> str:
        """Kind of unit of its numbers."""
        return self.spec.kind if self.spec is not None else "count"

    def change(self, nth: int) -> str:
        """One point as a change for ``--set``."""
        if self.values is None:
            return f"{self.key}={self.names[nth]}"
        number = convert(float(self.values[nth]), self.kind, "metric")
        return f"{self.key}={number:.17g} {unit_of(self.kind, 'metric')}".rstrip()


class _Refused(Exception):  # noqa: N818 - carries a fault inside this module
    def __init__(self, found: str, expected: str, hint: str = "") -> None:
        super().__init__(found)
        self.fault = (found, expected, hint)


def read_dimensions(
    path: str | os.PathLike[str],
    sets: Sequence[str],
    study: Study,
    texts: Sequence[str],
    most: Sequence[int],
    word: str = "sweep",
) -> tuple[Dimension, ...]:
    """Dimensions of a sweep, checked.

    Parameters
    ----------
    path, sets
        Of the study, as loaded.
    texts
        As written, one each.
    most
        Points of a range that names no step: with whole parts or numbers of parts, of the setting.
    word
        What a fault calls them.

    Raises
    ------
    StudyError
        With every fault of all dimensions, each at its words.
    """
    faults: list[Fault] = []
    found: list[Dimension] = []
    for text in texts:
        try:
            dimension = _read(text, study, most)
            _try_ends(dimension, path, sets, study)
            found.append(dimension)
        except _Refused as refused:
            faults.append(Fault("", f"{word} {text}", *refused.fault))
        except StudyError as error:
            faults.extend(_at_its_words(fault, f"{word} {text}") for fault in error.faults)
    faults.extend(_clashes(found, study, word))
    if faults:
        raise StudyError(faults)
    return tuple(found)


def _at_its_words(fault: Fault, place: str) -> Fault:
    """Fault of a study that loads without the dimension: it is the dimension's."""
    found = f"{fault.found} at {fault.place}" if fault.path else fault.found
    return dataclasses.replace(fault, path="", place=place, found=found)


def _clashes(found: Sequence[Dimension], study: Study, word: str) -> list[Fault]:
    whole = [dimension for dimension in found if dimension.of_parts]
    faults = []
    for dimension in whole:
        others = [one for one in found if one is not dimension and one.category == dimension.key]
        if dimension.key in study.overrides or others:
            name = others[0].key if others else f"--set {dimension.key}.*"
            faults.append(
                Fault(
                    "",
                    f"{word} {dimension.text}",
                    f"{name} besides",
                    f"either whole parts of {dimension.key} or numbers of one of them",
                )
            )
    if len({dimension.key for dimension in found}) < len(found) and not faults:
        faults.append(Fault("", f"{word} {found[-1].text}", "the same again", "another dimension"))
    return faults


def _read(text: str, study: Study, most: Sequence[int]) -> Dimension:
    if len(text) > _LONGEST:
        raise _Refused(f"{len(text)} characters", f"at most {_LONGEST} characters")
    key, sign, wanted = (part.strip() for part in text.partition("="))
    steps = key.split(".")
    if not all(step.strip() for step in steps):
        raise _Refused(quoted(text), f"something to vary, such as {EXAMPLES}")
    if steps[0] not in (*CATEGORIES, *document_model().model_fields):
        raise _Refused(
            quoted(steps[0]), f"something to vary, such as {EXAMPLES}", key_meant(steps[0])
        )
    if key in CATEGORIES:
        return Dimension(text, key, _part_names(key, wanted, study) if sign else study.allowed[key])
    spec = _spec_of(steps, study)
    if spec is None:
        return Dimension(text, key, _words(key, steps, wanted))
    if not wanted:
        example = KINDS[spec.kind].example_us
        raise _Refused(
            "no values", f'a list or a range, such as "{key}={example} | ..." or "{key}=A..B unit"'
        )
    count = most[0] if steps[0] in CATEGORIES else most[1]
    values = _values(wanted, spec, study.system, count)
    return Dimension(text, key, values=values, spec=spec)


def _part_names(category: str, wanted: str, study: Study) -> tuple[str, ...]:
    listed = study.lists[category].names
    names = tuple(name.strip() for name in wanted.split("|"))
    for name in names:
        if name not in listed:
            raise _Refused(
                quoted(name), f"names of {category}.csv with | between", meant(name, listed)
            )
    if len(set(names)) < len(names):
        raise _Refused("a name again", "each name once")
    return names


def _words(key: str, steps: Sequence[str], wanted: str) -> tuple[str, ...]:
    if steps[0] in CATEGORIES:
        known = quantities(CATEGORIES[steps[0]])
        hint = meant(steps[1], known)
        raise _Refused(quoted(".".join(steps[1:])), f"a field of {steps[0]}", hint)
    model: Any = document_model()
    for step in steps:
        model = _inside(model, step)
        if model is None:
            raise _Refused(quoted(key), "a key of study.toml that holds a number", _hint(steps))
    if steps[0] not in WORD_SECTIONS:
        raise _Refused(quoted(key), "a key of study.toml that holds a number")
    words = tuple(word.strip() for word in wanted.split("|"))
    if ".." in wanted or not all(words) or len(set(words)) < max(2, len(words)):
        raise _Refused(quoted(wanted), "two or more different words with | between")
    return words


def _hint(steps: Sequence[str]) -> str:
    """Nearest key where one is misspelt."""
    model: Any = document_model()
    for step in steps:
        fields = getattr(model, "model_fields", {})
        if fields and step not in fields:
            return meant(step, fields)
        model = _inside(model, step)
        if model is None:
            return ""
    return ""


def _inside(model: Any, step: str) -> Any:
    """What stands under a step of a key: a model, a list's model, or the field itself."""
    fields = getattr(model, "model_fields", None)
    if fields is not None:
        if step not in fields:
            return None
        field = fields[step]
        kinds = [field.annotation, *get_args(field.annotation)]
        tables = [one for one in kinds if isinstance(one, type) and issubclass(one, BaseModel)]
        return tables[0] if tables else field
    return None


def _spec_of(steps: Sequence[str], study: Study) -> Quantity | None:
    """Meaning of the number under a key; None where there is no number."""
    if steps[0] in CATEGORIES:
        return quantities(CATEGORIES[steps[0]]).get(".".join(steps[1:]))
    if steps[0] == "user_limits":
        return _spec_of_user_limit(steps, study)
    if steps[0] == "limits" and steps[2:] == ["bound"]:
        for limit in _limits():
            if limit.name == steps[1]:
                return bound_spec(limit.unit, limit.datum)
        return None
    model: Any = document_model()
    for step in steps:
        if step.isdigit():
            continue
        model = _inside(model, step)
    metadata = getattr(model, "metadata", ())
    return next((one for one in metadata if isinstance(one, Quantity)), None)


def _limits() -> Any:
    from optimise.machine.limits import LIMITS  # noqa: PLC0415

    return LIMITS


def _spec_of_user_limit(steps: Sequence[str], study: Study) -> Quantity | None:
    limits = study.setting.user_limits
    if len(steps) != 3 or not steps[1].isdigit() or steps[2] not in ("at_most", "at_least"):
        return None
    place = int(steps[1]) - 1 if len(steps[1]) < 6 else -1
    if not 0 <= place < len(limits):
        raise _Refused(quoted(steps[1]), f"a position from 1 to {len(limits)}")
    return user_limit_spec(limits[place].result)


# --- numbers ------------------------------------------------------------------------------------


def _quantity(text: str, spec: Quantity, system: System) -> float:
    try:
        return read_quantity(text.strip(), spec, system)
    except PydanticCustomError as error:
        context = error.context or {}
        raise _Refused(context["found"], context["expected"], context["hint"]) from None


def _unit_in(text: str) -> str:
    """Unit behind a number."""
    match = _LEADING_NUMBER.match(text)
    return text[match.end() :] if match else ""


def _with_unit(text: str, unit: str) -> str:
    return text if _unit_in(text) or not unit else f"{text.strip()} {unit}"


def _values(wanted: str, spec: Quantity, system: System, count: int) -> Array:
    if ".." in wanted:
        return _range(wanted, spec, system, count)
    items = wanted.split("|")
    unit = _unit_in(items[-1])
    values = np.array([_quantity(_with_unit(item, unit), spec, system) for item in items])
    if len(values) > MOST_POINTS:
        raise _Refused(f"{len(values)} values", f"at most {MOST_POINTS}")
    if len(values) < 2 or len(np.unique(values)) < len(values):
        raise _Refused(quoted(wanted), "two or more different values, or a range A..B")
    return np.sort(values)


def _range(wanted: str, spec: Quantity, system: System, count: int) -> Array:
    ends, by, step_text = wanted.partition(" by ")
    first, _, last = ends.partition("..")
    unit = _unit_in(last)
    low = _quantity(_with_unit(first, unit), spec, system)
    high = _quantity(last, spec, system)
    if high <= low:
        raise _Refused(quoted(wanted), "a range from the smaller to the larger value")
    if not by:
        return np.linspace(low, high, count)
    kind = "temperature_difference" if spec.kind == "temperature" else spec.kind
    try:
        step = parse(_with_unit(step_text, unit), kind)
    except UnitFault as fault:
        raise _Refused(fault.found, f"a step: {fault.expected}", fault.hint) from None
    if step <= 0.0:
        raise _Refused(quoted(step_text.strip()), "a step of more than 0")
    whole = math.floor((high - low) / step + 1e-9)
    if whole >= MOST_POINTS:
        raise _Refused(f"{whole + 1} points", f"at most {MOST_POINTS}; a longer step")
    if whole < 1:
        raise _Refused(quoted(step_text.strip()), "a step shorter than the range")
    values: Array = np.minimum(low + step * np.arange(whole + 1), high)
    return values


# --- studies on the way -------------------------------------------------------------------------


def _try_ends(
    dimension: Dimension, path: str | os.PathLike[str], sets: Sequence[str], study: Study
) -> None:
    """Put the outermost points into the study as ``--set`` would; faults are those it finds.

    What is checked between numbers allows whole ranges, so the ends speak for what lies between.
    """
    if dimension.of_parts:
        return
    places = range(len(dimension)) if dimension.values is None else (0, len(dimension) - 1)
    for nth in places:
        load_study(path, [*sets, f"units={study.system}", dimension.change(nth)])


def study_at(
    dimension: Dimension,
    nth: int,
    study: Study,
    path: str | os.PathLike[str],
    sets: Sequence[str],
) -> Study:
    """Study at one point of a dimension of the setting, loaded as with ``--set``."""
    loaded = load_study(path, [*sets, dimension.change(nth)])
    if study.corrected and dimension.steps[0] != "constants":
        setting = dataclasses.replace(loaded.setting, constants=study.setting.constants)
        loaded = dataclasses.replace(loaded, setting=setting)
    return dataclasses.replace(loaded, system=study.system)


def setting_at(dimension: Dimension, value: Column, setting: Setting) -> Setting | None:
    """Setting with one number changed; None where the number is not in it by itself."""
    steps = [_RENAMED.get(step, step) for step in dimension.steps]
    if tuple(steps) == ("money", "labour_rate"):
        return None
    changed: Setting | None = _replaced(setting, steps, value)
    return changed


def _replaced(owner: Any, steps: Sequence[str], value: Column) -> Any:
    if not steps:
        return value
    step, rest = steps[0], steps[1:]
    if isinstance(owner, tuple):
        place = int(step) - 1
        inner = _replaced(owner[place], rest, value)
        return None if inner is None else (*owner[:place], inner, *owner[place + 1 :])
    if isinstance(owner, dict):
        if step not in owner:
            return None
        inner = _replaced(owner[step], rest, value)
        return None if inner is None else {**owner, step: inner}
    if not dataclasses.is_dataclass(owner) or not hasattr(owner, step):
        return None
    inner = _replaced(getattr(owner, step), rest, value)
    changed: Any = owner
    return None if inner is None else dataclasses.replace(changed, **{step: inner})
