"""One whole cycle as the simulation runs it, beside the fast model, for people and for programs."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.columns import Array
from optimise.errors import CallError
from optimise.machine import transient
from optimise.machine.evaluation import Evaluation
from optimise.machine.log_force import mix_profile
from optimise.machine.results import reported
from optimise.machine.transient import FINISHED, WOOD, EnergyTotals, Transient
from optimise.report.answers import plain, provenance
from optimise.report.text import CAUTIONS
from optimise.study.model import Study
from optimise.study.space import fitted_machine
from optimise.units import show

ENERGY_WORDS = {
    "pump": "lost in the pump",
    "lines": "lost in hoses, fittings, valve and filter",
    "relief": "lost over the relief valve",
    "friction": "lost to seals and slides",
    "wood": "into the wood",
    "damping": "lost in hose walls and air bubbles",
    "impact": "lost when ram and oil columns are stopped",
    "stored": "left in flywheel and compressed oil",
}
"""Where the engine's work goes, in the order in which it is said."""
SWITCH_WORDS = {
    transient.UNLOADED: "the pump drops to its small section",
    transient.RELOADED: "the large section pumps again",
    transient.PARTED: "regenerative flow ends: the rod end is led to the tank",
    transient.JOINED: "regenerative flow begins again",
    WOOD: "the ram meets the log",
    transient.DETENT: "the detent lets go",
}
SMALL_SHARE = 0.005
"""Share of the engine's work under which a loss is not told."""
FEW = 3
"""How often something may switch and still have each moment told."""


@dataclass(frozen=True)
class Ran:
    """One cycle: its words, the simulation, and what the fast model says of its strokes [s]."""

    name: str
    trace: Transient
    extend_time: float
    retract_time: float
    reversal_time: float

    @property
    def cycle_time(self) -> float:
        """Cycle of the fast model [s]."""
        return self.extend_time + self.retract_time + self.reversal_time

    @property
    def rows(self) -> tuple[tuple[str, float, float], ...]:
        """Title, simulated and fast time [s] of each part of the cycle."""
        trace = self.trace
        return (
            ("Out", trace.extend_time, self.extend_time),
            ("Back", trace.retract_time, self.retract_time),
            ("Reversals", trace.reversal_time, self.reversal_time),
            ("Cycle", trace.cycle_time, self.cycle_time),
        )


@dataclass(frozen=True)
class Cycles:
    """The machine fitted, without a log and through the mean piece of the wood mix."""

    study: Study
    idle: Ran
    loaded: Ran


def cycles_of(study: Study) -> Cycles:
    """Run the machine asked about through both cycles.

    Raises
    ------
    CallError
        The machine cannot be followed.
    """
    machine, setting = fitted_machine(study), study.setting
    with np.errstate(all="ignore"):
        evaluation = Evaluation(machine, setting)
        strokes = evaluation.rated
        log = mix_profile(evaluation.levels, setting.frame.stroke, float(strokes.moving_force))
        try:
            idle = transient.simulate_cycle(machine, setting)
            loaded = transient.simulate_cycle(machine, setting, log_force=log)
        except (ArithmeticError, ValueError) as error:
            raise CallError(
                f"this machine cannot be followed over a cycle: {error}; ramfront check says which "
                "limits are crossed"
            ) from None
        retract, reversal = float(strokes.retract_time), float(evaluation.reversal_time)
        return Cycles(
            study,
            Ran("idle", idle, float(strokes.extend_time), retract, reversal),
            Ran("loaded", loaded, float(strokes.loaded_extend_time), retract, reversal),
        )


def energy_shares(energy: EnergyTotals) -> dict[str, float]:
    """Share of the engine's work in each place, by field of :class:`EnergyTotals`."""
    return {name: getattr(energy, name) / energy.engine for name in ENERGY_WORDS}


def energy_sentence(ran: Ran) -> str:
    """Where the engine's work went, the largest first."""
    shares = energy_shares(ran.trace.energy)
    told = sorted(
        (name for name, share in shares.items() if share >= SMALL_SHARE),
        key=lambda name: -shares[name],
    )
    words = [f"{100.0 * shares[name]:.0f} % {ENERGY_WORDS[name]}" for name in told]
    return f"Of {ran.trace.energy.engine / 1000.0:.1f} kJ from the engine: {', '.join(words)}."


def kept_points(columns: list[Array], scale: list[float], tolerance: float) -> NDArray[np.intp]:
    """Places of a trace that straight lines between them give back within a tolerance.

    Ramer, Douglas and Peucker's division, on all columns at once: the point furthest off the line
    is kept until none is off by more than ``tolerance`` times its column's scale.

    Parameters
    ----------
    columns
        Time first; all of one length.
    scale
        Size against which each column after the first is measured, above 0.
    """
    times = columns[0]
    values = np.stack([c / s for c, s in zip(columns[1:], scale, strict=True)])
    keep = np.zeros(len(times), dtype=bool)
    keep[[0, -1]] = True
    waiting = [(0, len(times) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        inside = slice(first + 1, last)
        span = times[last] - times[first]
        share = (times[inside] - times[first]) / span if span > 0.0 else 0.0 * times[inside]
        straight = values[:, [first]] + share * (values[:, [last]] - values[:, [first]])
        off = np.abs(values[:, inside] - straight).max(axis=0)
        worst = int(np.argmax(off))
        if off[worst] > tolerance:
            middle = first + 1 + worst
            keep[middle] = True
            waiting += [(first, middle), (middle, last)]
    return np.flatnonzero(keep)


# --- for programs -------------------------------------------------------------------------------

_COLUMNS = {
    "time_s": ("times", ""),
    "position_m": ("position", ""),
    "velocity_m_s": ("velocity", ""),
    "pump_Pa": ("pump_pressure", ""),
    "cap_Pa": ("cap_pressure", ""),
    "rod_Pa": ("rod_pressure", ""),
    "engine_rpm": ("engine_speed", "rotation"),
    "pump_m3_s": ("pump_flow", ""),
    "return_m3_s": ("return_flow", ""),
    "high_stage": ("stage", ""),
}


def cycle_answer(found: Cycles) -> dict[str, Any]:
    """Answer of ``cycle``: both cycles with their courses."""
    study = found.study
    return {
        **provenance(study),
        "parts": dict(study.fitted),
        "idle": _ran_entry(found.idle),
        "loaded": _ran_entry(found.loaded),
    }


def _ran_entry(ran: Ran) -> dict[str, Any]:
    trace = ran.trace
    return {
        "outcome": trace.outcome,
        "extend_s": plain(trace.extend_time),
        "retract_s": plain(trace.retract_time),
        "reversal_s": plain(trace.reversal_time),
        "total_s": plain(trace.cycle_time),
        "extend_reversal_s": plain(trace.extend_reversal_time),
        "retract_reversal_s": plain(trace.retract_reversal_time),
        "detent_delay_s": plain(trace.detent_delay),
        "highest_pump_Pa": plain(trace.highest_pump_pressure),
        "fast_model": {
            "extend_s": plain(ran.extend_time),
            "retract_s": plain(ran.retract_time),
            "reversal_s": plain(ran.reversal_time),
            "total_s": plain(ran.cycle_time),
        },
        "switches": [{"time_s": plain(one.time), "what": one.what} for one in trace.switches],
        "energy": {
            f"{field.name}_J": plain(getattr(trace.energy, field.name))
            for field in fields(EnergyTotals)
        },
        "course": {
            key: [plain(value) for value in np.asarray(reported(getattr(trace, name), unit))]
            for key, (name, unit) in _COLUMNS.items()
        },
    }


# --- for people ---------------------------------------------------------------------------------


def print_cycle(console: Console, found: Cycles) -> None:
    """Both cycles: times against the fast model, what switched when, and where the work went."""
    study = found.study
    console.print(Text(study.title or study.name, style="bold"))
    console.print(
        "One cycle followed in time (pressures, ram, oil columns, engine), beside the fast model "
        "that check and front use."
    )
    for ran, title in (
        (found.idle, "Without a log"),
        (found.loaded, "Through the mean piece of the wood mix"),
    ):
        console.print()
        _print_ran(console, study, ran, title)
    console.print()
    console.print(Text(CAUTIONS, style="italic"))


def _seconds(value: float, study: Study) -> str:
    return show(value, "time", study.system, 3) if math.isfinite(value) else "no end"


def _print_ran(console: Console, study: Study, ran: Ran, title: str) -> None:
    table = Table(title, "simulated", "fast model", "apart", box=None, pad_edge=False)
    for words, simulated, fast in ran.rows:
        apart = simulated / fast - 1.0
        table.add_row(
            words,
            _seconds(simulated, study),
            _seconds(fast, study),
            f"{100.0 * apart:+.1f} %" if math.isfinite(apart) else "",
        )
    console.print(table)
    for sentence in cycle_sentences(study, ran):
        console.print(Text(sentence))


def cycle_sentences(study: Study, ran: Ran) -> list[str]:
    """How it ended, the reversals, the highest pressure, what switched and where the work went."""
    trace, system = ran.trace, study.system
    said = []
    if trace.outcome != FINISHED:
        said.append(f"The cycle did not end: {trace.outcome}.")
    lost = [trace.extend_reversal_time, trace.retract_reversal_time]
    if all(math.isfinite(seconds) for seconds in lost):
        out, back = (show(seconds, "time", system, 2) for seconds in lost)
        said.append(
            f"The reversal before the out stroke takes {out}, the one before the back stroke "
            f"{back}: spool, oil squeezed, ram started."
        )
    highest = show(trace.highest_pump_pressure, "pressure", system, 3)
    said.append(f"Highest pressure at the pump: {highest}.")
    return [*said, *switch_sentences(study, ran), energy_sentence(ran)]


def switch_sentences(study: Study, ran: Ran) -> list[str]:
    """What switched when: the moments of what came a few times, the count of what came often."""
    switches = ran.trace.switches
    if not switches:
        return ["Nothing switched."]
    moments: dict[str, list[float]] = {}
    for one in switches:
        moments.setdefault(one.what, []).append(one.time)
    if WOOD in moments:
        moments[WOOD] = moments[WOOD][:1]

    def at(time: float) -> str:
        return show(time, "time", study.system, 3)

    told = []
    for what, times in moments.items():
        when = (
            f"at {_listed([at(time) for time in times])}"
            if len(times) <= FEW
            else f"{len(times)} times from {at(times[0])} to {at(times[-1])}"
        )
        told.append(f"{SWITCH_WORDS.get(what, what)} {when}")
    return [_capital("; ".join(told)) + "."]


def _listed(words: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
