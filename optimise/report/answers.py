"""Answers for programs: plain dictionaries in SI, the unit in the last word of a key."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from optimise import __version__
from optimise.machine.results import RESULTS, reported
from optimise.machine.sheet import LimitReading, Sheet
from optimise.search.alike import apart
from optimise.search.chances import DRAWS
from optimise.search.front import FrontAnswer
from optimise.search.knowledge import Knowledge
from optimise.search.priors import NAMES
from optimise.search.ranges import DRIVEN, Ranges
from optimise.search.sureness import CYCLE, Sureness
from optimise.search.uncertainty import LEVEL_SHARE
from optimise.study.model import Study
from optimise.study.space import Space
from optimise.units import KINDS

UNITS_REPORTED = {"temperature": "degC", "rotation": "rpm"}
"""Units of the kinds that are not reported in SI."""


def plain(value: Any) -> float | None:
    """Number as JSON can hold it: None where it is not finite."""
    number = float(value)
    return number if math.isfinite(number) else None


def nested(flat: dict[str, Any]) -> dict[str, Any]:
    """Dictionary with dotted keys laid out as dictionaries in dictionaries."""
    found: dict[str, Any] = {}
    for key, value in flat.items():
        *way, last = key.split(".")
        place = found
        for step in way:
            place = place.setdefault(step, {})
        place[last] = value
    return found


def limit_entry(reading: LimitReading, lane: tuple[int, ...] = ()) -> dict[str, Any]:
    """One limit of one machine; ``lane`` picks it where the readings are columns."""
    limit = reading.limit
    return {
        "name": limit.name,
        "title": limit.title,
        "value": plain(reported(reading.value[lane], limit.unit)),
        "sense": limit.sense,
        "bound": plain(reported(reading.bound[lane], limit.unit)),
        "margin": plain(reading.margin[lane]),
        "unit": UNITS_REPORTED.get(limit.unit, KINDS[limit.unit].si_unit),
        "kind": limit.kind,
        "ok": bool(reading.kept[lane]),
        "source": limit.source,
        "advice": limit.advice,
    }


def written_path(path: Path) -> str:
    """Where something is, from any working folder; signs that are no letters become question marks.

    Examples
    --------
    >>> written_path(Path("/home/mill/study"))
    '/home/mill/study'
    """
    whole = os.path.abspath(path)  # noqa: PTH100 - links keep their own name
    return whole.encode("utf-8", "replace").decode("utf-8")


def provenance(study: Study) -> dict[str, Any]:
    """What an answer was made from and by."""
    return {
        "study": study.name,
        "folder": written_path(study.folder),
        "changes": list(study.changes),
        "fingerprint": study.fingerprint,
        "price_date": study.price_date,
        "currency": study.currency,
        "units": study.system,
        "version": __version__,
        "constants": constants_used(study),
    }


def constants_used(study: Study) -> dict[str, Any]:
    """Which constants the point values of an answer were worked out with."""
    values = {name: plain(getattr(study.setting.constants, name)) for name in NAMES}
    return {"from": "measurements" if study.corrected else "study", **values}


def range_entries(ranges: Ranges | None) -> dict[str, Any]:
    """Intervals beside the plain keys of ``check``, what they rest on and what drives the cycle."""
    if ranges is None:
        return {"intervals": {}, "drivers": []}
    units = {result.key: result.unit for result in RESULTS}
    intervals = {
        key: {"low": plain(reported(low, units[key])), "high": plain(reported(high, units[key]))}
        for key, (low, high) in ranges.intervals.items()
    }
    return {
        "intervals": intervals,
        "interval_level": LEVEL_SHARE,
        "intervals_from": ranges.knowledge.source,
        "why_not_from_measurements": ranges.knowledge.why_not,
        "draws": ranges.draws,
        "probability_all_hard_limits": ranges.all_kept,
        "drivers": [
            {"name": driver.name, "of": DRIVEN, "share": driver.share} for driver in ranges.drivers
        ],
    }


def machine_entry(
    parts: Mapping[str, str], sheet: Sheet, lane: tuple[int, ...] = ()
) -> dict[str, Any]:
    """One machine: parts, results and limits; ``lane`` picks it where the sheet has columns."""
    results = {
        result.key: plain(reported(sheet.results[result.key][lane], result.unit))
        for result in RESULTS
    }
    return {
        "parts": dict(parts),
        **nested(results),
        "feasible": bool(np.asarray(sheet.feasible)[lane]),
        "binding": str(np.asarray(sheet.binding)[lane]),
        "limits": [limit_entry(reading, lane) for reading in sheet.limits],
    }


def check_answer(study: Study, sheet: Sheet, ranges: Ranges | None = None) -> dict[str, Any]:
    """Answer of ``check``: one machine's results and limits, with ranges where there are any."""
    chances = {} if ranges is None else ranges.chances
    machine = machine_entry(study.fitted, sheet)
    limits = [{**entry, "probability": chances.get(entry["name"])} for entry in machine["limits"]]
    return {**provenance(study), **machine, "limits": limits, **range_entries(ranges)}


def sureness_entry(sureness: Sureness | None, lane: int) -> dict[str, Any]:
    """Range and chances of one design; nothing where they are not known."""
    if sureness is None:
        return {}
    return {
        "intervals": {
            CYCLE: {"low": plain(sureness.low[lane]), "high": plain(sureness.high[lane])}
        },
        "probability": {
            "all_hard_limits": plain(sureness.all_kept[lane]),
            "least": plain(sureness.least[lane]),
            "least_limit": str(sureness.least_limit[lane]),
        },
    }


def design_entries(
    space: Space, answer: FrontAnswer, sureness: Sureness | None = None
) -> list[dict[str, Any]]:
    """Designs of a front: parts, objectives, least margin and the limit that has it."""
    if len(answer.indices) == 0:
        return []
    least, binding = answer.sheet.least_margin, answer.sheet.binding
    return [
        {
            "parts": space.names(row),
            "objectives": {
                key: plain(answer.sheet.results[key][lane]) for key in answer.objectives
            },
            "limits_min_margin": plain(least[lane]),
            "binding": str(binding[lane]),
            **sureness_entry(sureness, lane),
        }
        for lane, row in enumerate(answer.indices)
    ]


def front_answer(
    study: Study,
    space: Space,
    answer: FrontAnswer,
    knowledge: Knowledge,
    sureness: Sureness | None = None,
    near: tuple[float, float] | None = None,
) -> dict[str, Any]:
    """Answer of ``front``; with ``near``, which designs stand for those that are nearly alike."""
    view = None if near is None or len(answer.indices) == 0 else apart(answer, *near)
    return {
        **provenance(study),
        "intervals_from": knowledge.source,
        "why_not_from_measurements": knowledge.why_not,
        "draws": DRAWS,
        "sure": None
        if answer.chances is None
        else {
            "chance": answer.chances.least,
            "draws": answer.chances.draws,
            "draws_needed": answer.chances.needed,
            "seed": answer.chances.seed,
            "meaning": answer.chances.meaning,
        },
        "objectives": list(answer.objectives),
        "proven": answer.proven,
        "why_not_proven": answer.why_not,
        "designs_in_space": answer.designs_in_space,
        "designs_evaluated": answer.designs_evaluated,
        "seconds": answer.seconds,
        "designs": design_entries(space, answer, sureness),
        "apart": None
        if view is None
        else {
            "time_s": view.time,
            "price_share": view.share,
            "shown": view.shown.tolist(),
            "stand_in": view.stand_in.tolist(),
        },
        "blocking": [
            {"name": block.name, "crossed": block.crossed, "alone": block.alone}
            for block in answer.blocking
        ],
        "nearest": [space.names(np.asarray(row)) for row in answer.nearest]
        if len(answer.indices) == 0
        else [],
    }
