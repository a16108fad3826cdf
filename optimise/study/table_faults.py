"""What is wrong with a table of a study by itself: every fault, with its way into the data."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError

from optimise.errors import nearest, quoted
from optimise.machine.parts import CATEGORIES
from optimise.machine.quantities import POSITIVE, Quantity, quantities
from optimise.study.entries import REFUSED
from optimise.study.fault_words import described, dotted, guess, listed_names, meant
from optimise.study.model import MEASURED
from optimise.study.places import Loc
from optimise.study.schema import RESULT_UNITS, AnyModel, document_model
from optimise.units import System, expected

MOST_JUDGED = 1_000
"""Most faults of study.toml, or of one price list, that are worked out."""


@dataclass(frozen=True)
class Finding:
    """One fault, with its way into the data instead of a line."""

    loc: Loc
    found: str
    expected: str
    hint: str = ""


def check(model: AnyModel, data: Mapping[str, Any], system: System) -> list[Finding]:
    """Everything that is wrong with a table by itself.

    A misspelt key is one fault: the key that it seems to mean is not told to be missing as well.
    """
    try:
        model.model_validate(data, context={"system": system})
    except ValidationError as error:
        told = error.errors(include_url=False)[:MOST_JUDGED]
        entries = [(entry["type"], dict(entry)) for entry in told]
    else:
        return []
    found = [(kind, _finding(entry, model)) for kind, entry in entries]
    misspelt = {
        (*finding.loc[:-1], nearest(str(finding.loc[-1]), _keys_at(finding.loc[:-1], model)))
        for kind, finding in found
        if kind == "extra_forbidden"
    }
    return [finding for kind, finding in found if kind != "missing" or finding.loc not in misspelt]


@functools.cache
def _adapters(model: AnyModel) -> dict[str, TypeAdapter[Any]]:
    return {
        name: TypeAdapter(field.rebuild_annotation()) for name, field in model.model_fields.items()
    }


def good_values(model: AnyModel, data: object, system: System) -> dict[str, Any]:
    """Values of the keys of a table that are in order by themselves, and defaults."""
    if not isinstance(data, Mapping):
        return {}
    context = {"system": system}
    try:
        return dict(model.model_validate(data, context=context))
    except ValidationError:
        pass
    values: dict[str, Any] = {}
    for name, field in model.model_fields.items():
        if name in data:
            try:
                values[name] = _adapters(model)[name].validate_python(data[name], context=context)
            except ValidationError:
                continue
        elif not field.is_required():
            values[name] = field.get_default(call_default_factory=True, validated_data={})
    return values


_TAGGED = {"measurements": tuple(MEASURED), "user_limits": tuple(RESULT_UNITS)}
_NEEDED = {"measurements": "kind", "user_limits": "result"}


def _finding(error: dict[str, Any], model: AnyModel) -> Finding:  # noqa: PLR0911 - one per type
    loc = _untagged(tuple(error["loc"]))
    context = error.get("ctx", {})
    kind = error["type"]
    value = error.get("input")
    if kind == REFUSED:
        return Finding(loc, context["found"], context["expected"], context["hint"])
    if kind == "missing":
        return missing(loc, model)
    if kind == "extra_forbidden":
        known = _keys_at(loc[:-1], model)
        where = f"of {dotted(loc[:-1])}" if loc[:-1] else "of a study"
        return Finding(loc, quoted(str(loc[-1])), f"a key {where}", meant(str(loc[-1]), known))
    if kind == "union_tag_not_found":
        return missing((*loc, _NEEDED[str(loc[0])]), model)
    if kind == "union_tag_invalid":
        key, names = _NEEDED[str(loc[0])], _TAGGED[str(loc[0])]
        tag = value.get(key) if isinstance(value, Mapping) else value
        hint = meant(tag, names) if isinstance(tag, str) else ""
        return Finding((*loc, key), described(tag), f"a {key} such as {listed_names(names)}", hint)
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        item = isinstance(loc[-1], int)
        name = f"[[{dotted(loc[:-1])}]]" if item else f"[{dotted(loc)}]"
        return Finding(loc, described(value), f"a table {name}")
    if kind == "list_type":
        table = isinstance(value, Mapping)
        return Finding(loc, described(value), f"a list [[{dotted(loc)}]]" if table else "a list")
    if kind == "too_short":
        return Finding(loc, "an empty list", "at least one entry")
    if kind == "too_long":
        most = error["ctx"]["max_length"]
        return Finding(loc, f"more than {most} entries", f"at most {most} entries")
    return Finding(loc, described(value), "something else", str(error["msg"]))


def _untagged(loc: Loc) -> Loc:
    """Drop the tag that the choice between kinds of entries puts into a way."""
    return (*loc[:2], *loc[3:]) if loc and loc[0] in _TAGGED and len(loc) > 2 else loc


def missing(loc: Loc, model: AnyModel) -> Finding:
    """Finding for a key that must be there."""
    annotation = _annotation_at(loc, model)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return Finding(loc, f"no [{dotted(loc)}]", f"the table [{dotted(loc)}]")
    if get_origin(annotation) is list:
        return Finding(loc, f"no [[{dotted(loc)}]]", f"at least one table [[{dotted(loc)}]]")
    key = str(loc[-1])
    owner = _annotation_at(loc[:-1], model)
    field = owner.model_fields.get(key) if owner is not None else None
    specs = [entry for entry in field.metadata if isinstance(entry, Quantity)] if field else []
    wanted = "".join(f", {expected(spec.kind)}" for spec in specs)
    return Finding(loc, f"no {quoted(key)}", f"the key {quoted(key)}{wanted}")


def _annotation_at(loc: Loc, model: AnyModel) -> Any:
    """Annotation of a key; None where the way leaves the models."""
    annotation: Any = model
    for step in loc:
        if isinstance(step, int):
            annotation = (get_args(annotation) or (None,))[0]
            if get_origin(annotation) is Annotated:
                annotation = get_args(get_args(annotation)[0])[0]
            continue
        if not (isinstance(annotation, type) and issubclass(annotation, BaseModel)):
            return None
        field = annotation.model_fields.get(step)
        if field is None:
            return None
        annotation = field.annotation
    return annotation


def _keys_at(loc: Loc, model: AnyModel) -> tuple[str, ...]:
    annotation = _annotation_at(loc, model)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return tuple(annotation.model_fields)
    return ()


def key_meant(word: str) -> str:
    """Hint at the key of a study or a part category that a word by itself meant.

    Examples
    --------
    >>> key_meant("stroke"), key_meant("rood")
    ('did you mean "frame.stroke"?', 'did you mean "rod"?')
    """
    model = document_model()
    heads = (*CATEGORIES, *model.model_fields)
    below = {
        f"{head}.{key}"
        for head, keys in (
            *((category, quantities(part)) for category, part in CATEGORIES.items()),
            *((section, _keys_at((section,), model)) for section in model.model_fields),
        )
        for key in keys
        if key == word and head not in ("owned", "limits", "space")
    }
    if len(below) == 1:
        return guess(below.pop())
    if below:
        return f"it stands in {listed_names(sorted(below))}"
    return meant(word, heads)


def cross_zero(number: float, datum: float) -> bool:
    """Whether a bound leaves no share to take a margin of."""
    return math.isclose(number, datum, rel_tol=0.0, abs_tol=POSITIVE)
