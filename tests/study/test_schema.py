"""The published schema: current, true to the dataclasses, and of one mind with the loader."""

from __future__ import annotations

import copy
import dataclasses
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, get_type_hints

import jsonschema
import pytest

from optimise.machine.limits import LIMITS
from optimise.machine.parts import CATEGORIES, Part
from optimise.machine.quantities import quantities, quantity
from optimise.machine.results import RESULTS
from optimise.machine.setting import Frame, Money, Oil, Setting
from optimise.physics.strength import MOUNTING_FACTORS
from optimise.study.checks import ORDERS
from optimise.study.entries import ISO_GRADES
from optimise.study.model import MEASURED, Measurement
from optimise.study.published import SCHEMA_FILE
from optimise.study.schema import build, schema_text, study_schema, table_model
from optimise.study.table_faults import check, good_values
from optimise.units import KINDS, parse
from tests.study.starter import starter_text


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    return study_schema()


@pytest.fixture(scope="module")
def validator(schema: dict[str, Any]) -> jsonschema.Draft202012Validator:
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.fixture
def starter() -> dict[str, Any]:
    return tomllib.loads(starter_text("study.toml"))


def resolved(schema: dict[str, Any], *way: str) -> dict[str, Any]:
    """Schema of a table below the root, references followed."""
    spot = schema
    for step in way:
        spot = spot["properties"][step]
        spot = spot.get("allOf", [spot])[0]
        if "$ref" in spot:
            spot = schema["$defs"][spot["$ref"].rpartition("/")[2]]
    return spot


def test_published_schema_is_current() -> None:
    """Rewrite it with ``python -m optimise.study.schema`` when this fails."""
    assert SCHEMA_FILE.read_text(encoding="utf-8") == schema_text()


def test_schema_accepts_the_starter(
    validator: jsonschema.Draft202012Validator, starter: dict[str, Any]
) -> None:
    validator.validate(starter)


def test_only_what_has_no_default_is_required(
    validator: jsonschema.Draft202012Validator, starter: dict[str, Any], schema: dict[str, Any]
) -> None:
    needed = {"name", "units", "currency", "owned", "frame", "lines", "oil", "wood"}
    assert set(schema["required"]) == needed
    validator.validate({key: value for key, value in starter.items() if key in needed})


BROKEN = {
    "unknown key": lambda d: d.update(colour="red"),
    "unknown key of a table": lambda d: d["frame"].update(colour="red"),
    "missing table": lambda d: d.pop("oil"),
    "missing key": lambda d: d["frame"].pop("stroke"),
    "missing part": lambda d: d["owned"].pop("engine"),
    "bare number": lambda d: d["frame"].update(stroke=24),
    "true": lambda d: d["work"].update(utilisation=True),
    "unit system": lambda d: d.update(units="imperial"),
    "mounting": lambda d: d["frame"].update(mounting="glued"),
    "grade": lambda d: d["oil"].update(grade=45),
    "grade and viscosities": lambda d: d["oil"].update(viscosity_40="3 cSt", viscosity_100="2 cSt"),
    "no viscosity": lambda d: d["oil"].pop("grade"),
    "no wood": lambda d: d.update(wood=[]),
    "limit": lambda d: d["limits"].update(rod_bukling={"bound": 3}),
    "empty limit": lambda d: d["limits"].update(stall={}),
    "kind of limit": lambda d: d["limits"].update(stall={"kind": "soft"}),
    "result": lambda d: d["user_limits"][0].update(result="cost"),
    "both ends": lambda d: d["user_limits"][0].update(at_least=3),
    "no end": lambda d: d["user_limits"][0].pop("at_most"),
    "measurement": lambda d: d["measurements"][0].update(kind="weight"),
    "half a repeat": lambda d: d["measurements"][0].update(repeats=2.5),
    "category": lambda d: d["space"].update(keep=["wedge"]),
    "nothing allowed": lambda d: d["space"]["only"].update(cooler=[]),
    "empty name": lambda d: d.update(name=" "),
}


@pytest.mark.parametrize("name", BROKEN)
def test_schema_refuses(
    name: str, validator: jsonschema.Draft202012Validator, starter: dict[str, Any]
) -> None:
    broken = copy.deepcopy(starter)
    BROKEN[name](broken)
    assert list(validator.iter_errors(broken))


def owners() -> Iterator[tuple[tuple[str, ...], type[Any]]]:
    for name, hint in {**get_type_hints(Setting), "money": Money}.items():
        if dataclasses.is_dataclass(hint) and isinstance(hint, type):
            yield (name,), hint
    yield ("lines", "suction"), get_type_hints(get_type_hints(Setting)["lines"])["suction"]


@pytest.mark.parametrize(("way", "owner"), list(owners()), ids=str)
def test_keys_meanings_and_examples_come_from_the_fields(
    way: tuple[str, ...], owner: type[Any], schema: dict[str, Any]
) -> None:
    table = resolved(schema, *way)
    extra = {"grade", "viscosity_index"} if owner is Oil else set()
    assert set(table["properties"]) == {field.name for field in dataclasses.fields(owner)} | extra
    for name, spec in quantities(owner).items():
        entry = table["properties"][name]
        kind = KINDS[spec.kind]
        assert entry["examples"] == [kind.example_us, kind.example_metric]
        assert spec.meaning.lower() in entry["description"].lower()
        assert ("number" in entry["type"]) == kind.bare
        field = next(field for field in dataclasses.fields(owner) if field.name == name)
        assert ("default" in entry) == (field.default is not dataclasses.MISSING)
        if "default" in entry:
            assert parse(entry["default"], spec.kind) == pytest.approx(field.default, rel=1e-5)


def test_words_come_from_the_tables(schema: dict[str, Any]) -> None:
    assert set(resolved(schema, "owned")["properties"]) == set(CATEGORIES)
    mounting = resolved(schema, "frame")["properties"]["mounting"]
    assert mounting["enum"] == list(MOUNTING_FACTORS)
    kinds = schema["properties"]["measurements"]["items"]["discriminator"]["mapping"]
    assert set(kinds) == set(MEASURED)
    results = schema["properties"]["user_limits"]["items"]["discriminator"]["mapping"]
    assert set(results) == {result.key for result in RESULTS}
    assert set(resolved(schema, "limits")["properties"]) == {limit.name for limit in LIMITS}


def test_grades_of_iso_3448() -> None:
    """ISO 3448:1992, table 1: midpoint viscosity of the twenty grades, mm2/s (from memory)."""
    assert len(ISO_GRADES) == 20
    assert [ISO_GRADES[grade] for grade in (2, 3, 5, 7)] == [2.2, 3.2, 4.6, 6.8]
    assert all(ISO_GRADES[grade] == grade for grade in ISO_GRADES if grade >= 10)
    grades = list(ISO_GRADES.values())
    assert all(1.3 < high / low < 1.6 for low, high in pairwise(grades))


def test_rules_of_order_name_fields_that_are_there() -> None:
    for owner, orders in ORDERS.items():
        for order in orders:
            assert {order.lower, order.upper} <= set(quantities(owner))
            assert not order.where or order.where in quantities(owner)
            kinds = {quantities(owner)[name].kind for name in (order.lower, order.upper)}
            assert len(kinds) == 1


@dataclass(frozen=True, kw_only=True)
class Wedge(Part):
    """A part category that no table of the loader knows."""

    angle_share: float = quantity("share", "angle", "of a right angle", highest=1.0)
    width: float = quantity("length", "width", "across the blades", default=0.2, highest=1.0)


def test_a_new_category_needs_nothing_but_its_fields() -> None:
    model = table_model(Wedge)
    assert list(model.model_fields) == ["price", "fitting_time", "resale", "angle_share", "width"]
    row = {"price": "120", "angle_share": "35 %"}
    assert check(model, row, "us") == []
    assert build(Wedge, good_values(model, row, "us")) == Wedge(price=120.0, angle_share=0.35)
    row = {"price": "120", "angle_share": "135 %", "width": "3 ft"}
    assert [finding.loc for finding in check(model, row, "us")] == [("angle_share",)]
    row = {"price": "120", "angle_share": "35 %", "width": "4 ft"}
    (finding,) = check(model, row, "us")
    assert finding.expected == "a length, more than 0 and at most 39.37 in"
    (finding,) = check(model, row, "metric")
    assert finding.expected == "a length, more than 0 and at most 1000 mm"


def test_models_are_frozen_and_strict() -> None:
    model = table_model(Frame)
    frame = model.model_validate({"stroke": "2 ft", "extended_length": "5 ft"})
    with pytest.raises(ValueError, match="frozen"):
        frame.stroke = 1.0  # type: ignore[attr-defined]
    assert build(Frame, frame) == Frame(stroke=0.6096, extended_length=1.524)


def test_measurement_kinds_are_measurable() -> None:
    assert set(MEASURED.values()) <= set(KINDS)
    assert {field.name for field in dataclasses.fields(Measurement)} == {
        "kind",
        "value",
        "uncertainty",
        "repeats",
        "note",
    }
