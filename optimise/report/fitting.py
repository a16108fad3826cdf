"""The fit to measurements in words, tables and plain data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.columns import Array
from optimise.machine.parts import Machine
from optimise.machine.quantities import quantities
from optimise.machine.results import reported
from optimise.machine.setting import Constants
from optimise.machine.sheet import sheet_of
from optimise.report.answers import UNITS_REPORTED, plain, provenance
from optimise.report.doubt import between
from optimise.search.fit import Fit, Gain, first_gains
from optimise.search.knowledge import corrected
from optimise.search.priors import NAMES, PRIORS, FromTheTrade
from optimise.search.uncertainty import LEVEL_SHARE, LEVELS, spread_of
from optimise.study.model import MEASURED, Study
from optimise.study.space import owned_machine
from optimise.units import KINDS, System, show

CYCLE = "cycle.total_s"
WORTH_MEASURING = 0.05
"""Share by which a reading has to narrow the prediction to be worth taking."""
FAR_OFF = 2.0
"""Residual, in standard deviations, from which a reading is named as the one that does not fit."""

CONSTANTS_MEAN = (
    "Factors multiply what the model reckons by itself, so 1 leaves it as it is: leakage of the "
    "pump under pressure, flow (speed) of the pump with no load, losses in hoses, fittings and "
    "valve, time of the two reversals. Seal friction is the pressure that the seals take."
)
CORRELATION_MEANS = (
    "Correlation: near 0 the readings tell two constants apart; near +1 or -1 they do not, and "
    "only both together are known."
)
OFF_MEANS = (
    "Off: reading less fitted model, counted in the scatter (standard deviation) that such a "
    "reading and the model have; within 1 is usual, beyond 2 is worth a second look."
)


@dataclass(frozen=True)
class Fitting:
    """Everything that the answer of ``fit`` holds.

    Attributes
    ----------
    fit
        None where the study holds no measurements.
    gains
        Worth of each further reading, best first.
    before, fitted
        Cycle time of the machine asked about with the study's and with the fitted constants [s].
    ends
        Its 90 % interval, tolerances and model error counted [s].
    """

    fit: Fit | None
    gains: tuple[Gain, ...]
    before: float
    fitted: float
    ends: tuple[float, float]


def fitting_of(study: Study, measured: Study, machine: Machine, fit: Fit | None) -> Fitting:
    """Answer for a machine of ``study``; ``measured`` is the study as the readings were taken."""
    before = float(sheet_of(machine, study.setting).results[CYCLE])
    if fit is None:
        gains = first_gains(owned_machine(measured), measured.setting)
        spread = spread_of(machine, study.setting, keys=(CYCLE,))
        fitted = before
    else:
        gains = fit.gains(machine, study.setting)
        spread = spread_of(machine, study.setting, fit, keys=(CYCLE,))
        fitted = float(sheet_of(machine, corrected(study, fit).setting).results[CYCLE])
    low, _, high = spread.points[CYCLE]
    return Fitting(fit, gains, before, fitted, (float(low), float(high)))


def _priors(study: Study) -> list[tuple[str, str, float, float, float, str]]:
    """Name, unit, value, ends of the 90 % range and reason of each constant before measuring."""
    specs = quantities(Constants)
    corners: Array = np.tile(np.array([LEVELS[0], LEVELS[-1]]), (len(PRIORS), 1))
    ends = FromTheTrade(study.setting.constants).at(corners)
    rows = []
    for prior in PRIORS:
        low, high = sorted(float(value) for value in np.asarray(getattr(ends, prior.name)))
        value = float(getattr(study.setting.constants, prior.name))
        rows.append((prior.name, specs[prior.name].kind, value, low, high, prior.reason))
    return rows


# --- words --------------------------------------------------------------------------------------


def _title(name: str) -> str:
    return quantities(Constants)[name].title


def _kind_words(kind: str) -> str:
    return kind.replace("_", " ")


def advice(study: Study, found: Fitting) -> list[str]:
    """One or two sentences that a builder can act on."""
    said = []
    fit, best = found.fit, found.gains[0]
    if fit is None:
        said.append(
            "This study holds no measurements yet, so the constants are those of the study and "
            "their ranges what the trade knows; put readings under [[measurements]]."
        )
    elif not fit.agrees:
        worst = max(fit.compared, key=lambda one: abs(one.residual))
        where = (
            f": {_kind_words(worst.measurement.kind)} is off by {abs(worst.residual):.1f} times "
            "its usual scatter"
            if abs(worst.residual) > FAR_OFF
            else "; the constants would have to be far from all that the trade knows"
        )
        said.append(
            f"Measurements and model disagree by more than chance{where}. Check the readings and "
            "the parts listed in the study before you trust these constants."
        )
    else:
        low, high = (show(end, "time", study.system, 3) for end in found.ends)
        said.append(
            f"Reckon with a cycle of {show(found.fitted, 'time', study.system)} ({low} to {high} "
            f"in 9 cases of 10) instead of {show(found.before, 'time', study.system)}: ask check, "
            "front and report with --fitted."
        )
    words = _kind_words(best.kind)
    if best.narrowing < WORTH_MEASURING:
        said.append(
            "More readings are not worth the time: the best, one more "
            f"{words}, would narrow the cycle time by {100.0 * best.narrowing:.1f} %."
        )
    else:
        wide = "temperature_difference" if best.kind == "oil_temperature" else MEASURED[best.kind]
        said.append(
            f"Measure next: {words}, good to {show(best.uncertainty, wide, study.system, 2)}; one "
            f"reading narrows what the constants leave open of the cycle time by "
            f"{100.0 * best.narrowing:.0f} %."
        )
    return said


def print_fit(console: Console, study: Study, found: Fitting) -> None:
    """Constants, readings against the model, what they could not say, and what to do."""
    console.print(Text(study.title or study.name, style="bold"))
    if found.fit is None:
        _print_priors(console, study)
    else:
        _print_constants(console, found.fit, study.system)
        _print_compared(console, found.fit, study.system)
        _print_limits_of_knowledge(console, found.fit)
    for sentence in advice(study, found):
        console.print(Text(sentence))


def _print_priors(console: Console, study: Study) -> None:
    table = Table("constant", "study", "9 times in 10", "why", box=None, pad_edge=False)
    for name, unit, value, low, high, reason in _priors(study):
        shown = show(value, unit, study.system)
        table.add_row(_title(name), shown, between(low, high, unit, study.system), Text(reason))
    console.print(table)
    console.print(Text(CONSTANTS_MEAN))
    console.print()


def _print_constants(console: Console, fit: Fit, system: System) -> None:
    table = Table("constant", "study", "fitted", "9 times in 10", "", box=None, pad_edge=False)
    for one in fit.estimates:
        table.add_row(
            one.title,
            show(one.plain, one.unit, system),
            show(one.best, one.unit, system, 3),
            between(one.low, one.high, one.unit, system),
            "" if one.learned else "nothing learned",
        )
    console.print(table)
    console.print(Text(CONSTANTS_MEAN))
    console.print()
    titles = [one.title for one in fit.estimates]
    matrix = Table("correlation", *titles, box=None, pad_edge=False)
    for title, row in zip(titles, fit.correlation, strict=True):
        matrix.add_row(title, *(f"{float(value):+.2f}" for value in row))
    console.print(matrix)
    console.print(Text(CORRELATION_MEANS))
    console.print()


def _print_compared(console: Console, fit: Fit, system: System) -> None:
    heads = ("measured", "mean", "study's model", "fitted model", "off")
    table = Table(*heads, box=None, pad_edge=False)
    for one in fit.compared:
        unit = MEASURED[one.measurement.kind]
        table.add_row(
            _kind_words(one.measurement.kind),
            one.measurement.written(system),
            show(one.before, unit, system),
            show(one.fitted, unit, system),
            f"{one.residual:+.1f}",
        )
    console.print(table)
    console.print(Text(OFF_MEANS))
    console.print()


def _print_limits_of_knowledge(console: Console, fit: Fit) -> None:
    for one, other, correlation in fit.confused:
        console.print(
            Text(
                f"These readings cannot tell {_title(one)} and {_title(other)} apart (correlation "
                f"{correlation:+.2f}): only both together are known."
            )
        )
    if fit.not_learned:
        names = ", ".join(_title(name) for name in fit.not_learned)
        console.print(Text(f"They said next to nothing of: {names}."))


# --- plain data ---------------------------------------------------------------------------------


def _unit_name(kind: str) -> str:
    return UNITS_REPORTED.get(kind, KINDS[kind].si_unit)


def fit_answer(study: Study, found: Fitting) -> dict[str, Any]:
    """Answer of ``fit``, SI but for degC and rpm; deviations of temperatures in kelvin."""
    fit = found.fit
    low, high = found.ends
    answer: dict[str, Any] = {
        **provenance(study),
        "parts": dict(study.fitted),
        "interval_level": LEVEL_SHARE,
        "prediction": {
            "of": CYCLE,
            "study": plain(found.before),
            "fitted": plain(found.fitted),
            "low": plain(low),
            "high": plain(high),
        },
        "next": [_gain_entry(gain) for gain in found.gains],
        "advice": advice(study, found),
    }
    if fit is None:
        entries = [
            {
                "name": name,
                "unit": _unit_name(unit),
                "study": value,
                "fitted": None,
                "low": low,
                "high": high,
                "learned": False,
                "prior": reason,
            }
            for name, unit, value, low, high, reason in _priors(study)
        ]
        return {**answer, "fitted_constants": entries, "measurements": []}
    reasons = {prior.name: prior.reason for prior in PRIORS}
    return {
        **answer,
        "fitted_constants": [
            {
                "name": one.name,
                "unit": _unit_name(one.unit),
                "study": one.plain,
                "fitted": one.best,
                "low": one.low,
                "high": one.high,
                "deviation": one.deviation,
                "narrowing": one.narrowing,
                "learned": one.learned,
                "prior": reasons[one.name],
            }
            for one in fit.estimates
        ],
        "correlation": {
            one: {other: float(fit.correlation[row, column]) for column, other in enumerate(NAMES)}
            for row, one in enumerate(NAMES)
        },
        "cannot_tell_apart": [
            {"constants": [one, other], "correlation": value} for one, other, value in fit.confused
        ],
        "not_learned": list(fit.not_learned),
        "measurements": [
            {
                "kind": one.measurement.kind,
                "unit": _unit_name(MEASURED[one.measurement.kind]),
                **{
                    key: plain(reported(value, MEASURED[one.measurement.kind]))
                    for key, value in (
                        ("measured", one.measurement.value),
                        ("study", one.before),
                        ("fitted", one.fitted),
                        ("low", one.low),
                        ("high", one.high),
                    )
                },
                "repeats": one.measurement.repeats,
                "residual_in_deviations": one.residual,
            }
            for one in fit.compared
        ],
        "misfit": fit.misfit,
        "agrees": fit.agrees,
    }


def _gain_entry(gain: Gain) -> dict[str, Any]:
    return {
        "kind": gain.kind,
        "narrowing": gain.narrowing,
        "cycle_deviation_before_s": gain.before,
        "cycle_deviation_after_s": gain.after,
    }
