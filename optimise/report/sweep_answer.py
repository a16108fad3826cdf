"""The sweep for programs and for spreadsheets."""

from __future__ import annotations

from typing import Any

import numpy as np

from optimise.machine.results import RESULTS, reported, result_named
from optimise.machine.sheet import Sheet, sheet_of
from optimise.report.answers import (
    UNITS_REPORTED,
    machine_entry,
    nested,
    plain,
    provenance,
)
from optimise.report.sweep_words import advice, place_label, roles_of
from optimise.report.tables import CHOSEN, Kept, head_of, inert, result_cells, result_columns
from optimise.search.crossings import Crossing
from optimise.search.goals import CYCLE
from optimise.search.question import Place
from optimise.search.stops import DRAWS, OUTLAY, Doubt, Stop
from optimise.search.sweep import Sweep
from optimise.study.dimensions import Dimension
from optimise.study.space import fitted_machine
from optimise.units import KINDS, convert, unit_of

RULE = (
    "stairs are the machines that keep every hard limit and split a piece quicker than any that "
    "costs no more, the time of pieces that stay whole spread over those that are split; "
    "stop where worth of the seconds off the piece less outlay is largest: the "
    "seconds beyond cost more than a second is worth"
)
KNEE_RULE = (
    "stair furthest under the straight line from the first to the last, time per piece over "
    "outlay, both axes scaled to that span"
)
KEYS = (
    "cycle.extend_s",
    "cycle.retract_s",
    "cycle.reversal_s",
    CYCLE,
    "cycle.loaded_total_s",
    "force_N",
    "work.pieces_per_h",
    "work.piece_period_s",
    "work.split_period_s",
    "work.counted_s",
    "work.hidden_s",
    "work.waited_s",
    "work.wood_m3_s",
    "work.fuel_kg_m3",
    "work.cost_per_m3",
    "cost.outlay",
)
"""Results of a point."""


def _dimension_entry(dimension: Dimension) -> dict[str, Any]:
    entry: dict[str, Any] = {"key": dimension.key}
    if dimension.values is None:
        return {**entry, "names": list(dimension.names)}
    numbers = np.asarray(reported(dimension.values, dimension.kind))
    return {
        **entry,
        "unit": UNITS_REPORTED.get(dimension.kind, KINDS[dimension.kind].si_unit),
        "values": [plain(value) for value in numbers],
    }


def _at(dimension: Dimension, nth: int) -> Any:
    if dimension.values is None:
        return dimension.names[nth]
    return plain(reported(dimension.values[nth], dimension.kind))


def _results_entry(sheet: Sheet, place: Place) -> dict[str, Any]:
    return nested(
        {key: plain(reported(sheet.results[key][place], result_named(key).unit)) for key in KEYS}
    )


def chosen_places(found: Sweep) -> dict[Place, str]:
    """Points to look at first, in words: where to stop, or the quickest that keeps every limit."""
    chosen: dict[Place, list[str]] = {}
    for stop in found.stops:
        for nth, roles in roles_of(stop, stop.second_worth).items():
            place = stop.stairs[nth]
            if place is not None:
                chosen.setdefault(place, []).extend(roles)
    if not found.stops and found.quickest is not None:
        chosen[found.quickest] = ["quickest"]
    return {
        place: f"{place_label(found, place)} ({', '.join(roles)})"
        for place, roles in chosen.items()
    }


def _whole_entry(found: Sweep, place: Place | None) -> dict[str, Any]:
    """Whole entry of a point; of the machine asked about where it is None."""
    parts = dict(found.study.fitted)
    if place is None:
        asked = sheet_of(fitted_machine(found.study), found.study.setting)
        return machine_entry(parts, asked, ())
    for dimension, nth in zip(found.dimensions, place, strict=True):
        if dimension.of_parts:
            parts[dimension.key] = dimension.names[nth]
    return machine_entry(parts, found.sheet, place)


def sweep_answer(found: Sweep) -> dict[str, Any]:
    """Answer of ``sweep``."""
    least, binding = found.sheet.least_margin, found.sheet.binding
    feasible = found.sheet.feasible
    saved = found.saved
    shorter = found.bases.results[CYCLE] - found.sheet.results[CYCLE]
    spent = found.sheet.results[OUTLAY] - found.bases.results[OUTLAY]
    return {
        **provenance(found.study),
        "parts": dict(found.study.fitted),
        "machine": _whole_entry(found, None),
        "chosen": [
            {
                "label": label,
                "at": _place_entry(found, place),
                "machine": _whole_entry(found, place),
            }
            for place, label in chosen_places(found).items()
        ],
        "dimensions": [_dimension_entry(dimension) for dimension in found.dimensions],
        "points": [
            {
                "at": [
                    _at(dimension, nth)
                    for dimension, nth in zip(found.dimensions, place, strict=True)
                ],
                **_results_entry(found.sheet, place),
                "useful_saved_s": plain(saved[place]),
                "cycle_saved_s": plain(shorter[place]),
                "saved_s_per_money": plain(saved[place] / spent[place])
                if spent[place] > 0.0
                else None,
                "feasible": bool(feasible[place]),
                "limits_min_margin": plain(least[place]),
                "binding": str(binding[place]),
                "crossed": [limit.name for limit in found.crossed(place)],
                "crossed_advisory": [limit.name for limit in found.crossed(place, "advisory")],
            }
            for place in np.ndindex(found.shape)
        ],
        "crossings": [_crossing_entry(found, one) for one in found.crossings],
        "rule": RULE,
        "knee_rule": KNEE_RULE,
        "stops": [_stop_entry(found, stop) for stop in found.stops],
        "quickest_kept": None if found.kept is None else plain(found.kept),
        "advice": advice(found),
    }


def _crossing_entry(found: Sweep, one: Crossing) -> dict[str, Any]:
    dimension = found.dimensions[one.dimension]
    return {
        "limit": one.limit.name,
        "title": one.limit.title,
        "kind": one.limit.kind,
        "key": dimension.key,
        "value": plain(reported(one.value, dimension.kind)),
        "unit": UNITS_REPORTED.get(dimension.kind, KINDS[dimension.kind].si_unit),
        "kept": "below" if one.kept_below else "above",
        "elsewhere": {
            other.key: _at(other, one.before[place])
            for place, other in enumerate(found.dimensions)
            if place != one.dimension
        },
        "interpolated": not one.exact,
    }


def _place_entry(found: Sweep, place: Place | None) -> list[Any] | None:
    """Point of a stair; None for the machine asked about where it is none of the points."""
    if not place:
        return None
    return [_at(one, nth) for one, nth in zip(found.dimensions, place, strict=True)]


def _doubt_entry(found: Sweep, doubt: Doubt | None) -> dict[str, Any] | None:
    if doubt is None:
        return None
    return {
        "draws": DRAWS,
        "same_share": doubt.share,
        "chosen": [
            {"at": _place_entry(found, place), "share": share}
            for place, share in zip(doubt.places, doubt.shares, strict=True)
        ],
    }


def _stop_entry(found: Sweep, stop: Stop) -> dict[str, Any]:
    stated = stop.second_worth > 0.0 and bool(stop.stairs)
    return {
        "elsewhere": {
            found.dimensions[place].key: _at(found.dimensions[place], nth)
            for place, nth in stop.line.items()
        },
        "second_worth": plain(stop.second_worth),
        "stairs": [
            {
                "at": _place_entry(found, place),
                "outlay": plain(stop.outlays[nth]),
                "split_period_s": plain(stop.periods[nth]),
                "money_per_s": plain(stop.prices[nth]),
                "s_per_money": plain(1.0 / stop.prices[nth]) if stop.prices[nth] else None,
            }
            for nth, place in enumerate(stop.stairs)
        ],
        "worth_stair": stop.worth_stair if stated else None,
        "worth_doubt": _doubt_entry(found, stop.worth_doubt) if stated else None,
        "saved_s_range": [plain(one) for one in stop.saved[[0, 2]]]
        if stated and stop.saved is not None
        else None,
        "all_kept_chance": stop.kept if stated else None,
        "next_money_per_s": plain(stop.next_price) if stated else None,
        "knee_stair": stop.knee_stair if stop.bends else None,
        "knee_doubt": _doubt_entry(found, stop.knee_doubt) if stop.bends else None,
    }


def sweep_table(found: Sweep) -> Kept:
    """Every point a row: dimensions, all results in the study's units, seconds saved, limits."""
    system = found.study.system
    writer = Kept.of(found.study)

    def head(dimension: Dimension) -> str:
        unit = "" if dimension.values is None else unit_of(dimension.kind, system)
        return f"{dimension.key} [{unit}]" if unit else dimension.key

    chosen = chosen_places(found)
    writer.writerow(
        [
            *(head(one) for one in found.dimensions),
            *(head_of(result, system) for result in RESULTS),
            "Off every piece [s]",
            "Hard limits crossed",
            "Advisory limits crossed",
            CHOSEN,
        ]
    )
    columns = result_columns(found.sheet, system)
    for place in np.ndindex(found.shape):
        at = [
            inert(one.names[nth])
            if one.values is None
            else f"{convert(float(one.values[nth]), one.kind, system):.6g}"
            for one, nth in zip(found.dimensions, place, strict=True)
        ]
        crossed = [
            " ".join(limit.name for limit in found.crossed(place, kind))
            for kind in ("hard", "advisory")
        ]
        saved = f"{float(found.saved[place]):.6g}"
        words = [*crossed, chosen.get(place, "")]
        writer.writerow([*at, *result_cells(columns, place), saved, *map(inert, words)])
    return writer
