"""The sweep in words, tables and dictionaries: what varies, what it brings, where to stop."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.machine.limits import Limit
from optimise.machine.results import RESULTS, reported, result_named
from optimise.machine.sheet import Sheet
from optimise.report.answers import (
    UNITS_REPORTED,
    constants_used,
    nested,
    plain,
    provenance,
)
from optimise.report.doubt import chance_words
from optimise.report.tables import Kept, inert
from optimise.report.text import CAUTIONS, inside, money, opening, written
from optimise.search.sweep import (
    DRAWS,
    LEAST_GAIN,
    OUTLAY,
    PERIOD,
    Crossing,
    Doubt,
    Place,
    Stop,
    Sweep,
)
from optimise.study.dimensions import Dimension
from optimise.units import KINDS, convert, show, unit_of

FORCE, UNSPLIT = "force_N", "work.unsplit_share"
RULE = (
    "stairs are the machines that keep every hard limit and split a piece quicker than any that "
    "costs no more; stop where worth of the seconds off the piece less outlay is largest: the "
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
    "cycle.total_s",
    "cycle.loaded_total_s",
    "force_N",
    "work.pieces_per_h",
    "work.piece_period_s",
    "work.counted_s",
    "work.hidden_s",
    "work.waited_s",
    "work.wood_m3_s",
    "work.fuel_kg_m3",
    "work.cost_per_m3",
    "cost.outlay",
)
"""Results of a point."""
_SHOWN = (
    ("out", "cycle.extend_s"),
    ("back", "cycle.retract_s"),
    ("cycle", "cycle.total_s"),
    ("force", "force_N"),
    ("pieces/h", "work.pieces_per_h"),
)
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
SURE = 0.5
"""Share of the draws that must choose a machine before it is recommended without a warning."""
_NAMED_CROSSINGS = 12


def _seconds(found: Sweep, seconds: float) -> str:
    return show(seconds, "time", found.study.system, 3)


def place_label(found: Sweep, place: Place | None) -> str:
    """A point in words, all its dimensions."""
    if not place:
        return "the machine as it is"
    return ", ".join(
        _point(dimension, nth, found)
        for dimension, nth in zip(found.dimensions, place, strict=True)
    )


def _point(dimension: Dimension, nth: int, found: Sweep) -> str:
    shown = dimension.label(nth, found.study.system)
    return shown if dimension.of_parts else f"{name_of(dimension)} {shown}"


def name_of(dimension: Dimension) -> str:
    """Name of what varies."""
    if dimension.category or dimension.spec is None:
        return " ".join(dimension.steps).replace("_", " ")
    return dimension.spec.title


def on_now(found: Sweep, place: Place | None) -> bool:
    """Whether a point is the machine asked about."""
    if not place:
        return True
    return all(
        not dimension.of_parts or found.study.fitted[dimension.key] == dimension.names[nth]
        for dimension, nth in zip(found.dimensions, place, strict=True)
    )


def paying_hours(found: Sweep) -> str:
    """Hours in which an upgrade has to have paid."""
    return f"{found.study.money.payback_time / 3600.0:,.0f} hours of splitting"


def marks_of(found: Sweep) -> dict[str, str]:
    """Letter of each limit that is crossed somewhere; small ones for those that are advisory."""
    marks: dict[str, str] = {}
    for kind, letters in (("hard", _LETTERS), ("advisory", _LETTERS.lower())):
        crossed = [
            reading.limit.name
            for reading in found.sheet.limits
            if reading.limit.kind == kind and not reading.kept.all()
        ]
        marks.update(
            (name, letters[nth] if nth < len(letters) else f"{letters[nth % 26]}{nth // 26}")
            for nth, name in enumerate(crossed)
        )
    return marks


def marks_at(found: Sweep, marks: dict[str, str], place: Place) -> str:
    """Letters of the limits that a point crosses."""
    limits = [*found.crossed(place), *found.crossed(place, "advisory")]
    return " ".join(marks[limit.name] for limit in limits)


# --- sentences ----------------------------------------------------------------------------------


def advice(found: Sweep) -> list[str]:
    """One or two sentences that a builder can act on."""
    if found.stops:
        return _advice_on_parts(found)
    if len(found.dimensions) == 1 and found.dimensions[0].values is not None:
        return _advice_on_numbers(found)
    return _advice_on_points(found)


def _advice_on_parts(found: Sweep) -> list[str]:
    stops = found.stops
    groups: dict[str, list[str]] = {}
    for stop in stops:
        chosen = stop_label(found, stop)
        groups.setdefault(chosen, []).append(_line_label(found, stop))
    if len(groups) == 1:
        said = _stop_sentences(found, stops[0])
        if len(stops) > 1 and stops[0].stairs:
            said[0] += f" It is the same at every {_line_words(found)} of the sweep."
        return said
    places = "; ".join(
        f"{chosen} at {_ends(labels)}" for chosen, labels in list(groups.items())[:4]
    )
    return [f"Where to stop depends on the {_line_words(found)}: {places}."]


def _ends(labels: Sequence[str]) -> str:
    return labels[0] if len(labels) == 1 else f"{labels[0]} to {labels[-1]}"


def _line_words(found: Sweep) -> str:
    return " and ".join(name_of(found.dimensions[place]) for place in found.stops[0].line)


def _line_label(found: Sweep, stop: Stop) -> str:
    return ", ".join(
        found.dimensions[place].label(nth, found.study.system) for place, nth in stop.line.items()
    )


def parts_label(found: Sweep, place: Place | None) -> str:
    """Whole parts of a point in words."""
    if not place:
        return "the machine as it is"
    return ", ".join(
        dimension.names[nth]
        for dimension, nth in zip(found.dimensions, place, strict=True)
        if dimension.of_parts
    )


def stop_label(found: Sweep, stop: Stop) -> str:
    """Parts to stop at."""
    if not stop.stairs:
        return "no machine that keeps every hard limit"
    nth = stop.worth_stair if stop.second_worth > 0.0 else stop.knee_stair
    return parts_label(found, stop.stairs[nth])


def _stop_sentences(found: Sweep, stop: Stop) -> list[str]:
    what = " and ".join(name_of(one) for one in found.dimensions if one.of_parts)
    if not stop.stairs:
        return ["No machine of this sweep keeps every hard limit.", *_most_in_the_way(found)]
    if stop.second_worth <= 0.0:
        bend = stop.knee_stair
        return [
            f"The curve of time over money bends most at {parts_label(found, stop.stairs[bend])} "
            f"({money(found.study, float(stop.outlays[bend]))}); say what a saved hour is worth "
            "(money.hourly_worth), and it says where to stop."
        ]
    best = stop.worth_stair
    place = stop.stairs[best]
    base = base_of(found, stop)
    worth = f"worth {money(found.study, stop.second_worth)} over {paying_hours(found)}"
    saved = base["period"] - float(stop.periods[best])
    outlay = float(stop.outlays[best]) - base["outlay"]
    if on_now(found, place):
        if np.isfinite(stop.next_price):
            following = parts_label(found, stop.stairs[stop.next_stair])
            return [
                f"Leave the {what} as it is: with {following} a second off every piece would cost "
                f"{money(found.study, stop.next_price)}, and it is {worth}."
            ]
        return [
            f"Leave the {what} as it is: nothing in this sweep that keeps every hard limit splits "
            "a piece sooner.",
            *_beyond(found, stop),
        ]
    if outlay > 0.0 and saved > 0.0:
        price = (
            f"for {money(found.study, outlay)}, {money(found.study, outlay / saved)} a second, "
            f"where a second is {worth}"
        )
    else:
        price = (
            "and costs nothing more"
            if outlay == 0.0
            else f"and brings {money(found.study, -outlay)}"
        )
    doubt = stop.worth_doubt
    if doubt is None or doubt.share >= SURE:
        lead, mind = f"Put on {parts_label(found, place)}: it", ""
    else:
        lead = f"By the plain numbers {parts_label(found, place)}"
        mind = (
            f" Do not buy on that alone: only {chance_words(doubt.share, DRAWS)} of {DRAWS} draws "
            "of what is not known stop there; readings (ramfront fit) make it surer."
        )
    first = f"{lead} takes {_seconds(found, saved)} off every piece {price}.{mind}"
    if saved < 0.0:
        first = (
            f"{lead} brings {money(found.study, -outlay)} and takes {_seconds(found, -saved)} more "
            f"for every piece, where a second is {worth}.{mind}"
        )
    if np.isfinite(stop.next_price):
        following = parts_label(found, stop.stairs[stop.next_stair])
        return [
            first,
            *_weaker(found, stop, place),
            f"Stop there: with {following} the next second costs "
            f"{money(found.study, stop.next_price)}.",
        ]
    return [
        first,
        *_weaker(found, stop, place),
        *(_beyond(found, stop) or ["Nothing in this sweep is quicker."]),
    ]


def _weaker(found: Sweep, stop: Stop, place: Place | None) -> list[str]:
    """What the machine to stop at loses in force; nothing where it is as strong."""
    if place is None:
        return []
    system, base, results = found.study.system, base_of(found, stop), found.sheet.results
    force, unsplit = (float(results[key][place]) for key in (FORCE, UNSPLIT))
    if force >= base["force"] * (1.0 - 1e-6):
        return []
    return [
        f"Mind the force: it falls from {show(base['force'], 'force', system, 3)} to "
        f"{show(force, 'force', system, 3)}, and pieces that it cannot split go from "
        f"{show(base['unsplit'], 'share', system, 3)} to {show(unsplit, 'share', system, 3)}."
    ]


def base_of(found: Sweep, stop: Stop) -> dict[str, float]:
    """Figures of the machine asked about at the stop's point of the other dimensions."""
    place = tuple(
        nth if size > 1 else 0
        for nth, size in zip(
            [stop.line.get(axis, 0) for axis in range(len(found.dimensions))],
            found.bases.results[PERIOD].shape,
            strict=True,
        )
    )
    return {
        "period": float(found.bases.results[PERIOD][place]),
        "outlay": float(found.bases.results[OUTLAY][place]),
        "cycle": float(found.bases.results["cycle.total_s"][place]),
        "force": float(found.bases.results[FORCE][place]),
        "unsplit": float(found.bases.results[UNSPLIT][place]),
    }


def _on_line(stop: Stop, place: Place) -> bool:
    return all(place[axis] == nth for axis, nth in stop.line.items())


def _beyond(found: Sweep, stop: Stop) -> list[str]:
    """What stops the quicker machines, or that the hands do."""
    best = float(stop.periods[stop.worth_stair])
    periods = found.sheet.results[PERIOD]
    quicker = [
        place
        for place in np.ndindex(found.shape)
        if _on_line(stop, place) and periods[place] < best - LEAST_GAIN
    ]
    if quicker:
        place = min(quicker, key=lambda one: (len(found.crossed(one)), float(periods[one])))
        limits = found.crossed(place)
        return [
            f"{parts_label(found, place)} would take another "
            f"{_seconds(found, best - float(periods[place]))} off, but crosses "
            f"{_limit_words(limits)}: {inside(_worst(found, place, limits).advice)}"
        ]
    cycles = found.sheet.results["cycle.total_s"]
    base = base_of(found, stop)
    shorter = [
        place
        for place in np.ndindex(found.shape)
        if _on_line(stop, place)
        and found.sheet.feasible[place]
        and cycles[place] < base["cycle"] - LEAST_GAIN
    ]
    if shorter:
        place = min(shorter, key=lambda one: float(cycles[one]))
        return [
            f"{parts_label(found, place)} shortens the cycle by "
            f"{_seconds(found, base['cycle'] - float(cycles[place]))}, but the hands are not ready "
            "sooner: quicken the handling first."
        ]
    return []


def _limit_words(limits: Sequence[Limit]) -> str:
    titles = [inside(limit.title) for limit in limits]
    more = f" and {len(titles) - 2} more" if len(titles) > 2 else ""
    return " and ".join(titles[:2]) + more if not more else ", ".join(titles[:2]) + more


def _worst(found: Sweep, place: Place, limits: Sequence[Limit]) -> Limit:
    margins = {
        reading.limit.name: float(np.nan_to_num(reading.margin[place], nan=-np.inf))
        for reading in found.sheet.limits
    }
    return min(limits, key=lambda limit: margins[limit.name])


def _most_in_the_way(found: Sweep) -> list[str]:
    """The hard limit that stops most points, and what to change."""
    counts = [
        (int((~reading.kept).sum()), reading.limit)
        for reading in found.sheet.limits
        if reading.limit.kind == "hard"
    ]
    most, limit = max(counts, key=lambda one: one[0])
    total = int(np.prod(found.shape))
    if most == 0:
        return []
    return [f"{limit.title} is crossed at {most} of {total} points: {inside(limit.advice)}"]


def _advice_on_numbers(found: Sweep) -> list[str]:
    """One dimension of numbers: how far it may go, and what that is worth."""
    dimension = found.dimensions[0]
    system = found.study.system
    periods, feasible = found.sheet.results[PERIOD], found.sheet.feasible
    name = name_of(dimension)
    values = dimension.values
    assert values is not None
    low, high = (dimension.shown(values[nth], system) for nth in (0, -1))
    if not feasible.any():
        return [
            f"From {low} to {high} no {name} keeps every hard limit.",
            *_most_in_the_way(found),
        ]
    best = int(np.argmin(np.where(feasible, periods, np.inf)))
    stops = [one for one in found.crossings if one.limit.kind == "hard"]
    above = [one for one in stops if one.before[0] >= best and one.kept_below]
    below = [one for one in stops if one.before[0] < best and not one.kept_below]
    edges = []
    if above:
        edge = min(above, key=lambda one: one.value)
        edges.append(
            f"above {dimension.shown(edge.value, system)} {inside(edge.limit.title)} is crossed "
            f"({inside(edge.limit.advice.rstrip('.'))})"
        )
    if below:
        edge = max(below, key=lambda one: one.value)
        edges.append(
            f"below {dimension.shown(edge.value, system)} {inside(edge.limit.title)} is crossed "
            f"({inside(edge.limit.advice.rstrip('.'))})"
        )
    if dimension.of_setting:
        first = (
            f"With {name} from {low} to {high} the time per piece goes from "
            f"{_seconds(found, float(periods[0]))} to {_seconds(found, float(periods[-1]))}."
        )
        if not edges:
            return [first, "Every hard limit is kept all the way."]
        return [first, f"Keep inside: {', and '.join(edges)}."]
    saved = float(found.saved[best])
    at = dimension.shown(values[best], system)
    if saved <= LEAST_GAIN:
        first = (
            f"No {name} from {low} to {high} within the hard limits splits a piece sooner than now."
        )
        shorter = found.bases.results["cycle.total_s"] - found.sheet.results["cycle.total_s"]
        if bool((shorter[feasible] > LEAST_GAIN).any()):
            first += " The cycle gets shorter, but the hands are not ready sooner."
    else:
        first = (
            f"The best {name} within every hard limit is {at}: {_seconds(found, saved)} off every "
            "piece"
        )
        worth = saved * float(found.bases.results["work.second_worth"][0])
        first += (
            f", worth {money(found.study, worth)} over {paying_hours(found)}; a part like it may "
            "cost no more."
            if worth > 0.0
            else "."
        )
    return [first, *([f"{opening(', and '.join(edges))}."] if edges else [])]


def _advice_on_points(found: Sweep) -> list[str]:
    """Points without a price of their own: the quickest that keeps every hard limit."""
    periods, feasible = found.sheet.results[PERIOD], found.sheet.feasible
    total = int(np.prod(found.shape))
    if not feasible.any():
        return ["No point of this sweep keeps every hard limit.", *_most_in_the_way(found)]
    best = np.unravel_index(int(np.argmin(np.where(feasible, periods, np.inf))), found.shape)
    place = tuple(int(nth) for nth in best)
    first = (
        f"{int(feasible.sum())} of {total} points keep every hard limit; the quickest of them is "
        f"{place_label(found, place)}, with {_seconds(found, float(periods[place]))} per piece."
    )
    return [first, *_most_in_the_way(found)]


def doubt_sentences(found: Sweep, stop: Stop) -> list[str]:
    """The second opinion, and how sure both points are."""
    if len(stop.stairs) < 2:
        return []
    said = []
    if stop.second_worth > 0.0 and stop.worth_doubt is not None:
        said.append(_doubt_words(found, "Where to stop by worth", stop.worth_doubt))
        if stop.saved is not None and not on_now(found, stop.stairs[stop.worth_stair]):
            low, _, high = (_seconds(found, float(one)) for one in stop.saved)
            said.append(f"It takes {low} to {high} off every piece in 9 cases of 10.")
        if stop.kept is not None:
            said.append(
                f"It keeps every hard limit in {chance_words(stop.kept, DRAWS)} of the draws."
            )
    bend = stop.stairs[stop.knee_stair]
    words = f"Second opinion: the curve bends most at {parts_label(found, bend)}"
    if stop.knee_doubt is None:
        said.append(f"{words}.")
    else:
        said.append(f"{words}. " + _doubt_words(found, "That", stop.knee_doubt))
    return said


def _doubt_words(found: Sweep, what: str, doubt: Doubt) -> str:
    words = (
        f"{what} comes out the same in {chance_words(doubt.share, DRAWS)} of {DRAWS} draws of what "
        "is not known"
    )
    others = [
        f"{parts_label(found, place)} {chance_words(part, DRAWS)}"
        for place, part in zip(doubt.places, doubt.shares, strict=True)
    ]
    if len(others) > 1:
        words += f" ({'; '.join(others)})"
    return words + "."


# --- for programs -------------------------------------------------------------------------------


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


def sweep_answer(found: Sweep) -> dict[str, Any]:
    """Answer of ``sweep``."""
    least, binding = found.sheet.least_margin, found.sheet.binding
    feasible = found.sheet.feasible
    saved = found.saved
    shorter = found.bases.results["cycle.total_s"] - found.sheet.results["cycle.total_s"]
    spent = found.sheet.results[OUTLAY] - found.bases.results[OUTLAY]
    return {
        **provenance(found.study),
        "constants": constants_used(found.study),
        "parts": dict(found.study.fitted),
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
                "piece_period_s": plain(stop.periods[nth]),
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
        "knee_stair": stop.knee_stair if stop.stairs else None,
        "knee_doubt": _doubt_entry(found, stop.knee_doubt),
    }


def sweep_table(found: Sweep) -> Kept:
    """Every point a row: dimensions, all results in the study's units, seconds saved, limits."""
    system = found.study.system
    writer = Kept.of(found.study)

    def head(title: str, kind: str) -> str:
        unit = unit_of(kind, system)
        return f"{title} [{unit}]" if unit else title

    writer.writerow(
        [
            *(
                one.key if one.values is None else head(one.key, one.kind)
                for one in found.dimensions
            ),
            *(head(result.title, result.unit) for result in RESULTS),
            "Off every piece [s]",
            "Hard limits crossed",
            "Advisory limits crossed",
        ]
    )
    columns = [convert(found.sheet.results[result.key], result.unit, system) for result in RESULTS]
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
        values = [f"{float(column[place]):.6g}" for column in columns]
        writer.writerow([*at, *values, f"{float(found.saved[place]):.6g}", *map(inert, crossed)])
    return writer


# --- for people ---------------------------------------------------------------------------------


def print_sweep(console: Console, found: Sweep) -> None:
    """The curve or the field of points, limits crossed on the way, and where to stop."""
    console.print(Text(found.study.title or found.study.name, style="bold"))
    if len(found.dimensions) == 1:
        _print_curve(console, found)
    else:
        _print_field(console, found)
    told: set[str] = set()
    for stop in found.stops:
        chosen = stop_label(found, stop)
        if len(stop.stairs) > 1 and chosen not in told:
            _print_stairs(console, found, stop)
        told.add(chosen)
    if len(found.stops) == 1:
        for sentence in doubt_sentences(found, found.stops[0]):
            console.print(Text(sentence))
    for sentence in advice(found):
        console.print(Text(sentence, style="bold"))
    console.print(Text(CAUTIONS, style="italic"))


def _print_legend(console: Console, found: Sweep, marks: dict[str, str]) -> None:
    for reading in found.sheet.limits:
        if reading.limit.name in marks:
            kind = "" if reading.limit.kind == "hard" else " (advisory)"
            console.print(
                Text(f"  {marks[reading.limit.name]}: {reading.limit.title}{kind} is crossed")
            )


def _print_curve(console: Console, found: Sweep) -> None:
    dimension = found.dimensions[0]
    table = Table(name_of(dimension), *(title for title, _ in _SHOWN), box=None, pad_edge=False)
    table.add_column("outlay")
    table.add_column("per piece" if dimension.of_setting else "off a piece")
    table.add_column("crossed")
    seconds = found.sheet.results[PERIOD] if dimension.of_setting else found.saved
    marks = marks_of(found)
    crossings = sorted(found.crossings, key=lambda one: one.value)
    for nth in range(len(dimension)):
        shown = [written(found.sheet, key, found.study.system, (nth,)) for _, key in _SHOWN]
        table.add_row(
            Text(dimension.label(nth, found.study.system)),
            *shown,
            money(found.study, float(found.sheet.results[OUTLAY][nth])),
            _seconds(found, float(seconds[nth])),
            Text(marks_at(found, marks, (nth,))),
        )
        for one in crossings:
            if one.before[0] == nth:
                at = f"> {dimension.shown(one.value, found.study.system)}"
                side = "up" if one.kept_below else "down"
                words = f"{marks[one.limit.name]} {side}"
                table.add_row(Text(at), *[""] * (len(_SHOWN) + 2), Text(words, style="bold"))
    console.print(table)
    if found.crossings:
        console.print("> marks the value from which a limit is crossed, up or down the table.")
    _print_legend(console, found, marks)
    console.print()


def _print_field(console: Console, found: Sweep) -> None:
    rows, columns = found.dimensions
    letters = [
        _LETTERS[nth] if nth < len(_LETTERS) else f"{_LETTERS[nth % 26]}{nth // 26}"
        for nth in range(len(columns))
    ]
    console.print("Time per piece; * crosses a hard limit.")
    table = Table(name_of(rows), *letters, box=None, pad_edge=False)
    periods, feasible = found.sheet.results[PERIOD], found.sheet.feasible
    for row in range(len(rows)):
        cells = [
            _seconds(found, float(periods[row, column])) + ("" if feasible[row, column] else " *")
            for column in range(len(columns))
        ]
        table.add_row(Text(rows.label(row, found.study.system)), *cells)
    console.print(table)
    for letter, nth in zip(letters, range(len(columns)), strict=True):
        console.print(Text(f"  {letter}: {_point(columns, nth, found)}"))
    _print_crossings(console, found)
    console.print()


def _print_crossings(console: Console, found: Sweep) -> None:
    """Where limits are crossed; one line for those that do not depend on the other dimension."""
    said: dict[tuple[str, int, bool], list[Crossing]] = {}
    for one in found.crossings:
        if one.limit.kind == "hard":
            said.setdefault((one.limit.title, one.dimension, one.kept_below), []).append(one)
    for (title, place, kept_below), some in list(said.items())[:_NAMED_CROSSINGS]:
        dimension = found.dimensions[place]
        values = [one.value for one in some]
        ends = [dimension.shown(value, found.study.system) for value in (min(values), max(values))]
        where = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}, by the other dimension"
        side = "above" if kept_below else "below"
        where += _only_at(found, place, some)
        console.print(Text(f"{title} is crossed {side} {name_of(dimension)} {where}."))


def _only_at(found: Sweep, place: int, some: Sequence[Crossing]) -> str:
    """At which points of the other dimension a limit is crossed, where not at all of them."""
    [*others] = (nth for nth in range(len(found.dimensions)) if nth != place)
    if not others:
        return ""
    other = found.dimensions[others[0]]
    at = sorted({one.before[others[0]] for one in some})
    if len(at) == found.shape[others[0]]:
        return ""
    labels = [other.label(nth, found.study.system) for nth in at]
    return f", with {name_of(other)} at {' and '.join(labels)} only"


def _print_stairs(console: Console, found: Sweep, stop: Stop) -> None:
    line = _line_label(found, stop)
    title = "quicker for money" + (f", {_line_words(found)} {line}" if line else "")
    table = Table(title, "outlay", "per piece", "a second costs", "", box=None, pad_edge=False)
    for nth, place in enumerate(stop.stairs):
        marks = []
        if nth == stop.worth_stair and stop.second_worth > 0.0:
            marks.append("stop here by worth")
        if nth == stop.knee_stair:
            marks.append("knee")
        price = stop.prices[nth]
        table.add_row(
            Text(parts_label(found, place)),
            money(found.study, float(stop.outlays[nth])),
            _seconds(found, float(stop.periods[nth])),
            money(found.study, float(price)) if np.isfinite(price) else "",
            Text(", ".join(marks), style="bold"),
        )
    console.print(table)
    if stop.second_worth > 0.0:
        console.print(
            f"A second off every piece is worth {money(found.study, stop.second_worth)} over "
            f"{paying_hours(found)}."
        )
    console.print()
