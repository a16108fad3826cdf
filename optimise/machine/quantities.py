"""What a field of a part or of the setting is: kind of unit, title, range, which way is better."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

POSITIVE = 1e-12
"""Smallest value, in SI, of a quantity that must be more than nothing."""


@dataclass(frozen=True)
class Quantity:
    """Meaning of one numeric field.

    Attributes
    ----------
    kind
        Kind of unit, such as ``length`` or ``pressure``; the study's units follow from it.
    title
        Words for a person, without unit.
    meaning
        One sentence for the schema and the documentation.
    better
        +1: a larger value never lengthens a stroke, lowers the force or the margin of a hard
        limit. -1: the same of a smaller value. 0: it may do either, so a search has to try it.
        Random machines hold every such claim to the truth in the tests.
    lowest, highest
        Allowed range in SI, ends included.
    """

    kind: str
    title: str
    meaning: str
    better: int
    lowest: float
    highest: float


def quantity(
    kind: str,
    title: str,
    meaning: str = "",
    *,
    better: int = 0,
    lowest: float = POSITIVE,
    highest: float = 1e12,
    default: float | None = None,
) -> Any:
    """Dataclass field that carries a :class:`Quantity`; arguments as there, ``default`` in SI."""
    spec = Quantity(kind, title, meaning, better, lowest, highest)
    if default is None:
        return dataclasses.field(metadata={"quantity": spec})
    return dataclasses.field(default=default, metadata={"quantity": spec})


def quantities(owner: type[Any]) -> dict[str, Quantity]:
    """Quantities of a dataclass by field name, in the order in which they stand."""
    return {
        field.name: field.metadata["quantity"]
        for field in dataclasses.fields(owner)
        if "quantity" in field.metadata
    }
