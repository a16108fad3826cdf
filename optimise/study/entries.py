"""Entries of study.toml and of price lists as types of pydantic: quantities, words, dates.

Each reads what was written and, where it is wrong, says so in the words of the study.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from dataclasses import MISSING, dataclass
from typing import Annotated, Any

from pydantic import ValidationInfo, WithJsonSchema
from pydantic.functional_validators import PlainValidator
from pydantic_core import PydanticCustomError

from optimise.errors import nearest
from optimise.machine.quantities import POSITIVE, Quantity
from optimise.study.fault_words import described, guess, listed_names
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

UNBOUNDED = 1e12
"""Ends of a range that are no ends."""
REFUSED = "ramfront"
"""Type of the errors that carry their own words."""
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")


def _refusal(value: object, wanted: str, hint: str = "") -> PydanticCustomError:
    context = {"found": described(value), "expected": wanted, "hint": hint}
    return PydanticCustomError(REFUSED, "refused", context)


# --- quantities ---------------------------------------------------------------------------------


def range_text(spec: Quantity, system: System, number: float = 0.0) -> str:
    """Allowed range of a quantity in words; "" where it has no ends.

    An end so far off that nothing real comes near it is told only where ``number`` is beyond it.
    """
    positive = spec.lowest == POSITIVE and spec.kind != "temperature"
    if positive and not 0.0 < number < POSITIVE:
        low = "more than 0"
    elif spec.lowest > -UNBOUNDED or number < spec.lowest:
        low = f"at least {show(spec.lowest, spec.kind, system)}"
    else:
        low = ""
    told = spec.highest < UNBOUNDED or number > spec.highest
    high = f"at most {show(spec.highest, spec.kind, system)}" if told else ""
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
        raise _refusal(value, f"{KINDS[spec.kind].phrase}, {range_text(spec, system, number)}")
    return number


def _system_of(info: ValidationInfo) -> System:
    return "metric" if (info.context or {}).get("system") == "metric" else "us"


def capital(text: str) -> str:
    """Text that begins with a capital letter."""
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
        "title": capital(spec.title),
        "description": " ".join(f"{capital(part)}." for part in sentences if part),
        "type": ["string", "number"] if kind.bare else "string",
        "examples": examples,
    }
    if isinstance(default, float):
        schema["default"] = show(default, spec.kind, "metric", 6)
    return schema


def quantity_type(spec: Quantity, default: object = MISSING) -> Any:
    """Type of a quantity, read into SI; ``default`` stands in its JSON Schema."""

    def read(value: object, info: ValidationInfo) -> float:
        return read_quantity(value, spec, _system_of(info))

    return Annotated[float, PlainValidator(read), _QuantitySchema(spec, default), spec]


# --- words --------------------------------------------------------------------------------------


def commands_terminal(text: str) -> bool:
    """Whether a text holds a character that would command a terminal instead of being shown."""
    return _CONTROL.search(text) is not None


def text_type(what: str, *, empty: bool = False) -> Any:
    """Type of a text that a terminal and a page can show."""
    wanted = f'{what}, as text between quotation marks such as "..."'

    def read(value: object) -> str:
        if not isinstance(value, str) or not (empty or value.strip()):
            raise _refusal(value, wanted)
        if commands_terminal(value):
            raise _refusal(value, "text without control characters")
        return value

    schema = {"type": "string", "description": capital(what) + "."}
    if not empty:
        schema["pattern"] = r"\S"
    return Annotated[str, PlainValidator(read), WithJsonSchema(schema)]


def choice_type(what: str, names: Sequence[str]) -> Any:
    """Type of a word out of some."""

    def read(value: object) -> str:
        if isinstance(value, str) and value in names:
            return value
        close = nearest(value, names) if isinstance(value, str) else ""
        raise _refusal(value, f"{what}: {listed_names(names)}", guess(close))

    schema = {"type": "string", "enum": list(names), "description": capital(what) + "."}
    return Annotated[str, PlainValidator(read), WithJsonSchema(schema)]


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


Repeats = Annotated[
    int,
    PlainValidator(_read_repeats),
    WithJsonSchema(
        {"type": "integer", "minimum": 1, "default": 1, "description": "Number of readings."}
    ),
]
Grade = Annotated[
    int,
    PlainValidator(_read_grade),
    WithJsonSchema(
        {"type": "integer", "enum": list(ISO_GRADES), "description": "ISO 3448 viscosity grade."}
    ),
]
Date = Annotated[
    str,
    PlainValidator(_read_date),
    WithJsonSchema(
        {"type": "string", "format": "date", "description": "Date of the prices, YYYY-MM-DD."}
    ),
]
