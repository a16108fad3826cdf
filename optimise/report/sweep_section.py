"""When is enough, on the page: the whole list, and one or two things as they vary."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from optimise.machine.sheet import LimitReading, sheet_of
from optimise.report.charts import (
    Band,
    Curve,
    Group,
    Letter,
    Mark,
    Panel,
    Piece,
    Said,
    Section,
    Spot,
    Stairs,
    Table,
    amount,
    axis,
    curve,
    group_of,
    number,
    panel,
    section_of,
    series,
    table_of,
)
from optimise.report.sources import SYSTEMS, Sources
from optimise.report.sweep_words import (
    NOW,
    advice,
    base_of,
    doubt_sentences,
    marks_at,
    marks_of,
    name_of,
    on_now,
    parts_label,
    place_label,
    roles_of,
)
from optimise.report.text import SHOWN_TIME, inside, money, opening, round_money
from optimise.search.goals import PIECE
from optimise.search.question import Place
from optimise.search.returns import Returns, returns_of
from optimise.search.stops import OUTLAY, Stop
from optimise.search.sweep import Sweep
from optimise.study.dimensions import Dimension
from optimise.study.model import Study
from optimise.study.space import fitted_machine

KEY, TITLE = "sweep", "When is enough"
LISTED_POINTS = 40
"""Rows of a table of points."""
POINT_COLUMNS: tuple[tuple[str, str, str], ...] = (
    ("Out", "time", "cycle.extend_s"),
    ("Back", "time", "cycle.retract_s"),
    ("Cycle", "time", "cycle.total_s"),
    ("Force", "force", "force_N"),
    ("Pieces added/h", "count", "work.pieces_per_h"),
    ("Outlay", "money", OUTLAY),
)
"""Of a table of points; the outlay where whole parts vary, which have a price."""


def sweep_section(sources: Sources) -> Section | None:
    """The whole list first, then each sweep; None where there is neither."""
    whole = _whole_list(sources)
    groups = [_group(sources, found) for found in sources.sweeps]
    if whole is None and not groups:
        return None
    return section_of(
        KEY,
        TITLE,
        _lead_in(sources, bool(groups)),
        whole[:1] if whole else (),
        tables=whole[1:] if whole else (),
        groups=groups,
    )


def _lead_in(sources: Sources, swept: bool) -> Said:
    study = sources.study
    base = sheet_of(fitted_machine(study), study.setting).results
    worth = float(base["work.second_worth"])
    words = "Each further step buys less time for the money. "
    if worth > 0.0:
        hours = study.setting.money.payback_time / 3600.0
        words += (
            f"A second off every piece is worth {money(study, worth)} over {hours:,.0f} hours of "
            "splitting: stop where most is left of that worth after the outlay. The knee, where "
            "the curve bends most, is a second opinion that does not ask what a second is worth."
        )
    else:
        words += (
            "The study does not say what a saved hour is worth (money.hourly_worth), so that only "
            "the knee, where the curve bends most, can say where to stop."
        )
    if swept and not sources.named_sweeps:
        words += (
            " After the whole list stand the two lists of which one part put on alone could take "
            "most off a piece, limits aside, and a diameter that a shop can make to measure; "
            "ramfront report --sweep KEY=RANGE shows others."
        )
    return [words]


# --- the whole list -----------------------------------------------------------------------------


def _whole_list(sources: Sources) -> tuple[Stairs, Table] | None:
    """Machines of the front by time per piece that are no weaker than the one asked about."""
    study, results = sources.study, sources.steps.front.sheet.results
    base = sheet_of(fitted_machine(study), study.setting)
    least = float(base.results["force_N"]) * (1.0 - 1e-9)
    fit = np.flatnonzero((results["force_N"] >= least) & np.isfinite(results[PIECE]))
    if len(fit) == 0:
        return None
    outlay, period = results[OUTLAY][fit], results[PIECE][fit]
    asked = (float(base.results[OUTLAY]), float(base.results[PIECE]))
    designs: list[int | None] = [int(lane) for lane in fit]
    if bool(base.feasible):
        designs.insert(0, None)
        outlay, period = np.insert(outlay, 0, asked[0]), np.insert(period, 0, asked[1])
    worth = float(base.results["work.second_worth"])
    found = returns_of(period, outlay, worth)
    if len(found.places) < 2:
        return None
    stairs = [designs[place] for place in found.places]
    machines = [None if lane is None else _on_page(sources, lane) for lane in stairs]
    roles = roles_of(found, worth)
    spots: list[Spot] = [
        {
            "name": _machine_label(sources, lane, design),
            "x": number(found.outlays[nth]),
            "y": number(found.periods[nth]),
            "kept": True,
            "limits": [],
            "roles": [*([NOW] if lane is None else []), *roles.get(nth, [])],
            "design": design,
        }
        for nth, (lane, design) in enumerate(zip(stairs, machines, strict=True))
    ]
    steps = list(range(len(spots)))
    if not bool(base.feasible) and math.isfinite(asked[1]):
        spots.append(
            {"name": "the machine as it is", "x": number(asked[0]), "y": number(asked[1]),
             "kept": False, "limits": [], "roles": [NOW], "design": None}
        )  # fmt: skip
    chart: Stairs = {
        "type": "stairs",
        "key": "enough",
        "title": "The whole list: time per piece against money",
        "sentence": _whole_words(sources, found),
        "across": axis("Outlay", "money"),
        "up": axis("Time per piece", "time"),
        "spots": spots,
        "steps": steps,
        "limits": [],
    }
    rows: list[list[Piece]] = []
    parts: list[Piece] = []
    shown: list[int | None] = []
    for words, nth in _told(found, worth):
        lane = stairs[nth]
        rows.append(
            [
                words,
                amount("time", found.periods[nth]),
                amount("time", asked[1] - found.periods[nth]),
                amount("money", found.outlays[nth]),
                _price(found, nth),
            ]
        )
        parts.append("" if lane is None else _machine_label(sources, lane, None))
        shown.append(machines[nth])
    named = any(parts)
    table = table_of(
        "Where to stop in the whole list",
        [("Which", ""), ("Time per piece", "time"), ("Off a piece", "time"), ("Outlay", "money"),
         ("A further second costs", "money"), *([("Parts", "")] if named else [])],
        [[*row, *([some] if named else [])] for row, some in zip(rows, parts, strict=True)],
        shown,
    )  # fmt: skip
    return chart, table


def _on_page(sources: Sources, lane: int) -> int | None:
    """Number on the page of a machine of the front by time per piece, if it has one."""
    steps = sources.steps
    return sources.place_of(steps.space.names(steps.front.indices[lane]))


def _machine_label(sources: Sources, lane: int | None, design: int | None) -> str:
    if lane is None:
        return "the machine as it is"
    if design is not None:
        return f"machine {design + 1}"
    names = sources.steps.space.names(sources.steps.front.indices[lane])
    return "; ".join(name for part, name in names.items() if name != sources.study.fitted[part])


def _price(found: Returns, nth: int) -> Piece:
    """What a second more costs from a stair; words where there is next to none to buy."""
    if nth == len(found.places) - 1:
        return "nothing buys more time"
    if found.periods[nth] - found.periods[-1] < SHOWN_TIME:
        return "next to no time to gain"
    return amount("money", found.onward(nth))


def _told(found: Returns, worth: float) -> list[tuple[str, int]]:
    told = [("Stop by worth", found.worth_stair)] if worth > 0.0 else []
    bend = [("Knee", found.knee_stair)] if found.bends else []
    return [*told, *bend, ("Least time", len(found.places) - 1)]


def _whole_words(sources: Sources, found: Returns) -> Said:
    hands = sources.study.setting.work.handling_time
    spent, seconds = found.outlays, found.periods
    saved = float(seconds[0] - seconds[-1])
    half = int(np.argmax(seconds <= seconds[0] - 0.8 * saved))
    return [
        "Machines of the front by time per piece that are no weaker, the quickest for the money: "
        "of the ",
        amount("time", saved),
        " that can come off a piece, four fifths cost ",
        amount("money", spent[half] - spent[0]),
        " and the rest ",
        amount("money", spent[-1] - spent[half]),
        " more. The hands alone take ",
        amount("time", hands),
        " a piece: no ram goes under that. What one thing alone "
        "brings stands below; together parts bring more than one by one, because each lifts a "
        "limit for another.",
    ]


# --- one sweep ----------------------------------------------------------------------------------


def _group(sources: Sources, found: Sweep) -> Group:
    title = opening(" and ".join(name_of(one) for one in found.dimensions))

    def told(study: Study) -> list[str]:
        there = dataclasses.replace(found, study=study)
        doubt = doubt_sentences(there, there.stops[0]) if len(there.stops) == 1 else []
        return [*advice(there), *doubt]

    charts: list[Stairs | Curve] = []
    letters = marks_of(found)
    key = "-".join(one.key for one in found.dimensions).replace(".", "-").replace("_", "-")
    first = found.dimensions[0]
    if all(one.of_parts for one in found.dimensions):
        charts.append(_stairs(found, found.stops[0], letters, key, title))
    elif len(found.dimensions) == 1 and first.values is not None:
        charts.append(_along(found, first, letters, key, title))
    notes = sources.said(told)
    if letters and not charts:
        named = (f"{one['letter']}: {one['name']}" for one in _letters(letters, found))
        notes.append([f"Letters of limits: {'; '.join(named)}."])
    return group_of(
        title,
        charts=charts,
        notes=notes,
        tables=[_points(found, letters, title)],
    )


def _letters(letters: dict[str, str], found: Sweep) -> list[Letter]:
    return [
        {
            "letter": letters[one.limit.name],
            "name": one.limit.title + ("" if one.limit.kind == "hard" else " (advisory)"),
        }
        for one in found.sheet.limits
        if one.limit.name in letters
    ]


def _stairs(found: Sweep, stop: Stop, letters: dict[str, str], key: str, title: str) -> Stairs:
    """Every point by money and time, limits crossed as letters, and the stairs with their ends."""
    roles = roles_of(stop, stop.second_worth)
    at = {place: nth for nth, place in enumerate(stop.stairs)}
    results, feasible = found.sheet.results, found.sheet.feasible
    places = [place for place in np.ndindex(found.shape) if np.isfinite(results[PIECE][place])]
    where: dict[Place | None, int] = {place: nth for nth, place in enumerate(places)}
    spots: list[Spot] = [
        {
            "name": parts_label(found, place),
            "x": number(results[OUTLAY][place]),
            "y": number(results[PIECE][place]),
            "kept": bool(feasible[place]),
            "limits": marks_at(found, letters, place).split(),
            "roles": [
                *([NOW] if on_now(found, place) else []),
                *roles.get(at.get(place, -1), []),
            ],
            "design": None,
        }
        for place in places
    ]
    if not any(on_now(found, place) for place in places):
        base = base_of(found, stop)
        where[None] = len(spots)
        spots.append(
            {
                "name": parts_label(found, None),
                "x": number(base["outlay"]),
                "y": number(base["period"]),
                "kept": bool(np.ravel(found.bases.feasible)[0]),
                "limits": [],
                "roles": [NOW, *roles.get(at.get(None, -1), [])],
                "design": None,
            }
        )
    return {
        "type": "stairs",
        "key": f"sweep-{key}",
        "title": f"{title}: time per piece against money",
        "sentence": [
            "Each dot is a machine with another of these parts and all else as it is; a cross "
            "breaks a hard limit, named by its letter. The line runs over the machines that keep "
            "every hard limit and are quicker than any that costs no more.",
        ],
        "across": axis("Outlay", "money"),
        "up": axis("Time per piece", "time"),
        "spots": spots,
        "steps": [where[place] for place in stop.stairs],
        "limits": _letters(letters, found),
    }


def _along(
    found: Sweep, dimension: Dimension, letters: dict[str, str], key: str, title: str
) -> Curve:
    """Time, force and work rate along numbers, with the values at which limits are crossed."""
    values, results = dimension.values, found.sheet.results
    assert values is not None
    panels: list[Panel] = [
        panel(
            "Time",
            "time",
            [
                series("out", values, results["cycle.extend_s"], 0),
                series("back", values, results["cycle.retract_s"], 2),
                series("per piece", values, results[PIECE], 1, dots=True),
            ],
        ),
        panel(
            "Pieces added per hour",
            "count",
            [series("pieces added per hour", values, results["work.pieces_per_h"], 0)],
        ),
    ]
    force = results["force_N"]
    same = float(np.ptp(force)) <= 1e-6 * float(np.abs(force).max())
    if not same:
        panels.insert(1, panel("Force", "force", [series("force", values, force, 0)]))
    if not dimension.of_setting:
        worth = np.ravel(found.bases.results["work.second_worth"])[0]
        if worth > 0.0:
            paid = np.maximum(found.saved, 0.0) * worth
            panels.append(
                panel("A part like it may cost", "money", [series("worth", values, paid, 1)])
            )
    marks: list[Mark] = [
        {
            "sign": letters[one.limit.name],
            "before": "above " if one.kept_below else "below ",
            "value": number(one.value),
            "after": f": {inside(one.limit.title)} is crossed"
            + ("" if one.limit.kind == "hard" else " (advisory)"),
        }
        for one in sorted(found.crossings, key=lambda one: one.value)
    ]
    now = _value_now(found, dimension)
    if now is not None and values[0] <= now <= values[-1]:
        marks.append({"sign": NOW, "before": "", "value": number(now), "after": ""})
    sentence: Said = [
        f"All else stays as it is while {name_of(dimension)} varies. Lines with letters mark where "
        "a limit is crossed, grey bands where a hard one is."
    ]
    if same:
        sentence += [" Force stays at ", amount("force", force[0]), "."]
    return curve(
        f"sweep-{key}",
        f"{title}: time, force and work rate",
        sentence,
        axis(title, dimension.kind),
        panels,
        bands=_crossed_bands(found, dimension),
        marks=marks,
    )


def _value_now(found: Sweep, dimension: Dimension) -> float | None:
    """Number of the machine asked about; None where it is not a field by itself."""
    study = found.study
    owner: object = study.setting if dimension.of_setting else fitted_machine(study)
    for step in dimension.steps:
        owner = getattr(owner, step, None)
    return float(owner) if isinstance(owner, float) else None


def _crossed_bands(found: Sweep, dimension: Dimension) -> list[Band]:
    """Stretches in which some hard limit is crossed."""
    values = dimension.values
    assert values is not None
    hard = [one for one in found.sheet.limits if one.limit.kind == "hard"]
    flips = {
        one.limit.name: [c.value for c in found.crossings if c.limit.name == one.limit.name]
        for one in hard
    }

    def kept(reading: LimitReading, value: float) -> bool:
        turned = sum(flip < value for flip in flips[reading.limit.name]) % 2 == 1
        return bool(reading.kept[0]) != turned

    inner = sorted({flip for some in flips.values() for flip in some})
    edges = [float(values[0]), *inner, float(values[-1])]
    bands: list[Band] = []
    for low, high in pairwise(edges):
        if all(kept(one, 0.5 * (low + high)) for one in hard):
            continue
        if bands and bands[-1]["end"] == low:
            bands[-1]["end"] = high
        else:
            bands.append({"start": low, "end": high, "name": "crossed"})
    return bands


# --- tables -------------------------------------------------------------------------------------


def _points(found: Sweep, letters: dict[str, str], title: str) -> Table:
    """Points, a row each, with what a second costs where they are stairs."""
    places, which = _listed(found)
    stairs = {
        place: (stop, nth)
        for stop in found.stops
        for nth, place in enumerate(stop.stairs)
        if place is not None
    }
    results = found.sheet.results
    of_setting = all(one.of_setting for one in found.dimensions)
    columns = POINT_COLUMNS if found.stops else POINT_COLUMNS[:-1]
    saved = found.saved
    spent = results[OUTLAY] - found.bases.results[OUTLAY]
    unit = round_money([saved[place] / spent[place] for place in places if spent[place] > 0.0])
    there = {
        system: dataclasses.replace(found, study=dataclasses.replace(found.study, system=system))
        for system in SYSTEMS
    }
    rows: list[list[Piece]] = []
    for place in places:
        price = math.nan
        words = [NOW] if found.stops and on_now(found, place) else []
        if place in stairs:
            stop, nth = stairs[place]
            price = float(stop.prices[nth])
            words += roles_of(stop, stop.second_worth).get(nth, [])
        row: list[Piece] = [
            {system: _labelled(one, place, words) for system, one in there.items()},
            *(amount(kind, results[key][place]) for _, kind, key in columns),
            amount("time", results[PIECE][place] if of_setting else saved[place]),
        ]
        if found.stops:
            each = saved[place] / spent[place] if spent[place] > 0.0 else math.nan
            row += [
                amount("time", unit * each) if math.isfinite(each) else "",
                amount("money", price) if math.isfinite(price) else "",
            ]
        rows.append([*row, marks_at(found, letters, place)])
    marginal = [
        (f"Off for each {unit:,} {found.study.currency}", "time"),
        ("A second more costs", "money"),
    ]
    head = [
        (title, ""),
        *((words, kind) for words, kind, _ in columns),
        ("Per piece" if of_setting else "Off a piece", "time"),
        *(marginal if found.stops else []),
        ("Crosses", ""),
    ]
    return table_of(f"{title}: {which}", head, rows)


def _labelled(found: Sweep, place: Place, roles: Sequence[str]) -> str:
    """A point in words, with its roles."""
    words = place_label(found, place)
    if len(found.dimensions) == 1:
        words = found.dimensions[0].label(place[0], found.study.system)
    return f"{words} ({', '.join(roles)})" if roles else words


def _listed(found: Sweep) -> tuple[list[Place], str]:
    """Points of the table, and which they are."""
    places = list(np.ndindex(found.shape))
    if len(places) <= LISTED_POINTS:
        return places, "point by point"
    if len(found.stops) == 1:
        return [place for place in found.stops[0].stairs if place is not None], "the stairs"
    kept = [place for place in places if found.sheet.feasible[place]]
    kept.sort(key=lambda place: float(found.sheet.results[PIECE][place]))
    return kept[:LISTED_POINTS], f"the {LISTED_POINTS} quickest that keep every hard limit"
