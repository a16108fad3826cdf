"""Ranges, chances and what drives them, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from optimise.machine.sheet import Sheet
from optimise.search.ranges import DRIVEN, SMALL, Ranges
from optimise.study.model import Study
from optimise.units import System, show


def chance_words(chance: float, draws: int) -> str:
    """Chance as a person reads it: what never happened in n draws may still have a chance of 3/n.

    Hanley and Lippman-Hand, JAMA 249 (1983), 1743.
    """
    if chance >= 1.0:
        return f"> {math.floor(100.0 * (1.0 - 3.0 / draws))} %"
    if chance <= 0.0:
        return f"< {math.ceil(300.0 / draws)} %"
    return f"{min(max(100.0 * chance, 1.0), 99.0):.0f} %"


def between(low: float, high: float, unit: str, system: System) -> str:
    """Ends of a range with their unit, three digits each."""
    if not (np.isfinite(low) and np.isfinite(high)):
        return "unknown: some draws have no answer"
    return f"{show(low, unit, system, 3)} to {show(high, unit, system, 3)}"


DRIVER_WORDS = {
    "constants as fitted": "how well the measurements pin the model down",
    "leakage_factor": "the pump's wear",
    "speed_factor": "the pump's real flow",
    "loss_factor": "losses of hoses, fittings and valve",
    "seal_pressure": "friction of the seals",
    "reversal_factor": "time of the reversals",
    "model error, out stroke": "the model's own error of the out stroke",
    "model error, back stroke": "the model's own error of the back stroke",
    "governor": "the governor's setting",
}


def driver_sentence(ranges: Ranges) -> str:
    """Say what drives the range of the cycle time; "" where nothing does."""
    large = [driver for driver in ranges.drivers if driver.share >= SMALL][:3]
    if not large:
        return ""
    named = [
        f"{DRIVER_WORDS.get(driver.name, 'tolerance of ' + driver.name)} "
        f"({100.0 * driver.share:.0f} %)"
        for driver in large
    ]
    return "The range of the cycle time comes mostly from " + _joined(named) + "."


def _joined(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def range_sentences(study: Study, sheet: Sheet, ranges: Ranges | None) -> list[str]:
    """What ranges and chances rest on, and what they say."""
    if ranges is None:
        return ["No ranges: a constant of the study is outside what a range can be given to."]
    knowledge = ranges.knowledge
    said = [
        "Ranges hold in 9 cases of 10, by the study's measurements on the machine owned and by "
        "tolerances of parts."
        if knowledge.source == "measurements"
        else "Ranges hold in 9 cases of 10, by what the trade knows of such machines and by "
        f"tolerances of parts, not by measurements: {knowledge.why_not}"
        + ("" if knowledge.why_not.endswith(".") else ".")
    ]
    low, high = ranges.intervals.get(DRIVEN, (-np.inf, np.inf))
    if not study.corrected and not low <= float(sheet.results[DRIVEN]) <= high:
        said.append(
            "The measurements put the cycle time outside its plain value; --fitted uses the "
            "constants that fit them."
        )
    chance = chance_words(ranges.all_kept, ranges.draws)
    said.append(f"Chance that all hard limits are kept: {chance}.")
    return [*said, *filter(None, [driver_sentence(ranges)])]
