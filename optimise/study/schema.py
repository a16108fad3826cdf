"""Shape of study.toml and of a price-list row, made from the dataclasses that they fill.

Every key, unit kind and range follows from the field metadata of ``machine.setting``,
``machine.parts`` and ``study.model``, and from the tables of limits and results. Run as a module,
this file writes the JSON Schema of study.toml that editors complete from.
"""

from __future__ import annotations

import dataclasses
import functools
import json
from collections.abc import Mapping
from dataclasses import MISSING
from typing import Annotated, Any, Literal, TypeAlias, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel, ConfigDict, Field, create_model
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import CoreSchema

from optimise.machine.evaluation import HOTTEST_OIL
from optimise.machine.limits import LIMITS
from optimise.machine.parts import CATEGORIES, Part
from optimise.machine.quantities import POSITIVE, Quantity
from optimise.machine.results import RESULTS
from optimise.machine.setting import WEDGES, Frame, Oil, Setting
from optimise.physics.strength import MOUNTING_FACTORS
from optimise.study.entries import (
    UNBOUNDED,
    Date,
    Grade,
    Repeats,
    capital,
    choice_type,
    quantity_type,
    text_type,
)
from optimise.study.model import MEASURED, Buyers, Lineup, Measurement
from optimise.study.published import SCHEMA_FILE
from optimise.units import KINDS, System

CHOICES: dict[tuple[type[Any], str], tuple[str, ...]] = {
    (Frame, "mounting"): tuple(MOUNTING_FACTORS),
    (Frame, "column"): ("rod_only", "stepped"),
    (Frame, "wedge"): tuple(WEDGES),
}
"""Words that a text field may hold."""

LIMIT_KINDS = ("hard", "advisory")
SYSTEMS: tuple[str, ...] = get_args(System)

_LEAST_OFF_DATUM = 1.0
MOST_ENTRIES = 500
"""Most entries of a list of tables."""
MOST_BUYERS = 8
"""Most groups of buyers: a line of models is found over all their subsets."""
MOST_PARTS = 5_000
"""Most rows of a price list under its header, and most names of parts in one list."""
_list: Any = list
_literal: Any = Literal
_union: Any = Union
AnyModel: TypeAlias = type[BaseModel]


class _Table(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


# --- tables -------------------------------------------------------------------------------------


def _default_of(field: dataclasses.Field[Any]) -> Any:
    if field.default is not MISSING:
        return field.default
    if field.default_factory is not MISSING:
        return Field(default_factory=field.default_factory)
    return ...


def _field_type(owner: type[Any], field: dataclasses.Field[Any], hint: Any) -> Any:
    if "quantity" in field.metadata:
        return quantity_type(field.metadata["quantity"], field.default)
    if (owner, field.name) in CHOICES:
        return choice_type(f"the {field.name}", CHOICES[owner, field.name])
    if hint is str:
        return text_type(f"the {field.name}", empty=field.default == "")
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return table_model(hint)
    inner = get_args(hint)[0] if get_origin(hint) is tuple else None
    if isinstance(inner, type) and dataclasses.is_dataclass(inner):
        return _list_type(table_model(inner), 1)
    raise TypeError(f"{owner.__name__}.{field.name}: no way to write {hint} in a study")


def _doc(owner: type[Any]) -> str:
    return (owner.__doc__ or "").partition("\n")[0]


def table_model(owner: type[Any]) -> AnyModel:
    """Model of one table of study.toml, or of one row of a price list for a part class."""
    key: Any = owner
    return _table_model(key)


@functools.cache
def _table_model(owner: Any) -> AnyModel:
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
) -> AnyModel:
    base = _Table
    if extra is not None:

        class _Extended(_Table):
            model_config = ConfigDict(json_schema_extra=extra)

        base = _Extended
    return create_model(name, __base__=base, __doc__=doc, **entries)


def _oil_model() -> AnyModel:
    """Oil by viscosity at two temperatures, or by grade and viscosity index."""
    entries: dict[str, Any] = {
        "grade": (Grade, None),
        "viscosity_index": (quantity_type(VISCOSITY_INDEX, 100.0), 100.0),
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


def _list_of(models: Mapping[str, AnyModel], tag: str) -> Any:
    """List of tables whose shape follows from the word under the key ``tag``."""
    return _list_type(Annotated[_union[tuple(models.values())], Field(discriminator=tag)])


@functools.cache
def _measurement_models() -> dict[str, AnyModel]:
    models: dict[str, AnyModel] = {}
    for unit, names in _by_unit(MEASURED).items():
        spread = "temperature_difference" if unit == "temperature" else unit
        value = Quantity(unit, "reading", "mean of the readings", 0, POSITIVE, UNBOUNDED)
        uncertainty = Quantity(
            spread, "uncertainty", "standard uncertainty of one reading", 0, POSITIVE, UNBOUNDED
        )
        entries: dict[str, Any] = {
            "kind": (_literal[names], ...),
            "value": (quantity_type(value), ...),
            "uncertainty": (quantity_type(uncertainty), ...),
            "repeats": (Repeats, 1),
            "note": (text_type("the note", empty=True), ""),
        }
        models[unit] = _model(f"Measured{capital(unit)}", _doc(Measurement), entries)
    return models


RESULT_UNITS = {result.key: result.unit for result in RESULTS}
"""Kind of unit of each result that may be limited."""


def bound_spec(unit: str, datum: float) -> Quantity:
    """Range of a bound: margins are shares of its distance from ``datum``, so never on it."""
    lowest = datum + _LEAST_OFF_DATUM if datum else POSITIVE
    return Quantity(unit, "bound", "", 0, lowest, _highest_bound(unit))


def _own_bound(unit: str) -> Quantity:
    return Quantity(unit, "bound", "", 0, -UNBOUNDED, _highest_bound(unit))


def _highest_bound(unit: str) -> float:
    """Highest bound; of oil a step under the end of the search for its temperature."""
    return HOTTEST_OIL - 5.0 if unit == "temperature" else UNBOUNDED


def user_limit_spec(result: str) -> Quantity:
    """What the bound of a limit of the study's own on a result means."""
    return _own_bound(RESULT_UNITS[result])


@functools.cache
def user_limit_models() -> dict[str, AnyModel]:
    """Model of the study's own limits on results of each kind of unit."""
    models: dict[str, AnyModel] = {}
    for unit, names in _by_unit(RESULT_UNITS).items():
        spec = _own_bound(unit)
        entries: dict[str, Any] = {
            "name": (text_type("the name of the limit"), ...),
            "result": (_literal[names], ...),
            "at_most": (quantity_type(spec), None),
            "at_least": (quantity_type(spec), None),
            "kind": (choice_type("the kind of the limit", LIMIT_KINDS), "hard"),
            "advice": (text_type("what to change when it binds", empty=True), ""),
        }
        extra = {"oneOf": [{"required": ["at_most"]}, {"required": ["at_least"]}]}
        doc = f"A limit of the study's own on a result in {KINDS[unit].phrase}."
        models[unit] = _model(f"UserLimit{capital(unit)}", doc, entries, extra)
    return models


@functools.cache
def _limits_model() -> AnyModel:
    entries: dict[str, Any] = {}
    for limit in LIMITS:
        bound = quantity_type(bound_spec(limit.unit, limit.datum))
        inner: dict[str, Any] = {
            "bound": (bound, None),
            "kind": (choice_type("the kind of the limit", LIMIT_KINDS), None),
        }
        doc = f"{limit.title}, {limit.sense} the bound. Source: {limit.source}."
        extra = {"minProperties": 1, "title": limit.title}
        entries[limit.name] = (_model(f"Limit_{limit.name}", doc, inner, extra), None)
    return _model("Limits", "Moved bounds and kinds of limits.", entries)


def _names_model(name: str, doc: str) -> AnyModel:
    """Model of a table of part names by category."""
    names = _list_type(text_type("the name of a part"), 1, MOST_PARTS)
    entries: dict[str, Any] = dict.fromkeys(CATEGORIES, (names, None))
    return _model(name, doc, entries)


@functools.cache
def _lineup_model() -> AnyModel:
    entries: dict[str, Any] = {
        field.name: (quantity_type(field.metadata["quantity"], field.default), field.default)
        for field in dataclasses.fields(Lineup)
        if "quantity" in field.metadata
    }
    doc = "Names that no new machine is built with, by category."
    entries["leave_out"] = (_names_model("LeaveOut", doc), None)
    return _model("Lineup", _doc(Lineup), entries)


@functools.cache
def _space_model() -> AnyModel:
    category = choice_type("a part category", tuple(CATEGORIES))
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
def document_model() -> AnyModel:
    """Model of a whole study.toml."""
    owned: dict[str, Any] = {
        name: (
            text_type(f"the {category.__name__} on the machine today, a name of {name}.csv"),
            ...,
        )
        for name, category in CATEGORIES.items()
    }
    entries: dict[str, Any] = {
        "name": (text_type("the short name of the study"), ...),
        "title": (text_type("the title of the study", empty=True), ""),
        "units": (choice_type("the unit system of the answers", SYSTEMS), ...),
        "currency": (text_type("the currency of every price"), ...),
        "price_date": (Date, ""),
        "notes": (text_type("notes on the study", empty=True), ""),
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
