"""Shape of study.toml and of a price-list row, made from the dataclasses that they fill.

Every key, unit kind and range follows from the field metadata of ``machine.setting``,
``machine.parts`` and ``study.model``, and from the tables of limits and results. Run as a module,
this file writes the JSON Schema of study.toml that editors complete from.
"""

from __future__ import annotations

import dataclasses
import datetime
import functools
import json
import math
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import MISSING, dataclass
from typing import Annotated, Any, Literal, TypeAlias, Union, get_args, get_origin, get_type_hints

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    TypeAdapter,
    ValidationError,
    ValidationInfo,
    WithJsonSchema,
    create_model,
)
from pydantic.functional_validators import PlainValidator
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError

from optimise.errors import nearest, quoted
from optimise.machine.limits import LIMITS
from optimise.machine.parts import CATEGORIES, Part
from optimise.machine.quantities import POSITIVE, Quantity, quantities
from optimise.machine.results import RESULTS
from optimise.machine.setting import WEDGES, Frame, Oil, Setting
from optimise.physics.strength import MOUNTING_FACTORS
from optimise.study.model import MEASURED, Buyers, Lineup, Measurement
from optimise.study.places import Loc
from optimise.study.published import SCHEMA_FILE
from optimise.units import KINDS, System, UnitFault, expected, parse, show

ISO_GRADES: dict[int, float] = {
    2: 2.2,
    3: 3.2,
    5: 4.6,
    7: 6.8,
    **{
        grade: float(grade)
        for grade in (10, 15, 22, 32, 46, 68, 100, 150, 220, 320, 460, 680, 1000, 1500, 2200, 3200)
    },
}
"""Midpoint viscosity at 40 degC in mm2/s of each viscosity grade of ISO 3448."""

CHOICES: dict[tuple[type[Any], str], tuple[str, ...]] = {
    (Frame, "mounting"): tuple(MOUNTING_FACTORS),
    (Frame, "column"): ("rod_only", "stepped"),
    (Frame, "wedge"): tuple(WEDGES),
}
"""Words that a text field may hold."""

LIMIT_KINDS = ("hard", "advisory")
SYSTEMS: tuple[str, ...] = get_args(System)

_UNBOUNDED = 1e12
_LEAST_OFF_DATUM = 1.0
_RENAMED = {"limit_changes": "limits"}
_REFUSED = "ramfront"
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
MOST_JUDGED = 1_000
"""Most faults of study.toml, or of one price list, that are worked out."""
MOST_ENTRIES = 500
"""Most entries of a list of tables."""
MOST_BUYERS = 8
"""Most groups of buyers: a line of models is found over all their subsets."""
MOST_PARTS = 5_000
"""Most rows of a price list under its header, and most names of parts in one list."""
_MOST_COMPARED = 10_000
_MOST_NAMED = 12
_list: Any = list
_literal: Any = Literal
_union: Any = Union
_AnyModel: TypeAlias = type[BaseModel]


@dataclass(frozen=True)
class Finding:
    """One fault, with its way into the data instead of a line."""

    loc: Loc
    found: str
    expected: str
    hint: str = ""


class _Table(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


def described(value: object) -> str:
    """Value from a TOML file in the words of TOML, safe to print."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return str(value)


def _refusal(value: object, wanted: str, hint: str = "") -> PydanticCustomError:
    context = {"found": described(value), "expected": wanted, "hint": hint}
    return PydanticCustomError(_REFUSED, "refused", context)


def meant(word: str, known: Iterable[str]) -> str:
    """Hint at the known name that a word meant, or at all of them where they are few."""
    names = tuple(known)
    close = nearest(word, names)
    if close:
        return _guess(close)
    told = [quoted(name) for name in names] if any("," in name for name in names) else names
    return f"known: {', '.join(told)}" if len(names) <= _MOST_NAMED else ""


class Guesses:
    """Hints for one load: ``meant`` as long as the names compared with are not far too many."""

    def __init__(self) -> None:
        self._left = _MOST_COMPARED

    def meant(self, word: str, known: Collection[str]) -> str:
        """Hint as :func:`meant` gives it; "" once enough was compared."""
        if len(known) > self._left:
            return ""
        self._left -= len(known)
        return meant(word, known)


def _guess(name: str) -> str:
    return f"did you mean {quoted(name)}?" if name else ""


# --- quantities ---------------------------------------------------------------------------------


def range_text(spec: Quantity, system: System) -> str:
    """Allowed range of a quantity in words; "" where it has no ends."""
    positive = spec.lowest == POSITIVE and spec.kind != "temperature"
    low = "more than 0" if positive else f"at least {show(spec.lowest, spec.kind, system)}"
    if spec.lowest <= -_UNBOUNDED:
        low = ""
    high = f"at most {show(spec.highest, spec.kind, system)}" if spec.highest < _UNBOUNDED else ""
    return " and ".join(filter(None, (low, high)))


def read_quantity(value: object, spec: Quantity, system: System) -> float:
    """SI number of a quantity as written in a study; ``PydanticCustomError`` carries the fault."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise _refusal(value, expected(spec.kind))
    text = value if isinstance(value, str) else repr(value)
    try:
        number = parse(text, spec.kind)
    except UnitFault as fault:
        raise _refusal(value, fault.expected, fault.hint) from None
    if not spec.lowest <= number <= spec.highest:
        raise _refusal(value, f"{KINDS[spec.kind].phrase}, {range_text(spec, system)}")
    return number


def _system_of(info: ValidationInfo) -> System:
    return "metric" if (info.context or {}).get("system") == "metric" else "us"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


@dataclass(frozen=True)
class _QuantitySchema:
    """JSON Schema of a quantity, written when it is asked for: loading a study never asks."""

    spec: Quantity
    default: object

    def __get_pydantic_json_schema__(self, _core: object, _handler: object) -> dict[str, Any]:
        return _quantity_schema(self.spec, self.default)


def _quantity_schema(spec: Quantity, default: object) -> dict[str, Any]:
    kind = KINDS[spec.kind]
    examples: list[Any] = [kind.example_us, kind.example_metric]
    ranges = [range_text(spec, system) for system in ("us", "metric")]
    allowed = ranges[0] if ranges[0] == ranges[1] else f"{ranges[0]} ({ranges[1]})"
    sentences = (spec.meaning, expected(spec.kind), allowed)
    schema: dict[str, Any] = {
        "title": _capital(spec.title),
        "description": " ".join(f"{_capital(part)}." for part in sentences if part),
        "type": ["string", "number"] if kind.bare else "string",
        "examples": examples,
    }
    if isinstance(default, float):
        schema["default"] = show(default, spec.kind, "metric", 6)
    return schema


def _quantity_type(spec: Quantity, default: object = MISSING) -> Any:
    def read(value: object, info: ValidationInfo) -> float:
        return read_quantity(value, spec, _system_of(info))

    return Annotated[float, PlainValidator(read), _QuantitySchema(spec, default), spec]


# --- words --------------------------------------------------------------------------------------


def commands_terminal(text: str) -> bool:
    """Whether a text holds a character that would command a terminal instead of being shown."""
    return _CONTROL.search(text) is not None


def _text_type(what: str, *, empty: bool = False) -> Any:
    wanted = f'{what}, as text between quotation marks such as "..."'

    def read(value: object) -> str:
        if not isinstance(value, str) or not (empty or value.strip()):
            raise _refusal(value, wanted)
        if commands_terminal(value):
            raise _refusal(value, "text without control characters")
        return value

    schema = {"type": "string", "description": _capital(what) + "."}
    if not empty:
        schema["pattern"] = r"\S"
    return Annotated[str, PlainValidator(read), WithJsonSchema(schema)]


def _choice_type(what: str, names: Sequence[str]) -> Any:
    def read(value: object) -> str:
        if isinstance(value, str) and value in names:
            return value
        close = nearest(value, names) if isinstance(value, str) else ""
        raise _refusal(value, f"{what}: {_listed(names)}", _guess(close))

    schema = {"type": "string", "enum": list(names), "description": _capital(what) + "."}
    return Annotated[str, PlainValidator(read), WithJsonSchema(schema)]


def _listed(names: Sequence[str]) -> str:
    shortened = [quoted(name) for name in names[:_MOST_NAMED]]
    return ", ".join(shortened) + (", ..." if len(names) > _MOST_NAMED else "")


def _whole_number(value: object) -> int | None:
    """Whole number, also as short text in digits; None for anything else."""
    if isinstance(value, str) and len(value) < 10 and value.isascii() and value.isdigit():
        return int(value)
    return value if isinstance(value, int) and not isinstance(value, bool) else None


_MOST_REPEATS = 1_000_000


def _read_repeats(value: object) -> int:
    number = _whole_number(value)
    if number is None or not 1 <= number <= _MOST_REPEATS:
        raise _refusal(value, f"a whole number of readings from 1 to {_MOST_REPEATS}")
    return number


def _read_grade(value: object) -> int:
    number = _whole_number(value)
    if number is None or number not in ISO_GRADES:
        grades = ", ".join(map(str, ISO_GRADES))
        raise _refusal(value, f"a viscosity grade of ISO 3448: {grades}")
    return number


def _read_date(value: object) -> str:
    text = value.isoformat() if type(value) is datetime.date else value
    try:
        if isinstance(text, str) and datetime.date.fromisoformat(text).isoformat() == text:
            return text
    except ValueError:
        pass
    raise _refusal(value, 'a date as year-month-day, such as "2026-10-01"')


_Repeats = Annotated[
    int,
    PlainValidator(_read_repeats),
    WithJsonSchema(
        {"type": "integer", "minimum": 1, "default": 1, "description": "Number of readings."}
    ),
]
_Grade = Annotated[
    int,
    PlainValidator(_read_grade),
    WithJsonSchema(
        {"type": "integer", "enum": list(ISO_GRADES), "description": "ISO 3448 viscosity grade."}
    ),
]
_Date = Annotated[
    str,
    PlainValidator(_read_date),
    WithJsonSchema(
        {"type": "string", "format": "date", "description": "Date of the prices, YYYY-MM-DD."}
    ),
]


# --- tables -------------------------------------------------------------------------------------


def _default_of(field: dataclasses.Field[Any]) -> Any:
    if field.default is not MISSING:
        return field.default
    if field.default_factory is not MISSING:
        return Field(default_factory=field.default_factory)
    return ...


def _field_type(owner: type[Any], field: dataclasses.Field[Any], hint: Any) -> Any:
    if "quantity" in field.metadata:
        return _quantity_type(field.metadata["quantity"], field.default)
    if (owner, field.name) in CHOICES:
        return _choice_type(f"the {field.name}", CHOICES[owner, field.name])
    if hint is str:
        return _text_type(f"the {field.name}", empty=field.default == "")
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return table_model(hint)
    inner = get_args(hint)[0] if get_origin(hint) is tuple else None
    if isinstance(inner, type) and dataclasses.is_dataclass(inner):
        return _list_type(table_model(inner), 1)
    raise TypeError(f"{owner.__name__}.{field.name}: no way to write {hint} in a study")


def _doc(owner: type[Any]) -> str:
    return (owner.__doc__ or "").partition("\n")[0]


def table_model(owner: type[Any]) -> _AnyModel:
    """Model of one table of study.toml, or of one row of a price list for a part class."""
    key: Any = owner
    return _table_model(key)


@functools.cache
def _table_model(owner: Any) -> _AnyModel:
    if owner is Oil:
        return _oil_model()
    hints = get_type_hints(owner)
    entries: dict[str, Any] = {}
    for field in dataclasses.fields(owner):
        if issubclass(owner, Part) and "quantity" not in field.metadata:
            continue
        entries[field.name] = (_field_type(owner, field, hints[field.name]), _default_of(field))
    return _model(owner.__name__, _doc(owner), entries)


def _model(
    name: str, doc: str, entries: dict[str, Any], extra: dict[str, Any] | None = None
) -> _AnyModel:
    base = _Table
    if extra is not None:

        class _Extended(_Table):
            model_config = ConfigDict(json_schema_extra=extra)

        base = _Extended
    return create_model(name, __base__=base, __doc__=doc, **entries)


def _oil_model() -> _AnyModel:
    """Oil by viscosity at two temperatures, or by grade and viscosity index."""
    entries: dict[str, Any] = {
        "grade": (_Grade, None),
        "viscosity_index": (_quantity_type(VISCOSITY_INDEX, 100.0), 100.0),
    }
    for field in dataclasses.fields(Oil):
        default = _default_of(field)
        kind = _field_type(Oil, field, float)
        entries[field.name] = (kind, None if default is ... else default)
    extra = {
        "oneOf": [{"required": ["grade"]}, {"required": ["viscosity_40", "viscosity_100"]}],
    }
    return _model("Oil", _doc(Oil), entries, extra)


VISCOSITY_INDEX = Quantity(
    "count", "viscosity index", "with a grade; 95 to 100 is ordinary", 0, 0.0, 400.0
)


def _by_unit(units: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """Names that share a kind of unit."""
    grouped: dict[str, list[str]] = {}
    for name, unit in units.items():
        grouped.setdefault(unit, []).append(name)
    return {unit: tuple(names) for unit, names in grouped.items()}


def _list_type(item: Any, least: int = 0, most: int = MOST_ENTRIES) -> Any:
    return Annotated[_list[item], Field(min_length=least, max_length=most)]


def _list_of(models: Mapping[str, _AnyModel], tag: str) -> Any:
    """List of tables whose shape follows from the word under the key ``tag``."""
    return _list_type(Annotated[_union[tuple(models.values())], Field(discriminator=tag)])


@functools.cache
def _measurement_models() -> dict[str, _AnyModel]:
    models: dict[str, _AnyModel] = {}
    for unit, names in _by_unit(MEASURED).items():
        spread = "temperature_difference" if unit == "temperature" else unit
        value = Quantity(unit, "reading", "mean of the readings", 0, POSITIVE, _UNBOUNDED)
        uncertainty = Quantity(
            spread, "uncertainty", "standard uncertainty of one reading", 0, POSITIVE, _UNBOUNDED
        )
        entries: dict[str, Any] = {
            "kind": (_literal[names], ...),
            "value": (_quantity_type(value), ...),
            "uncertainty": (_quantity_type(uncertainty), ...),
            "repeats": (_Repeats, 1),
            "note": (_text_type("the note", empty=True), ""),
        }
        models[unit] = _model(f"Measured{_capital(unit)}", _doc(Measurement), entries)
    return models


RESULT_UNITS = {result.key: result.unit for result in RESULTS}
"""Kind of unit of each result that may be limited."""


def bound_spec(unit: str, datum: float) -> Quantity:
    """Range of a bound: margins are shares of its distance from ``datum``, so never on it."""
    lowest = datum + _LEAST_OFF_DATUM if datum else POSITIVE
    return Quantity(unit, "bound", "", 0, lowest, _UNBOUNDED)


def _own_bound(unit: str) -> Quantity:
    return Quantity(unit, "bound", "", 0, -_UNBOUNDED, _UNBOUNDED)


def user_limit_spec(result: str) -> Quantity:
    """What the bound of a limit of the study's own on a result means."""
    return _own_bound(RESULT_UNITS[result])


@functools.cache
def user_limit_models() -> dict[str, _AnyModel]:
    """Model of the study's own limits on results of each kind of unit."""
    models: dict[str, _AnyModel] = {}
    for unit, names in _by_unit(RESULT_UNITS).items():
        spec = _own_bound(unit)
        entries: dict[str, Any] = {
            "name": (_text_type("the name of the limit"), ...),
            "result": (_literal[names], ...),
            "at_most": (_quantity_type(spec), None),
            "at_least": (_quantity_type(spec), None),
            "kind": (_choice_type("the kind of the limit", LIMIT_KINDS), "hard"),
            "advice": (_text_type("what to change when it binds", empty=True), ""),
        }
        extra = {"oneOf": [{"required": ["at_most"]}, {"required": ["at_least"]}]}
        doc = f"A limit of the study's own on a result in {KINDS[unit].phrase}."
        models[unit] = _model(f"UserLimit{_capital(unit)}", doc, entries, extra)
    return models


@functools.cache
def _limits_model() -> _AnyModel:
    entries: dict[str, Any] = {}
    for limit in LIMITS:
        bound = _quantity_type(bound_spec(limit.unit, limit.datum))
        inner: dict[str, Any] = {
            "bound": (bound, None),
            "kind": (_choice_type("the kind of the limit", LIMIT_KINDS), None),
        }
        doc = f"{limit.title}, {limit.sense} the bound. Source: {limit.source}."
        extra = {"minProperties": 1, "title": limit.title}
        entries[limit.name] = (_model(f"Limit_{limit.name}", doc, inner, extra), None)
    return _model("Limits", "Moved bounds and kinds of limits.", entries)


def _names_model(name: str, doc: str) -> _AnyModel:
    """Model of a table of part names by category."""
    names = _list_type(_text_type("the name of a part"), 1, MOST_PARTS)
    entries: dict[str, Any] = dict.fromkeys(CATEGORIES, (names, None))
    return _model(name, doc, entries)


@functools.cache
def _lineup_model() -> _AnyModel:
    entries: dict[str, Any] = {
        field.name: (_quantity_type(field.metadata["quantity"], field.default), field.default)
        for field in dataclasses.fields(Lineup)
        if "quantity" in field.metadata
    }
    doc = "Names that no new machine is built with, by category."
    entries["leave_out"] = (_names_model("LeaveOut", doc), None)
    return _model("Lineup", _doc(Lineup), entries)


@functools.cache
def _space_model() -> _AnyModel:
    category = _choice_type("a part category", tuple(CATEGORIES))
    only = _names_model("Only", "Names that a search may use, by category.")
    fields: dict[str, Any] = {
        "keep": (
            _list_type(category, most=len(CATEGORIES)),
            Field(default_factory=list, description="Categories in which the owned part stays."),
        ),
        "only": (only, None),
    }
    return _model("Space", "What a search may change.", fields)


@functools.cache
def document_model() -> _AnyModel:
    """Model of a whole study.toml."""
    owned: dict[str, Any] = {
        name: (
            _text_type(f"the {category.__name__} on the machine today, a name of {name}.csv"),
            ...,
        )
        for name, category in CATEGORIES.items()
    }
    entries: dict[str, Any] = {
        "name": (_text_type("the short name of the study"), ...),
        "title": (_text_type("the title of the study", empty=True), ""),
        "units": (_choice_type("the unit system of the answers", SYSTEMS), ...),
        "currency": (_text_type("the currency of every price"), ...),
        "price_date": (_Date, ""),
        "notes": (_text_type("notes on the study", empty=True), ""),
        "owned": (_model("Owned", "Parts on the machine today.", owned), ...),
    }
    hints = get_type_hints(Setting)
    for field in dataclasses.fields(Setting):
        if field.name == "limit_changes":
            entries["limits"] = (_limits_model(), None)
        elif field.name == "user_limits":
            entries["user_limits"] = (
                _list_of(user_limit_models(), "result"),
                Field(default_factory=list),
            )
        else:
            entries[field.name] = (
                _field_type(Setting, field, hints[field.name]),
                _default_of(field),
            )
    entries["buyers"] = (
        _list_type(table_model(Buyers), most=MOST_BUYERS),
        Field(default_factory=list),
    )
    entries["lineup"] = (_lineup_model(), None)
    entries["measurements"] = (_list_of(_measurement_models(), "kind"), Field(default_factory=list))
    entries["space"] = (_space_model(), None)
    return _model("Study", "A study of one hydraulic wood splitter.", entries)


# --- checking -----------------------------------------------------------------------------------


def check(model: _AnyModel, data: Mapping[str, Any], system: System) -> list[Finding]:
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
def _adapters(model: _AnyModel) -> dict[str, TypeAdapter[Any]]:
    return {
        name: TypeAdapter(field.rebuild_annotation()) for name, field in model.model_fields.items()
    }


def good_values(model: _AnyModel, data: object, system: System) -> dict[str, Any]:
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


def _finding(error: dict[str, Any], model: _AnyModel) -> Finding:  # noqa: PLR0911 - one per type
    loc = _untagged(tuple(error["loc"]))
    context = error.get("ctx", {})
    kind = error["type"]
    value = error.get("input")
    if kind == _REFUSED:
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
        return Finding((*loc, key), described(tag), f"a {key} such as {_listed(names)}", hint)
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


def missing(loc: Loc, model: _AnyModel) -> Finding:
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


def _annotation_at(loc: Loc, model: _AnyModel) -> Any:
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


def _keys_at(loc: Loc, model: _AnyModel) -> tuple[str, ...]:
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
        return _guess(below.pop())
    if below:
        return f"it stands in {_listed(sorted(below))}"
    return meant(word, heads)


def dotted(loc: Loc) -> str:
    """Way into the data as a person writes it; entries of a list count from 1.

    Examples
    --------
    >>> dotted(("wood", 0, "share"))
    'wood.1.share'
    """
    return ".".join(str(step + 1) if isinstance(step, int) else step for step in loc)


@functools.cache
def _hints(owner: Any) -> dict[str, Any]:
    return get_type_hints(owner)


def tables() -> dict[str, type[Any]]:
    """Dataclass of each section of study.toml that fills one, and what else a setting holds."""
    return _hints(Setting)


def build(owner: type[Any], values: object) -> Any:
    """Dataclass from a model or mapping with the same fields, nested alike."""
    source = values if isinstance(values, Mapping) else vars(values)
    key: Any = owner
    hints = _hints(key)
    filled: dict[str, Any] = {}
    for field in dataclasses.fields(owner):
        if field.name not in source:
            continue
        value = source[field.name]
        hint = hints[field.name]
        if isinstance(value, BaseModel):
            value = build(hint, value)
        elif isinstance(value, list):
            value = tuple(build(get_args(hint)[0], item) for item in value)
        filled[field.name] = value
    return owner(**filled)


def cross_zero(number: float, datum: float) -> bool:
    """Whether a bound leaves no share to take a margin of."""
    return math.isclose(number, datum, rel_tol=0.0, abs_tol=POSITIVE)


# --- JSON Schema --------------------------------------------------------------------------------


class _Schema(GenerateJsonSchema):
    def default_schema(self, schema: Any) -> JsonSchemaValue:
        """Leave out defaults in SI; the text of a default stands in the quantity's own schema."""
        inner: CoreSchema = schema["schema"]
        return self.generate_inner(inner)


def study_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of study.toml: keys, meanings, examples in both systems."""
    schema = document_model().model_json_schema(schema_generator=_Schema)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def schema_text() -> str:
    """JSON Schema as it is published."""
    return json.dumps(study_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    from optimise.files import write_whole

    write_whole(SCHEMA_FILE, schema_text())
