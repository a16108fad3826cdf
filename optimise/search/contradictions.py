"""Readings that no machine can give: refused before any fit, each with the reason."""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimise.errors import Fault
from optimise.machine.evaluation import HOTTEST_OIL, Evaluation
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.search.priors import PRIORS
from optimise.study.model import MEASURED, Measurement
from optimise.units import System, show

ALLOWANCE = 2.0
"""Standard uncertainties by which a reading may miss what physics allows: it is noise then."""
SPEED_ALLOWANCE = 1.03
"""Engine speed over no-load speed at which a tachometer is wrong or the governor is not the one
listed."""


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

    One counts as such where it misses what is possible by more than :data:`ALLOWANCE` standard
    uncertainties of one reading: what all readings have in common, a late thumb, repeats do not
    divide.

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
    return f"measurements.{place}.value ({measured.kind})", f"{words} {measured.written(system)}"


_ORDERS: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (
        ("extend_time", "retract_time"),
        "cycle_time",
        "a cycle holds both strokes and the reversals",
    ),
    (("extend_time", "retract_time"), "loaded_cycle_time", "wood never makes a cycle quicker"),
    (("cycle_time",), "loaded_cycle_time", "wood never makes a cycle quicker"),
)
"""Kinds that together take no longer than another, and why."""


def _disorders(measurements: Sequence[Measurement], system: System, path: str) -> tuple[Fault, ...]:
    """Readings that contradict others, each with the worst of these."""
    by_kind: dict[str, list[Measurement]] = {}
    for measured in measurements:
        by_kind.setdefault(measured.kind, []).append(measured)
    worst: dict[int, tuple[float, Fault]] = {}
    for shorter, longer, reason in _ORDERS:
        for place, whole in enumerate(measurements, 1):
            if whole.kind != longer:
                continue
            for parts in itertools.product(*(by_kind.get(kind, []) for kind in shorter)):
                least = sum(part.value for part in parts)
                missed = (least - whole.value) / math.hypot(
                    *(one.uncertainty for one in (*parts, whole))
                )
                if missed > max(ALLOWANCE, worst[place][0] if place in worst else 0.0):
                    where, found = _place(place, whole, system)
                    named = " and ".join(kind.replace("_", " ") for kind in shorter)
                    wanted = f"at least {show(least, 'time', system)}, which is {named} as measured"
                    worst[place] = missed, Fault(path, where, found, wanted, reason)
    return tuple(fault for _, (_, fault) in sorted(worst.items()))
