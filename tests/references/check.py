"""One number from outside the project and the call that must give it.

Examples of Esposito, Ganesan and Bhandari were read in public code collections that work through
those books, Crane's in the documentation of a reference library; the books were not at hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias

Label: TypeAlias = Literal["published", "standard", "computed", "memory"]
"""published: inputs and answer were seen in print. standard: number or equation of a standard.
computed: worked out by hand from published inputs or from a definition, apart from this code.
memory: recalled, not seen; shown in the table but never a condition."""

PRINTED = "half a unit of the last printed digit"
LAST_DIGIT = "one unit of the last printed digit (the source cuts off or rounds early)"
COMPUTED = "rounding of the number written here"


@dataclass(frozen=True, slots=True)
class Check:
    """A number with its source; `compute` gives this project's value in the same unit.

    `tolerance` is absolute, in the unit, and `reason` says why it is that wide.
    """

    id: str
    what: str
    source: str
    expected: float
    tolerance: float
    unit: str
    compute: Callable[[], float]
    label: Label
    reason: str

    def deviation(self) -> float:
        """Computed less expected, in the unit."""
        return float(self.compute()) - self.expected

    def holds(self) -> bool:
        """Whether the deviation is within the tolerance."""
        return abs(self.deviation()) <= self.tolerance * (1.0 + 1e-9)
