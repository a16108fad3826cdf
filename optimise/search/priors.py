"""What is known of the model before anything is measured: its constants, and its own error."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from optimise.columns import Array, Column
from optimise.errors import CallError
from optimise.machine.evaluation import Evaluation
from optimise.machine.setting import Constants
from optimise.search.draws import normal_of


@dataclass(frozen=True)
class Prior:
    """What is known of one constant before anything is measured.

    The value is ``end + (plain - end) exp(s z)`` with z standard normal: the study's plain value is
    its median, ``end`` is never passed, and ``s`` makes the slope at the median one ``deviation``.
    With ``end`` 0 that is the lognormal distribution.

    Attributes
    ----------
    name
        Field of :class:`~optimise.machine.setting.Constants`.
    deviation
        Standard deviation as a share of the plain value.
    end
        Value that the constant cannot reach.
    reason
        Why so, and who says so.
    """

    name: str
    deviation: float
    end: float
    reason: str

    def value(self, plain: float, normal: Column) -> Column:
        """Constant at a standard normal number; the plain value at 0."""
        room = plain - self.end
        scale = self.deviation * plain / room if room else 0.0
        value: Column = self.end + room * np.exp(scale * np.asarray(normal))
        return value


PRIORS: tuple[Prior, ...] = (
    Prior(
        "leakage_factor",
        0.40,
        0.0,
        "catalogue efficiencies are of new pumps and rounded; wear doubles the slip before anybody "
        "changes the pump: common practice, no source",
    ),
    Prior(
        "speed_factor",
        0.03,
        1.05,
        "governors are set by ear and displacements are rounded; 5 % over the catalogue is not "
        "reached without another pump or a governor set out of its range: common practice, no "
        "source",
    ),
    Prior(
        "loss_factor",
        0.25,
        0.0,
        "handbook loss coefficients of fittings and spools scatter by a quarter: common practice, "
        "no source",
    ),
    Prior(
        "seal_pressure",
        0.50,
        0.0,
        "seal friction differs by kind and age of seal and by pressure: common practice, no source",
    ),
    Prior(
        "reversal_factor",
        0.40,
        0.0,
        "hands, spool and free air differ from machine to machine: common practice, no source",
    ),
)
"""Constants that measurements correct."""

NAMES = tuple(prior.name for prior in PRIORS)


@dataclass(frozen=True)
class ModelError:
    """By how much the model misses a machine whose constants were known.

    One error moves all results that it touches together, so that a second reading of the same kind
    does not narrow it.

    Attributes
    ----------
    name
        Words for it.
    share
        Standard deviation as a share of what it touches.
    touches
        The quantity of which it is a share, for each kind of measurement that it moves, from an
        evaluation and its prediction of that kind.
    reason
        Why so, and who says so.
    by_parts
        Whether it stands for tolerances of parts, so that it is left out where those are drawn.
    """

    name: str
    share: float
    touches: dict[str, Callable[[Evaluation, Column], Column]]
    reason: str
    by_parts: bool = False


MODEL_ERRORS: tuple[ModelError, ...] = (
    ModelError(
        "out stroke",
        0.015,
        {
            "extend_time": lambda e, _: e.extend_time,
            "cycle_time": lambda e, _: e.extend_time,
            "loaded_cycle_time": lambda e, _: e.rated.loaded_extend_time,
        },
        "steady strokes, oil at one temperature: common practice, no source",
    ),
    ModelError(
        "back stroke",
        0.015,
        {
            "retract_time": lambda e, _: e.retract_time,
            "cycle_time": lambda e, _: e.retract_time,
            "loaded_cycle_time": lambda e, _: e.retract_time,
        },
        "steady strokes, oil at one temperature: common practice, no source",
    ),
    ModelError(
        "wood",
        0.10,
        {"loaded_cycle_time": lambda e, _: e.rated.loaded_extend_time},
        "the pieces timed are not the mix of the study: common practice, no source",
        by_parts=True,
    ),
    ModelError(
        "pressure out",
        0.05,
        {"extend_pressure": lambda e, _: e.extend_pump_pressure},
        "where the gauge sits and where in the stroke it is read: common practice, no source",
    ),
    ModelError(
        "pressure back",
        0.05,
        {"retract_pressure": lambda e, _: e.retract_pump_pressure},
        "where the gauge sits and where in the stroke it is read: common practice, no source",
    ),
    ModelError(
        "engine speed",
        0.01,
        {"engine_speed": lambda e, _: e.engine_speed},
        "governors hunt and droop is not a straight line: common practice, no source",
    ),
    ModelError(
        "oil temperature",
        0.15,
        {"oil_temperature": lambda e, value: value - _air(e)},
        "share of the rise over the air: wall coefficients are known to 20 %, duty and air vary "
        "over the day: common practice, no source",
        by_parts=True,
    ),
)
"""Errors of the model itself, beside those of its constants."""

USUAL_UNCERTAINTY: dict[str, float] = {
    "extend_time": 0.1,
    "retract_time": 0.1,
    "cycle_time": 0.15,
    "loaded_cycle_time": 0.3,
    "oil_temperature": 2.0,
    "engine_speed": 20.0 * math.pi / 30.0,
    "extend_pressure": 0.7e5,
    "retract_pressure": 0.7e5,
}
"""Standard uncertainty of one reading with stopwatch, gauge, tachometer or thermometer, SI, where
the study states none: common practice, no source."""


def _air(evaluation: Evaluation) -> float:
    return evaluation.setting.surroundings.air_temperature


def constants_at(plain: Constants, normals: Array) -> Constants:
    """Constants at standard normal numbers, one row per prior; the rows may have any shape.

    Raises
    ------
    CallError
        Where the study's plain value lies on the wrong side of what the prior allows.
    """
    changed: dict[str, Any] = {}
    for prior, normal in zip(PRIORS, normals, strict=True):
        value = float(getattr(plain, prior.name))
        if prior.end and value >= prior.end:
            raise CallError(
                f"constants.{prior.name} is {value:g} in the study: only a value under "
                f"{prior.end:g} can be corrected by measurements or have a range"
            )
        changed[prior.name] = prior.value(value, normal)
    return dataclasses.replace(plain, **changed)


class Belief(Protocol):
    """What is known of the constants, as a map from uniform numbers to draws."""

    @property
    def factors(self) -> tuple[str, ...]:
        """One name for each uniform number that it takes."""
        ...

    def at(self, uniform: Array) -> Constants:
        """Constants with columns of shape (n,) at uniform numbers of shape (factors, n)."""
        ...


@dataclass(frozen=True)
class FromTheTrade:
    """Belief before any measurement: the priors around the study's plain values."""

    plain: Constants

    @property
    def factors(self) -> tuple[str, ...]:
        """Name of each constant."""
        return NAMES

    def at(self, uniform: Array) -> Constants:
        """Constants at uniform numbers of shape (5, n)."""
        return constants_at(self.plain, normal_of(uniform))
