"""Correct the model by measurements: what is known of its uncertain constants after them.

Each constant is written as a rising function of a standard normal number (:mod:`.priors`). The
posterior of these numbers is found by damped Gauss-Newton steps and its normal approximation
(Laplace), then sharpened by importance sampling, so that intervals stay honest where it is not
normal (Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 4 and 10).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimise.columns import Array, Column, shape_of
from optimise.errors import CallError, StudyError
from optimise.machine.evaluation import HOTTEST_OIL, Evaluation
from optimise.machine.parts import Machine
from optimise.machine.quantities import quantities
from optimise.machine.results import result_named
from optimise.machine.setting import Constants, Setting
from optimise.search.contradictions import contradictions
from optimise.search.draws import golden_points, normal_of
from optimise.search.priors import (
    MODEL_ERRORS,
    NAMES,
    PRIORS,
    USUAL_UNCERTAINTY,
    constants_at,
)
from optimise.study.model import MEASURED, MEASURED_RESULTS, Measurement
from optimise.units import System

LEVEL = (0.05, 0.95)
"""Ends of every interval: the middle 90 %."""
NOT_LEARNED = 0.8
"""Posterior over prior standard deviation above which the measurements said next to nothing."""
CONFUSED = 0.8
"""Posterior correlation above which two constants cannot be told apart."""
NO_CYCLE = (
    "the model finds no cycle for the machine that was measured: as the study has it the ram does "
    "not move; ramfront check says which limits are crossed"
)
PARTICLES = 4096
_STARTS = 256
_STEPS = 40
_HALVINGS = 10
_SLOPE_STEP = 1e-3
_CLOSED = 1e-3
"""Last Gauss-Newton step, in standard deviations of the prior; it is taken and not checked."""
_WIDER = (2.0, 1.5)
"""Width of the proposal over that of the target: in the first round, and later."""
_LEAST_ROUNDS, _MOST_ROUNDS = 2, 4
_WEIGHINGS = 2
"""The model's errors are shares: sized first with plain constants, then with those found."""
_FEWEST = 2.0
"""Least number of draws that must carry the weight; under it readings and model are strangers."""
_ENOUGH = 0.2
_APART = 2.0
"""Least distance of the two oil temperatures between which the heat balance is drawn straight."""
UNLIKELY = 0.01
"""Chance of so large a misfit below which model and measurements are said not to agree."""


@dataclass(frozen=True)
class Estimate:
    """What the fit says of one constant.

    Attributes
    ----------
    name, title, unit
        Field, words and kind of unit.
    plain, best
        Value of the study and value that fits best, SI.
    deviation
        Posterior standard deviation, SI.
    low, high
        Ends of the 90 % interval.
    narrowing
        Posterior over prior standard deviation of the standard normal number: 1 says that nothing
        was learned.
    """

    name: str
    title: str
    unit: str
    plain: float
    best: float
    deviation: float
    low: float
    high: float
    narrowing: float

    @property
    def learned(self) -> bool:
        """Whether the measurements said something of it."""
        return self.narrowing <= NOT_LEARNED


@dataclass(frozen=True)
class Comparison:
    """One measurement beside what the model gives.

    Attributes
    ----------
    measurement
        As measured.
    before, fitted
        Model with the study's plain constants and with those that fit best, SI.
    low, high
        Ends of the model's 90 % interval after the fit.
    deviation
        Standard deviation expected between reading and model: reading, repeats and model error.
    residual
        Measured less fitted, in those deviations.
    """

    measurement: Measurement
    before: float
    fitted: float
    low: float
    high: float
    deviation: float
    residual: float


@dataclass(frozen=True)
class Gain:
    """What one more reading would do to a prediction.

    Attributes
    ----------
    kind
        A key of ``MEASURED``.
    uncertainty
        Standard uncertainty of the reading, SI.
    before, after
        Standard deviation of the predicted cycle time now and expected after it [s].
    """

    kind: str
    uncertainty: float
    before: float
    after: float

    @property
    def narrowing(self) -> float:
        """Share by which the reading would narrow the prediction."""
        return 1.0 - self.after / self.before if self.before > 0.0 else 0.0


@dataclass(frozen=True)
class _Local:
    """Predictions and their slopes over the standard normal numbers at one place."""

    value: Array
    slope: Array


def _evaluated(machine: Machine, setting: Setting, normals: Array) -> Evaluation:
    constants = constants_at(setting.constants, normals)
    return Evaluation(machine, dataclasses.replace(setting, constants=constants))


_Reading = Callable[[Evaluation], Column]


def _readings(kinds: Sequence[str]) -> tuple[_Reading, ...]:
    return tuple(result_named(MEASURED_RESULTS[kind]).reading for kind in kinds)


def _read(evaluation: Evaluation, readings: Sequence[_Reading], count: int) -> Array:
    """Predictions, shape (readings, count), from one evaluation."""
    with np.errstate(all="ignore"):
        rows = [np.broadcast_to(np.asarray(read(evaluation)), (count,)) for read in readings]
    return np.array(rows, dtype=np.float64).reshape(len(readings), count)


def predict(machine: Machine, setting: Setting, normals: Array, kinds: Sequence[str]) -> Array:
    """Predictions of one machine at standard normal numbers of shape (5, n), shape (kinds, n)."""
    return _read(_evaluated(machine, setting, normals), _readings(kinds), normals.shape[1])


def _oil_between(one: float, other: float) -> _Reading:
    """Steady oil temperature from a straight line through the heat balance at two temperatures.

    A fit asks for it thousands of times. The balance bends little: the line misses the full solve
    by a few tenths of a kelvin where the two are 25 K apart, far less than the model's own error.
    """
    if abs(other - one) < _APART:
        other = one + _APART

    def reading(evaluation: Evaluation) -> Column:
        air = evaluation.setting.surroundings.air_temperature
        low, high = (max(temperature, air + _APART) for temperature in sorted((one, other)))
        high = max(high, low + _APART)
        at_low, at_high = (
            -evaluation.cooling_margin(temperature) * (temperature - air)
            for temperature in (low, high)
        )
        crossing = low - at_low * (high - low) / (at_high - at_low)
        return np.clip(crossing, air, HOTTEST_OIL)

    return reading


def _stencil(place: Array) -> Array:
    size = len(place)
    steps = np.hstack([np.zeros((size, 1)), np.eye(size), -np.eye(size)]) * _SLOPE_STEP
    return place[:, None] + steps


def _slopes(found: Array) -> _Local:
    """Predictions on a stencil as value and slope."""
    size = found.shape[1] // 2
    slope = (found[:, 1 : size + 1] - found[:, size + 1 :]) / (2.0 * _SLOPE_STEP)
    return _Local(found[:, 0], np.nan_to_num(slope))


def _local(machine: Machine, setting: Setting, place: Array, kinds: Sequence[str]) -> _Local:
    return _slopes(predict(machine, setting, _stencil(place), kinds))


@dataclass(frozen=True, eq=False)
class _Data:
    """Measurements as numbers: readings, variance of each, and slopes over the model errors."""

    kinds: tuple[str, ...]
    values: Array
    variances: Array
    errors: Array

    @property
    def covariance(self) -> Array:
        """Covariance of readings around the model with the right constants."""
        covariance: Array = np.diag(self.variances) + self.errors @ self.errors.T
        return covariance


def model_error_slopes(evaluation: Evaluation, kinds: Sequence[str], predicted: Array) -> Array:
    """Move of each kind of measurement by one standard deviation of each model error.

    Shape (kinds, errors), for one machine; ``predicted`` holds its prediction of each kind.
    """
    slopes = np.zeros((len(kinds), len(MODEL_ERRORS)))
    with np.errstate(all="ignore"):
        for row, kind in enumerate(kinds):
            for column, error in enumerate(MODEL_ERRORS):
                if kind in error.touches:
                    touched = error.touches[kind](evaluation, float(predicted[row]))
                    slopes[row, column] = error.share * float(np.asarray(touched).reshape(()))
    return slopes


@dataclass(frozen=True, eq=False)
class Fit:
    """Posterior of the constants, given measurements on one machine.

    Attributes
    ----------
    constants
        Values that fit best, floats; everything else as in the study.
    estimates
        One entry for each constant, in the order of :data:`PRIORS`.
    correlation
        Posterior correlation of their standard normal numbers, shape (5, 5).
    compared
        One entry for each measurement.
    misfit
        Sum of squares of the measurements' residuals, correlations by model errors counted; about
        as large as their number, or less, where model and measurements agree.
    effective_draws
        Number of independent draws that the weighted ones are worth.
    """

    constants: Constants
    estimates: tuple[Estimate, ...]
    correlation: Array
    compared: tuple[Comparison, ...]
    misfit: float
    effective_draws: float
    _machine: Machine
    _setting: Setting
    _data: _Data
    _place: Array
    _particles: Array
    _heights: Array

    @property
    def factors(self) -> tuple[str, ...]:
        """One factor: the constants hang together after a fit, so they are drawn together."""
        return ("constants as fitted",)

    def at(self, uniform: Array) -> Constants:
        """Posterior draws at uniform numbers of shape (1, n).

        They are laid out by the cycle time of the fitted machine: a larger number, a longer cycle.
        """
        last = len(self._heights) - 1
        lanes = np.minimum(np.searchsorted(self._heights, uniform[0], side="right"), last)
        return constants_at(self._setting.constants, self._particles[:, lanes])

    @property
    def not_learned(self) -> tuple[str, ...]:
        """Constants about which the measurements said next to nothing."""
        return tuple(estimate.name for estimate in self.estimates if not estimate.learned)

    @property
    def confused(self) -> tuple[tuple[str, str, float], ...]:
        """Pairs that the measurements cannot tell apart, with their correlation."""
        return tuple(
            (NAMES[one], NAMES[other], float(self.correlation[one, other]))
            for one in range(len(NAMES))
            for other in range(one + 1, len(NAMES))
            if abs(self.correlation[one, other]) > CONFUSED
        )

    @property
    def agrees(self) -> bool:
        """Whether chance explains how far measurements and what the trade knows are apart.

        Misfit and the way of the constants from their plain values together are distributed as
        chi-squared, with a degree of freedom for each measurement (linear normal model).
        """
        from scipy.special import chdtrc  # noqa: PLC0415

        surprise = self.misfit + float(self._place @ self._place)
        return float(chdtrc(len(self.compared), surprise)) >= UNLIKELY

    def gains(
        self, target: Machine | None = None, setting: Setting | None = None
    ) -> tuple[Gain, ...]:
        """What one more reading of each kind on the machine measured would be worth, best first.

        The prediction is the cycle time of ``target`` in ``setting``, or of the machine measured.
        """
        taken = tuple(one.measurement for one in self.compared)
        asked = (target or self._machine, setting or self._setting)
        return _gains(self._machine, self._setting, self._place, taken, *asked)


def first_gains(machine: Machine, setting: Setting) -> tuple[Gain, ...]:
    """What a first reading of each kind would be worth where nothing was measured, best first."""
    return _gains(machine, setting, np.zeros(len(PRIORS)), (), machine, setting)


def _gains(
    machine: Machine,
    setting: Setting,
    place: Array,
    taken: Sequence[Measurement],
    target: Machine,
    asked_in: Setting,
) -> tuple[Gain, ...]:
    """Gains by the linear normal model: Chaloner and Verdinelli, Stat. Science 10 (1995), 273.

    An error of the model counts once for all readings of a kind; the prediction is open as far as
    the constants are.
    """
    kinds = tuple(MEASURED)
    now = _evaluated(machine, setting, place)
    here = _local(machine, setting, place, kinds)
    whole = np.hstack([here.slope, model_error_slopes(now, kinds, here.value)])
    aim = _local(target, asked_in, place, ("cycle_time",)).slope[0]
    seen = whole[np.array([kinds.index(one.kind) for one in taken], dtype=np.intp)]
    variances = np.array([one.mean_uncertainty**2 for one in taken])
    spread = np.linalg.inv(np.eye(whole.shape[1]) + (seen.T / variances) @ seen)
    along = np.concatenate([aim, np.zeros(whole.shape[1] - len(aim))])
    variance = float(along @ spread @ along)
    found = []
    for kind, row in zip(kinds, whole, strict=True):
        stated = [one.uncertainty for one in taken if one.kind == kind]
        uncertainty = min(stated, default=USUAL_UNCERTAINTY[kind])
        shared = float(along @ spread @ row)
        noise = float(row @ spread @ row) + uncertainty * uncertainty
        left = max(variance - shared * shared / noise, 0.0)
        found.append(Gain(kind, uncertainty, math.sqrt(variance), math.sqrt(left)))
    return tuple(sorted(found, key=lambda gain: (gain.after, gain.kind)))


def _weighted_quantile(values: Array, weights: Array, level: float) -> float:
    order = np.argsort(values, kind="stable")
    heights = np.cumsum(weights[order]) - 0.5 * weights[order]
    return float(np.interp(level, heights, values[order]))


class _Posterior:
    """Prior times likelihood of the standard normal numbers."""

    def __init__(
        self, machine: Machine, setting: Setting, data: _Data, readings: dict[str, _Reading]
    ) -> None:
        self.machine, self.setting, self.data = machine, setting, data
        self.kinds = tuple(dict.fromkeys(data.kinds))
        self.readings = tuple(readings[kind] for kind in self.kinds)
        self.rows = [self.kinds.index(kind) for kind in data.kinds]
        self.whitening = np.linalg.inv(np.linalg.cholesky(data.covariance))

    def predicted(self, normals: Array, *more: _Reading) -> Array:
        """Predictions, a row for each kind and further reading."""
        with np.errstate(over="ignore"):  # a step too far, which its cost then refuses
            evaluation = _evaluated(self.machine, self.setting, normals)
        return _read(evaluation, (*self.readings, *more), normals.shape[1])

    def cost_of(self, predicted: Array, normals: Array) -> Array:
        """Minus twice the logarithm of the density, up to a constant; infinite where unsolved."""
        with np.errstate(over="ignore", invalid="ignore"):
            residuals = self.whitening @ (self.data.values[:, None] - predicted[self.rows])
            cost = (residuals * residuals).sum(axis=0) + (normals * normals).sum(axis=0)
        return np.where(np.isfinite(cost), cost, np.inf)

    def best_of(self, places: Array) -> Array:
        """The best of some places, shape (5, n).

        Raises
        ------
        CallError
            Where none of them has a cycle.
        """
        costs = self.cost_of(self.predicted(places), places)
        first = int(np.argmin(costs))
        if not math.isfinite(costs[first]):
            raise CallError(NO_CYCLE)
        return places[:, first]

    def mode(self, place: Array) -> tuple[Array, Array]:
        """Place of the largest density and the covariance of the normal approximation there."""
        shares = 0.5 ** np.arange(1, _HALVINGS + 1)
        here, least = self._at(place)
        curvature = np.eye(len(place))
        for _ in range(_STEPS):
            slope = self.whitening @ here.slope[self.rows]
            off = self.whitening @ (self.data.values - here.value[self.rows])
            curvature = slope.T @ slope + np.eye(len(place))
            step = np.linalg.solve(curvature, slope.T @ off - place)
            if np.abs(step).max() < _CLOSED:
                place = place + step
                break
            ahead = place + step
            there, cost = self._at(ahead)
            if not cost < least:
                tries = place[:, None] + step[:, None] * shares
                costs = self.cost_of(self.predicted(tries), tries)
                if not costs.min() < least:
                    break
                ahead = tries[:, int(np.argmin(costs))]
                there, cost = self._at(ahead)
            place, here, least = ahead, there, cost
        covariance: Array = np.asarray(np.linalg.inv(curvature), dtype=np.float64)
        return place, covariance

    def _at(self, place: Array) -> tuple[_Local, float]:
        with np.errstate(over="ignore", invalid="ignore"):
            here = _slopes(self.predicted(_stencil(place)))
        return here, float(self.cost_of(here.value[:, None], place[:, None])[0])

    def particles(self, centre: Array, covariance: Array) -> tuple[Array, Array, Array]:
        """Weighted draws: numbers (5, n), predictions (kinds and cycle time, n), weights (n,).

        Drawn from a normal distribution wider than the approximation, then from one with the mean
        and covariance that the weighted draws have: the approximation alone misses a long tail.
        Again so where few of them carry the weight.
        """
        normals = normal_of(golden_points(len(PRIORS), PARTICLES))
        for turn in range(1, _MOST_ROUNDS + 1):
            root = _WIDER[turn > 1] * np.linalg.cholesky(covariance)
            drawn = centre[:, None] + root @ normals
            predicted = self.predicted(drawn, *_readings(("cycle_time",)))
            logs = 0.5 * ((normals * normals).sum(axis=0) - self.cost_of(predicted, drawn))
            weights = np.exp(logs - logs.max())
            weights /= weights.sum()
            effective = 1.0 / float((weights * weights).sum())
            if turn >= _LEAST_ROUNDS and effective > _ENOUGH * PARTICLES:
                break
            centre = drawn @ weights
            apart = drawn - centre[:, None]
            covariance = (apart * weights) @ apart.T + 1e-9 * np.eye(len(centre))
        return drawn, predicted, weights


def _estimates(
    plain: Constants, best: Constants, drawn: Array, weights: Array
) -> tuple[Estimate, ...]:
    specs = quantities(Constants)
    values = constants_at(plain, drawn)
    found = []
    for row, prior in enumerate(PRIORS):
        column = np.broadcast_to(np.asarray(getattr(values, prior.name)), weights.shape)
        mean = float(column @ weights)
        numbers = drawn[row]
        centre = float(numbers @ weights)
        spec = specs[prior.name]
        found.append(
            Estimate(
                name=prior.name,
                title=spec.title,
                unit=spec.kind,
                plain=float(getattr(plain, prior.name)),
                best=float(getattr(best, prior.name)),
                deviation=math.sqrt(float((column - mean) ** 2 @ weights)),
                low=_weighted_quantile(column, weights, LEVEL[0]),
                high=_weighted_quantile(column, weights, LEVEL[1]),
                narrowing=math.sqrt(float((numbers - centre) ** 2 @ weights)),
            )
        )
    return tuple(found)


def _strangers(measurements: Sequence[Measurement], fitted: Array) -> CallError:
    """Refusal of readings that no constants explain, with the one that is furthest off."""
    off = [
        abs(measured.value - float(near)) / measured.mean_uncertainty
        for measured, near in zip(measurements, fitted, strict=True)
    ]
    worst = measurements[int(np.argmax(off))].kind.replace("_", " ")
    return CallError(
        f"no constants of the model come near the measurements; {worst} is the furthest off: "
        "check that reading, its unit and its uncertainty"
    )


def fit_constants(
    machine: Machine,
    setting: Setting,
    measurements: Sequence[Measurement],
    *,
    system: System = "us",
    path: str = "",
) -> Fit:
    """Constants of the model in the light of measurements on one machine.

    Parameters
    ----------
    machine
        The machine that was measured, every field one number.
    setting
        Its setting; the constants in it are the medians of the priors.
    measurements
        Readings in SI. Repeats divide the variance of a reading, not the model's own error.
    system, path
        Units and file for the words about a reading that cannot be.

    Raises
    ------
    CallError
        For a machine that the model cannot solve; for a stated constant that its prior does not
        allow.
    StudyError
        With one fault for each reading that contradicts physics or another reading.
    """
    if shape_of(machine) != () or not measurements:
        raise ValueError("a fit takes one machine, every field one number, and a measurement")
    faults = contradictions(machine, setting, measurements, system=system, path=path)
    if faults:
        raise StudyError(faults)
    kinds = tuple(measured.kind for measured in measurements)
    readings = dict(zip(kinds, _readings(kinds), strict=True))
    values = np.array([measured.value for measured in measurements])
    variances = np.array([measured.mean_uncertainty**2 for measured in measurements])
    place = np.zeros(len(PRIORS))
    here = _evaluated(machine, setting, place)
    before = _read(here, _readings(kinds), 1)[:, 0]
    if not np.isfinite(before).all():
        raise CallError(NO_CYCLE)
    if "oil_temperature" in readings:
        row = kinds.index("oil_temperature")
        readings["oil_temperature"] = _oil_between(float(values[row]), float(before[row]))
    starts = normal_of(golden_points(len(PRIORS), _STARTS))
    starts[:, 0] = 0.0
    fitted = before
    try:
        for weighing in range(_WEIGHINGS):
            data = _Data(kinds, values, variances, model_error_slopes(here, kinds, fitted))
            posterior = _Posterior(machine, setting, data, readings)
            place, covariance = posterior.mode(place if weighing else posterior.best_of(starts))
            here = _evaluated(machine, setting, place)
            fitted = _read(here, [readings[kind] for kind in kinds], 1)[:, 0]
        drawn, predicted, weights = posterior.particles(place, covariance)
    except np.linalg.LinAlgError:
        raise _strangers(measurements, fitted) from None
    order = np.argsort(predicted[-1], kind="stable")
    drawn, predicted, weights = drawn[:, order], predicted[:, order], weights[order]
    held = weights > 0.0
    drawn, predicted, weights = drawn[:, held], predicted[:, held], weights[held]
    if not 1.0 / float((weights * weights).sum()) > _FEWEST:
        raise _strangers(measurements, fitted)

    at_best = constants_at(setting.constants, place)
    rounded: dict[str, Any] = {name: float(getattr(at_best, name)) for name in NAMES}
    best = dataclasses.replace(setting.constants, **rounded)
    deviations = np.sqrt(np.diag(data.covariance))
    compared = tuple(
        Comparison(
            measurement=measured,
            before=float(before[row]),
            fitted=float(fitted[row]),
            low=_weighted_quantile(predicted[posterior.rows[row]], weights, LEVEL[0]),
            high=_weighted_quantile(predicted[posterior.rows[row]], weights, LEVEL[1]),
            deviation=float(deviations[row]),
            residual=float((measured.value - fitted[row]) / deviations[row]),
        )
        for row, measured in enumerate(measurements)
    )
    apart = drawn - (drawn @ weights)[:, None]
    spread = (apart * weights) @ apart.T
    scale = np.sqrt(np.diag(spread))
    off = posterior.whitening @ (data.values - fitted)
    return Fit(
        constants=best,
        estimates=_estimates(setting.constants, best, drawn, weights),
        correlation=spread / np.outer(scale, scale),
        compared=compared,
        misfit=float(off @ off),
        effective_draws=1.0 / float((weights * weights).sum()),
        _machine=machine,
        _setting=setting,
        _data=data,
        _place=place,
        _particles=drawn,
        _heights=np.cumsum(weights) / weights.sum(),
    )
