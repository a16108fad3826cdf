"""Correct the model by measurements: what is known of its uncertain constants, before and after.

Each constant starts from a prior of the trade and is written as a rising function of a standard
normal number. The posterior of these numbers is found by damped Gauss-Newton steps and its normal
approximation (Laplace), then sharpened by importance sampling on Sobol points, so that intervals
stay honest where it is not normal (Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 4 and 10).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from optimise.columns import Array, Column, shape_of
from optimise.errors import CallError, Fault, StudyError, nearest, quoted
from optimise.machine.evaluation import HOTTEST_OIL, Evaluation
from optimise.machine.parts import Machine
from optimise.machine.quantities import quantities
from optimise.machine.results import result_named
from optimise.machine.setting import Constants, Setting
from optimise.study.model import MEASURED, MEASURED_RESULTS, Measurement
from optimise.units import System, show

LEVEL = (0.05, 0.95)
"""Ends of every interval: the middle 90 %."""
NOT_LEARNED = 0.8
"""Posterior over prior standard deviation above which the measurements said next to nothing."""
CONFUSED = 0.8
"""Posterior correlation above which two constants cannot be told apart."""
ALLOWANCE = 2.0
"""Standard uncertainties by which a reading may miss what physics allows: it is noise then."""
SPEED_ALLOWANCE = 1.03
"""Engine speed over no-load speed at which a tachometer is wrong or the governor is not the one
listed."""


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
        The quantity of which it is a share, for each kind of measurement that it moves.
    reason
        Why so, and who says so.
    by_parts
        Whether it stands for tolerances of parts, so that it is left out where those are drawn.
    """

    name: str
    share: float
    touches: dict[str, Callable[[Evaluation], Column]]
    reason: str
    by_parts: bool = False


MODEL_ERRORS: tuple[ModelError, ...] = (
    ModelError(
        "out stroke",
        0.015,
        {
            "extend_time": lambda e: e.extend_time,
            "cycle_time": lambda e: e.extend_time,
            "loaded_cycle_time": lambda e: e.rated.loaded_extend_time,
        },
        "steady strokes, oil at one temperature: common practice, no source",
    ),
    ModelError(
        "back stroke",
        0.015,
        {
            "retract_time": lambda e: e.retract_time,
            "cycle_time": lambda e: e.retract_time,
            "loaded_cycle_time": lambda e: e.retract_time,
        },
        "steady strokes, oil at one temperature: common practice, no source",
    ),
    ModelError(
        "wood",
        0.10,
        {"loaded_cycle_time": lambda e: e.rated.loaded_extend_time},
        "the pieces timed are not the mix of the study: common practice, no source",
        by_parts=True,
    ),
    ModelError(
        "pressure out",
        0.05,
        {"extend_pressure": lambda e: e.extend_pump_pressure},
        "where the gauge sits and where in the stroke it is read: common practice, no source",
    ),
    ModelError(
        "pressure back",
        0.05,
        {"retract_pressure": lambda e: e.retract_pump_pressure},
        "where the gauge sits and where in the stroke it is read: common practice, no source",
    ),
    ModelError(
        "engine speed",
        0.01,
        {"engine_speed": lambda e: e.engine_speed},
        "governors hunt and droop is not a straight line: common practice, no source",
    ),
    ModelError(
        "oil temperature",
        0.15,
        {"oil_temperature": lambda e: e.steady_temperature - _air(e)},
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

PARTICLES = 4096
_STARTS = 256
_STEPS = 40
_HALVINGS = 10
_SLOPE_STEP = 1e-3
_CLOSED = 1e-5
_WIDER = (2.0, 1.25)
"""Width of the proposal over that of the target: in the first round, and later."""
_LEAST_ROUNDS, _MOST_ROUNDS = 2, 4
_WEIGHINGS = 2
"""The model's errors are shares: sized first with plain constants, then with those found."""
_ENOUGH = 0.3
_EDGE = 2.0**-40


def _air(evaluation: Evaluation) -> float:
    return evaluation.setting.surroundings.air_temperature


def sobol_points(dimensions: int, count: int, seed: int) -> Array:
    """Scrambled Sobol points in the open unit cube, shape (dimensions, count).

    Parameters
    ----------
    count
        A power of two: only then are the points balanced.

    Raises
    ------
    ValueError
        For another count.
    """
    from scipy.stats import qmc  # noqa: PLC0415

    power = count.bit_length() - 1
    if count < 1 or count != 2**power:
        raise ValueError(f"a Sobol sequence needs a power of two of points, not {count}")
    points = qmc.Sobol(dimensions, scramble=True, seed=seed).random_base2(power)
    return np.ascontiguousarray(np.clip(points, _EDGE, 1.0 - _EDGE).T)


def normal_of(uniform: Array) -> Array:
    """Standard normal numbers from uniform ones."""
    from scipy.special import ndtri  # noqa: PLC0415

    return np.asarray(ndtri(uniform), dtype=np.float64)


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
                f"{prior.name} is stated as {value:g}; it has to be under {prior.end:g} to be "
                "corrected or to have a range"
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


def _read(evaluation: Evaluation, kinds: Sequence[str], count: int) -> Array:
    """Predictions of kinds of measurement, shape (kinds, count), from one evaluation."""
    with np.errstate(all="ignore"):
        rows = [
            np.broadcast_to(
                np.asarray(result_named(MEASURED_RESULTS[kind]).reading(evaluation)), (count,)
            )
            for kind in kinds
        ]
    return np.array(rows, dtype=np.float64).reshape(len(kinds), count)


def predict(machine: Machine, setting: Setting, normals: Array, kinds: Sequence[str]) -> Array:
    """Predictions of one machine at standard normal numbers of shape (5, n), shape (kinds, n)."""
    return _read(_evaluated(machine, setting, normals), kinds, normals.shape[1])


def _local(machine: Machine, setting: Setting, place: Array, kinds: Sequence[str]) -> _Local:
    size = len(place)
    steps = np.hstack([np.zeros((size, 1)), np.eye(size), -np.eye(size)]) * _SLOPE_STEP
    found = predict(machine, setting, place[:, None] + steps, kinds)
    slope = (found[:, 1 : size + 1] - found[:, size + 1 :]) / (2.0 * _SLOPE_STEP)
    return _Local(found[:, 0], np.nan_to_num(slope))


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


def reading_variance(uncertainty: float, repeats: int) -> float:
    """Variance of the mean of ``repeats`` readings, each of a standard uncertainty."""
    return uncertainty * uncertainty / repeats


def model_error_slopes(
    evaluation: Evaluation, kinds: Sequence[str], errors: Sequence[ModelError] = MODEL_ERRORS
) -> Array:
    """Move of each kind of measurement by one standard deviation of each model error.

    Shape (kinds, errors), for one machine.
    """
    slopes = np.zeros((len(kinds), len(errors)))
    with np.errstate(all="ignore"):
        for row, kind in enumerate(kinds):
            for column, error in enumerate(errors):
                if kind in error.touches:
                    touched = float(np.asarray(error.touches[kind](evaluation)).reshape(()))
                    slopes[row, column] = error.share * touched
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

    def draws(self, count: int, seed: int) -> Constants:
        """Posterior samples: constants as columns of shape (count,), in random order.

        Stratified, so that few draws already stand for the whole.
        """
        chance = np.random.default_rng(seed)
        strata = (chance.permutation(count) + chance.random(count)) / count
        return self.at(strata[None, :])

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

    def gains(self, target: Machine | None = None) -> tuple[Gain, ...]:
        """What one more reading of each kind on the fitted machine would be worth, best first.

        The prediction is the cycle time of ``target``, or of the fitted machine; its variance after
        a reading is that of the linear normal model (Chaloner and Verdinelli, Statistical Science
        10 (1995), 273). An error of the model counts once for all readings of a kind.
        """
        kinds = tuple(MEASURED)
        machine, setting, data = self._machine, self._setting, self._data
        here = _local(machine, setting, self._place, kinds)
        row = kinds.index("cycle_time")
        aim = here.slope[row]
        if target is not None:
            aim = _local(target, setting, self._place, ("cycle_time",)).slope[0]
        now = _evaluated(machine, setting, self._place)
        whole = np.hstack([here.slope, model_error_slopes(now, kinds)])
        seen = whole[[kinds.index(kind) for kind in data.kinds]]
        precision = np.eye(whole.shape[1]) + (seen.T / data.variances) @ seen
        spread = np.linalg.inv(precision)
        along = np.concatenate([aim, np.zeros(whole.shape[1] - len(aim))])
        variance = float(along @ spread @ along)
        found = []
        for kind, slopes in zip(kinds, whole, strict=True):
            taken = [one.measurement for one in self.compared if one.measurement.kind == kind]
            uncertainty = min(
                (measured.uncertainty for measured in taken), default=USUAL_UNCERTAINTY[kind]
            )
            shared = float(along @ spread @ slopes)
            noise = float(slopes @ spread @ slopes) + uncertainty * uncertainty
            left = max(variance - shared * shared / noise, 0.0)
            found.append(Gain(kind, uncertainty, math.sqrt(variance), math.sqrt(left)))
        return tuple(sorted(found, key=lambda gain: (gain.after, gain.kind)))


# --- what cannot be ------------------------------------------------------------------------------


def _checked(measurements: Sequence[Measurement]) -> None:
    """Refuse what is not a measurement at all."""
    if not measurements:
        raise CallError("there is no measurement to fit to")
    for place, measured in enumerate(measurements, 1):
        named = f"measurement {place} ({measured.kind})"
        if measured.kind not in MEASURED:
            close = nearest(measured.kind, MEASURED)
            hint = f"; did you mean {close}?" if close else ""
            raise CallError(f"measurement {place}: no kind {quoted(measured.kind)}{hint}")
        if not (math.isfinite(measured.value) and measured.value > 0.0):
            raise CallError(f"{named}: a reading has to be above 0, not {measured.value:g}")
        if not (math.isfinite(measured.uncertainty) and measured.uncertainty > 0.0):
            raise CallError(
                f"{named}: an uncertainty has to be above 0, not {measured.uncertainty:g}"
            )
        if measured.repeats < 1:
            raise CallError(f"{named}: a reading has at least one repeat")


@dataclass(frozen=True)
class _Bound:
    """What physics allows for one kind of measurement, SI, and why."""

    kind: str
    least: float
    most: float
    reason: str


def _bounds(machine: Machine, setting: Setting) -> tuple[_Bound, ...]:
    ceiling = next(prior.end for prior in PRIORS if prior.name == "speed_factor")
    quickest = dataclasses.replace(setting.constants, speed_factor=ceiling)
    evaluation = Evaluation(machine, dataclasses.replace(setting, constants=quickest))
    out = float(setting.frame.stroke / evaluation.largest_extend_speed)
    back = float(setting.frame.stroke / evaluation.largest_retract_speed)
    relief = float(machine.valve.relief_pressure)
    governed = SPEED_ALLOWANCE * float(machine.engine.no_load_speed)
    share = f"{100.0 * (ceiling - 1.0):.0f} % over its catalogue flow, without slip and load"
    swept = f"the pump cannot fill the swept volume any quicker, at {share}"
    open_relief = "the relief valve would be open"
    return (
        _Bound("extend_time", out, math.inf, swept),
        _Bound("retract_time", back, math.inf, swept),
        _Bound("cycle_time", out + back, math.inf, swept + ", both ways"),
        _Bound("loaded_cycle_time", out + back, math.inf, swept + ", both ways"),
        _Bound(
            "oil_temperature",
            setting.surroundings.air_temperature,
            HOTTEST_OIL,
            "oil that is worked ends warmer than the air around it, and no oil survives the most",
        ),
        _Bound(
            "engine_speed",
            0.0,
            governed,
            f"{100.0 * (SPEED_ALLOWANCE - 1.0):.0f} % over the no-load speed: the tachometer or "
            "the engine's data are wrong",
        ),
        _Bound("extend_pressure", 0.0, relief, open_relief),
        _Bound("retract_pressure", 0.0, relief, open_relief),
    )


def contradictions(
    machine: Machine,
    setting: Setting,
    measurements: Sequence[Measurement],
    *,
    system: System = "us",
    path: str = "",
) -> tuple[Fault, ...]:
    """Readings that no value of the constants can explain, each with the reason.

    A reading counts as such where it misses what is possible by more than :data:`ALLOWANCE` of its
    standard uncertainties.

    Parameters
    ----------
    machine
        One machine, every field one number: the one that was measured.
    measurements
        Readings in SI, in the order of the study.
    system, path
        Units and file of the faults' words.
    """
    allowed = {bound.kind: bound for bound in _bounds(machine, setting)}
    faults = []
    for place, measured in enumerate(measurements, 1):
        bound, slack = allowed[measured.kind], ALLOWANCE * measured.uncertainty
        unit = MEASURED[measured.kind]
        too_low = measured.value + slack < bound.least
        too_high = measured.value - slack > bound.most
        if too_low or too_high:
            words = "at least" if too_low else "at most"
            edge = show(bound.least if too_low else bound.most, unit, system)
            where, found = _place(place, measured, system)
            faults.append(Fault(path, where, found, f"{words} {edge}", bound.reason))
    return (*faults, *_disorders(measurements, system, path))


def _place(place: int, measured: Measurement, system: System) -> tuple[str, str]:
    words = measured.kind.replace("_", " ")
    unit = MEASURED[measured.kind]
    wide = "temperature_difference" if unit == "temperature" else unit
    value = show(measured.value, unit, system)
    return (
        f"measurements.{place}.value ({measured.kind})",
        f"{words} {value} ± {show(measured.uncertainty, wide, system, 2)}",
    )


_ORDERS: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (
        ("extend_time", "retract_time"),
        "cycle_time",
        "a cycle holds both strokes and the reversals",
    ),
    (("cycle_time",), "loaded_cycle_time", "wood never makes a cycle quicker"),
)
"""Kinds that together take no longer than another, and why."""


def _disorders(measurements: Sequence[Measurement], system: System, path: str) -> tuple[Fault, ...]:
    """Readings that contradict each other."""
    first: dict[str, Measurement] = {}
    for measured in measurements:
        first.setdefault(measured.kind, measured)
    faults = []
    for shorter, longer, reason in _ORDERS:
        if not all(kind in first for kind in (*shorter, longer)):
            continue
        least = sum(first[kind].value for kind in shorter)
        variance = sum(first[kind].uncertainty ** 2 for kind in (*shorter, longer))
        whole = first[longer]
        if whole.value + ALLOWANCE * math.sqrt(variance) < least:
            where, found = _place(1 + list(measurements).index(whole), whole, system)
            named = " and ".join(kind.replace("_", " ") for kind in shorter)
            wanted = f"at least {show(least, 'time', system)}, which is {named} as measured"
            faults.append(Fault(path, where, found, wanted, reason))
    return tuple(faults)


# --- the fit -------------------------------------------------------------------------------------


def _weighted_quantile(values: Array, weights: Array, level: float) -> float:
    order = np.argsort(values, kind="stable")
    heights = np.cumsum(weights[order]) - 0.5 * weights[order]
    return float(np.interp(level, heights, values[order]))


class _Posterior:
    """Prior times likelihood of the standard normal numbers."""

    def __init__(self, machine: Machine, setting: Setting, data: _Data) -> None:
        self.machine, self.setting, self.data = machine, setting, data
        self.kinds = tuple(dict.fromkeys(data.kinds))
        self.rows = [self.kinds.index(kind) for kind in data.kinds]
        self.whitening = np.linalg.inv(np.linalg.cholesky(data.covariance))

    def cost_of(self, predicted: Array, normals: Array) -> Array:
        """Minus twice the logarithm of the density, up to a constant; infinite where unsolved."""
        residuals = self.whitening @ (self.data.values[:, None] - predicted[self.rows])
        cost = (residuals * residuals).sum(axis=0) + (normals * normals).sum(axis=0)
        return np.where(np.isfinite(cost), cost, np.inf)

    def cost(self, normals: Array) -> Array:
        """The same at standard normal numbers of shape (5, n)."""
        return self.cost_of(predict(self.machine, self.setting, normals, self.kinds), normals)

    def mode(self, places: Array) -> tuple[Array, Array]:
        """Place of the largest density and the covariance of the normal approximation there.

        Looked for from the best of ``places``, shape (5, n).
        """
        costs = self.cost(places)
        first = int(np.argmin(costs))
        place, least = places[:, first], float(costs[first])
        if not math.isfinite(least):
            raise CallError("the model finds no cycle for the machine that was measured")
        shares = 0.5 ** np.arange(_HALVINGS)
        curvature = np.eye(len(place))
        for _ in range(_STEPS):
            local = _local(self.machine, self.setting, place, self.kinds)
            slope = self.whitening @ local.slope[self.rows]
            off = self.whitening @ (self.data.values - local.value[self.rows])
            curvature = slope.T @ slope + np.eye(len(place))
            step = np.linalg.solve(curvature, slope.T @ off - place)
            tries = place[:, None] + step[:, None] * shares
            costs = self.cost(tries)
            best = int(np.argmin(costs))
            if not costs[best] < least:
                break
            place, least = tries[:, best], float(costs[best])
            if np.abs(step).max() < _CLOSED:
                break
        covariance: Array = np.asarray(np.linalg.inv(curvature), dtype=np.float64)
        return place, covariance

    def particles(self, centre: Array, covariance: Array) -> tuple[Array, Array, Array]:
        """Weighted draws: numbers (5, n), predictions (kinds and cycle time, n), weights (n,).

        Drawn from a normal distribution wider than the approximation, then from one with the mean
        and covariance that the weighted draws have: the approximation alone misses a long tail.
        Again so where few of them carry the weight.
        """
        normals = normal_of(sobol_points(len(PRIORS), PARTICLES, 1))
        kinds = (*self.kinds, "cycle_time")
        for turn in range(1, _MOST_ROUNDS + 1):
            root = _WIDER[turn > 1] * np.linalg.cholesky(covariance)
            drawn = centre[:, None] + root @ normals
            predicted = predict(self.machine, self.setting, drawn, kinds)
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
        Readings in SI. ``uncertainty`` counts as that of one reading: the variance of a mean is its
        square over ``repeats``. The model's own error is added and not divided.
    system, path
        Units and file for the words about a reading that cannot be.

    Raises
    ------
    CallError
        For no measurement, or one that is none; for a machine that the model cannot solve; for a
        stated constant that its prior does not allow.
    StudyError
        With one fault for each reading that contradicts physics or another reading.
    """
    if shape_of(machine) != ():
        raise ValueError("a fit takes one machine, every field one number")
    _checked(measurements)
    faults = contradictions(machine, setting, measurements, system=system, path=path)
    if faults:
        raise StudyError(faults)
    kinds = tuple(measured.kind for measured in measurements)
    nowhere = np.zeros((len(PRIORS), 1))
    before = predict(machine, setting, nowhere, kinds)[:, 0]
    if not np.isfinite(before).all():
        raise CallError("the model finds no cycle for the machine that was measured")
    values = np.array([measured.value for measured in measurements])
    variances = np.array([reading_variance(m.uncertainty, m.repeats) for m in measurements])
    starts = normal_of(sobol_points(len(PRIORS), _STARTS, 0))
    starts[:, 0] = place = np.zeros(len(PRIORS))
    for _ in range(_WEIGHINGS):
        errors = model_error_slopes(_evaluated(machine, setting, place), kinds)
        data = _Data(kinds, values, variances, errors)
        posterior = _Posterior(machine, setting, data)
        place, covariance = posterior.mode(starts)
        starts = place[:, None]
    drawn, predicted, weights = posterior.particles(place, covariance)
    order = np.argsort(predicted[-1], kind="stable")
    drawn, predicted, weights = drawn[:, order], predicted[:, order], weights[order]
    held = weights > 0.0
    drawn, predicted, weights = drawn[:, held], predicted[:, held], weights[held]

    at_best = constants_at(setting.constants, place)
    rounded: dict[str, Any] = {name: float(getattr(at_best, name)) for name in NAMES}
    best = dataclasses.replace(setting.constants, **rounded)
    fitted = predict(machine, setting, place[:, None], kinds)[:, 0]
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
