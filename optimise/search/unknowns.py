"""All that is not known of a machine as one row of uniform numbers; the machine that one gives."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass

from optimise.columns import Array, Column
from optimise.machine.evaluation import Evaluation
from optimise.machine.parts import Machine
from optimise.machine.results import result_named
from optimise.machine.setting import Setting
from optimise.machine.wood import WorkLevels
from optimise.search.draws import even_points, normal_of
from optimise.search.priors import MODEL_ERRORS, Belief
from optimise.search.tolerances import TOLERANCES, varied
from optimise.study.model import MEASURED_RESULTS

LANES = 16_384
"""Machines times draws that are evaluated at once: about what stays in cache."""

OWN_ERRORS = tuple(error for error in MODEL_ERRORS if not error.by_parts)
"""Model errors that no tolerance of a part stands for."""


@dataclass(frozen=True)
class Unknowns:
    """Constants, tolerances of parts and the model's own error, in this order."""

    belief: Belief

    @property
    def names(self) -> tuple[str, ...]:
        """Name of each uniform number."""
        return (
            *self.belief.factors,
            *(tolerance.name for tolerance in TOLERANCES),
            *(f"model error, {error.name}" for error in OWN_ERRORS),
        )

    def points(self, count: int, seed: int) -> Array:
        """Draws, shape (factors, count)."""
        return even_points(len(self.names), count, seed)

    def drawn(
        self, machine: Machine, setting: Setting, uniform: Array
    ) -> tuple[Machine, Setting, WorkLevels]:
        """Machine, setting and wood with constants and tolerances drawn."""
        first = len(self.belief.factors)
        drawn = dataclasses.replace(setting, constants=self.belief.at(uniform[:first]))
        return varied(machine, drawn, uniform[first : first + len(TOLERANCES)])

    def evaluation(self, machine: Machine, setting: Setting, uniform: Array) -> Evaluation:
        """Machine with its constants and tolerances drawn."""
        return Evaluation(*self.drawn(machine, setting, uniform))

    def model_errors(self, uniform: Array) -> Array:
        """Standard normal numbers, a row for each entry of :data:`OWN_ERRORS`."""
        return normal_of(uniform[len(self.belief.factors) + len(TOLERANCES) :])


def with_error(evaluation: Evaluation, key: str, errors: Iterable[Column]) -> Column:
    """Result with the model's own error; what is not measured on machines carries none."""
    plain = value = result_named(key).reading(evaluation)
    for error, normal in zip(OWN_ERRORS, errors, strict=True):
        for kind, touched in error.touches.items():
            if MEASURED_RESULTS[kind] == key:
                value = value + error.share * normal * touched(evaluation, plain)
    return value
