"""The sweep in words: what varies, what it brings, where to stop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from optimise.machine.limits import Limit
from optimise.report.doubt import chance_words
from optimise.report.text import SHOWN_TIME, inside, money, opening
from optimise.search.goals import LEAST_GAIN, PIECE
from optimise.search.question import Place
from optimise.search.returns import Returns
from optimise.search.stops import DRAWS, OUTLAY, Doubt, Stop
from optimise.search.sweep import Sweep
from optimise.study.dimensions import Dimension
from optimise.units import show

FORCE, UNSPLIT = "force_N", "work.unsplit_share"
LOG = "work.piece_period_s"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
NOW, STOP, KNEE = "now", "stop by worth", "knee"
"""Words at machines of a staircase."""
LOADED = "cycle.loaded_total_s"
SURE = 0.5
"""Share of the draws that must choose a machine before it is recommended without a warning."""


def timed(found: Sweep, seconds: float) -> str:
    """A time in words."""
    return show(seconds, "time", found.study.system, 3)


def place_label(found: Sweep, place: Place | None) -> str:
    """A point in words, all its dimensions."""
    if not place:
        return "the machine as it is"
    return ", ".join(
        point_label(dimension, nth, found)
        for dimension, nth in zip(found.dimensions, place, strict=True)
    )


def point_label(dimension: Dimension, nth: int, found: Sweep) -> str:
    """A point of one dimension in words."""
    shown = dimension.label(nth, found.study.system)
    return shown if dimension.of_parts else f"{name_of(dimension)} {shown}"


def name_of(dimension: Dimension) -> str:
    """Name of what varies."""
    steps = [step.replace("_", " ") for step in dimension.steps]
    if dimension.category or dimension.spec is None:
        return " ".join(steps)
    title = dimension.spec.title
    if len(steps) <= 2:
        return title
    first, *between, _ = steps
    line = [] if first != "lines" or between[-1].endswith("line") else ["line"]
    return " ".join([*([] if first == "lines" else [first]), *between, *line, title])


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
    for kind, letters in (("hard", LETTERS), ("advisory", LETTERS.lower())):
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


def worst_mark(found: Sweep, marks: dict[str, str], place: Place) -> str:
    """Letter of the limit that a point crosses worst, hard ones first, and how many more."""
    crossed = [found.crossed(place), found.crossed(place, "advisory")]
    some = crossed[0] or crossed[1]
    if not some:
        return ""
    more = len(crossed[0]) + len(crossed[1]) - 1
    return marks[_worst(found, place, some).name] + (f"+{more}" if more else "")


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
    groups: dict[str, list[int]] = {}
    for nth, stop in enumerate(stops):
        groups.setdefault(stop_label(found, stop), []).append(nth)
    if len(groups) == 1:
        said = _stop_sentences(found, stops[0])
        if len(stops) > 1 and stops[0].stairs:
            at = f"At {line_words(found)} {line_label(found, stops[0])}: "
            said[0] = f"{at}{inside(said[0])}"
            said.append(
                f"The choice is the same at every {line_words(found)} of the sweep, its seconds "
                "and money a second are not."
            )
        return said
    places = "; ".join(
        f"{chosen} at {_runs([line_label(found, stop) for stop in stops], some)}"
        for chosen, some in list(groups.items())[:4]
    )
    return [f"Where to stop depends on the {line_words(found)}: {places}."]


def _runs(labels: Sequence[str], chosen: Sequence[int]) -> str:
    """Labels of some places in words: those in a row by their ends."""
    runs: list[list[int]] = []
    for nth in chosen:
        if runs and runs[-1][-1] == nth - 1:
            runs[-1].append(nth)
        else:
            runs.append([nth])
    return " and ".join(
        labels[run[0]] if len(run) == 1 else f"{labels[run[0]]} to {labels[run[-1]]}"
        for run in runs
    )


def line_words(found: Sweep) -> str:
    """What varies besides the parts."""
    return " and ".join(name_of(found.dimensions[place]) for place in found.stops[0].line)


def line_label(found: Sweep, stop: Stop) -> str:
    """Where a stop is along what varies besides the parts."""
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


def roles_of(stop: Stop | Returns, worth: float) -> dict[int, list[str]]:
    """Words at the stairs to stop at, by place of stair."""
    found: dict[int, list[str]] = {}
    if len(stop.periods) and worth > 0.0:
        found.setdefault(stop.worth_stair, []).append(STOP)
    if stop.bends:
        found.setdefault(stop.knee_stair, []).append(KNEE)
    return found


def _stop_sentences(found: Sweep, stop: Stop) -> list[str]:
    if not stop.stairs:
        return ["No machine of this sweep keeps every hard limit.", *_most_in_the_way(found)]
    if stop.second_worth <= 0.0:
        return [_without_worth(found, stop)]
    if on_now(found, stop.stairs[stop.worth_stair]):
        return _leave_it(found, stop)
    place = stop.stairs[stop.worth_stair]
    return [_put_on(found, stop), *_weaker(found, stop, place), *_onward(found, stop)]


def _without_worth(found: Sweep, stop: Stop) -> str:
    """The bend, where the study does not say what a saved hour is worth."""
    ask = "say what a saved hour is worth (money.hourly_worth), and it says where to stop."
    if not stop.bends:
        return f"The curve of time over money has no bend; {ask}"
    bend = stop.knee_stair
    return (
        f"The curve of time over money bends most at {parts_label(found, stop.stairs[bend])} "
        f"({money(found.study, float(stop.outlays[bend]))}); {ask}"
    )


def _worth(found: Sweep, stop: Stop) -> str:
    return f"worth {money(found.study, stop.second_worth)} over {paying_hours(found)}"


def _rest(stop: Stop) -> float:
    """Time that all the stairs beyond the one to stop at take off a piece."""
    return float(stop.periods[stop.worth_stair] - stop.periods[-1])


def _hardly(found: Sweep, stop: Stop) -> str:
    """That what is quicker is so by next to nothing, where anything is."""
    return f" by {timed(found, SHOWN_TIME)} or more" if _rest(stop) > 0.0 else ""


def _leave_it(found: Sweep, stop: Stop) -> list[str]:
    names = [name_of(one) for one in found.dimensions if one.of_parts]
    what = " and ".join(names)
    are = "they are" if len(names) > 1 or what.endswith("s") else "it is"
    if _rest(stop) >= SHOWN_TIME:
        following = parts_label(found, stop.stairs[stop.next_stair])
        return [
            f"Leave the {what} as {are}: with {following} a second off every piece would cost "
            f"{money(found.study, stop.next_price)}, and it is {_worth(found, stop)}.",
            *_hands(found, stop),
        ]
    return [
        f"Leave the {what} as {are}: nothing in this sweep that keeps every hard limit splits "
        f"a piece sooner{_hardly(found, stop)}.",
        *_beyond(found, stop),
    ]


def _put_on(found: Sweep, stop: Stop) -> str:
    """What the machine to stop at takes off a piece, for how much, and whether that is sure."""
    best = stop.worth_stair
    place, base, worth = stop.stairs[best], base_of(found, stop), _worth(found, stop)
    saved = base["period"] - float(stop.periods[best])
    outlay = float(stop.outlays[best]) - base["outlay"]
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
    doubt, unsure = stop.worth_doubt, []
    if doubt is not None and doubt.share < SURE:
        unsure.append(
            f"only {chance_words(doubt.share, DRAWS)} of {DRAWS} draws of what is not "
            "known stop there"
        )
    if place is not None and stop.kept is not None and stop.kept < SURE:
        unsure.append(
            f"it keeps all hard limits in only {chance_words(stop.kept, DRAWS)} of {DRAWS} draws"
        )
    lead, mind = f"Put on {parts_label(found, place)}: it", ""
    if unsure:
        lead = f"By the plain numbers {parts_label(found, place)}"
        mind = (
            f" Do not buy on that alone: {' and '.join(unsure)}; readings (ramfront fit) make it "
            "surer."
        )
    if saved < 0.0:
        return (
            f"{lead} brings {money(found.study, -outlay)} and takes {timed(found, -saved)} more "
            f"for every piece, where a second is {worth}.{mind}"
        )
    return f"{lead} takes {timed(found, saved)} off every piece {price}.{mind}"


def _onward(found: Sweep, stop: Stop) -> list[str]:
    """What the next second costs, or what stands in its way."""
    if _rest(stop) >= SHOWN_TIME:
        following = parts_label(found, stop.stairs[stop.next_stair])
        return [
            f"Stop there: with {following} the next second costs "
            f"{money(found.study, stop.next_price)}."
        ]
    return _beyond(found, stop) or [f"Nothing in this sweep is quicker{_hardly(found, stop)}."]


def _weaker(found: Sweep, stop: Stop, place: Place | None) -> list[str]:
    """What the machine to stop at loses in force; nothing where it is as strong."""
    if place is None:
        return []
    return _lost_force(found, place, base_of(found, stop))


def _lost_force(found: Sweep, place: Place, base: Mapping[str, float]) -> list[str]:
    """Force and split pieces that a point loses against some figures of :func:`base_of`."""
    system, results = found.study.system, found.sheet.results
    force, unsplit = (float(results[key][place]) for key in (FORCE, UNSPLIT))
    if force >= base["force"] * (1.0 - 1e-6):
        return []
    return [
        f"Mind the force: it falls from {show(base['force'], 'force', system, 3)} to "
        f"{show(force, 'force', system, 3)}, and pieces that it cannot split go from "
        f"{show(base['unsplit'], 'share', system, 3)} to {show(unsplit, 'share', system, 3)}"
        + (", which these seconds count." if unsplit != base["unsplit"] else ".")
    ]


def base_of(found: Sweep, stop: Stop) -> dict[str, float]:
    """Figures of the machine asked about at the stop's point of the other dimensions."""
    place = tuple(
        nth if size > 1 else 0
        for nth, size in zip(
            [stop.line.get(axis, 0) for axis in range(len(found.dimensions))],
            found.bases.results[PIECE].shape,
            strict=True,
        )
    )
    return _figures(found, place)


def _figures(found: Sweep, place: Place) -> dict[str, float]:
    """Figures of the machine asked about."""
    return {
        "period": float(found.bases.results[PIECE][place]),
        "log": float(found.bases.results[LOG][place]),
        "outlay": float(found.bases.results[OUTLAY][place]),
        "loaded": float(found.bases.results[LOADED][place]),
        "force": float(found.bases.results[FORCE][place]),
        "unsplit": float(found.bases.results[UNSPLIT][place]),
    }


def _on_line(stop: Stop, place: Place) -> bool:
    return all(place[axis] == nth for axis, nth in stop.line.items())


def _beyond(found: Sweep, stop: Stop) -> list[str]:
    """What stops the quicker machines, or that the hands do."""
    best = float(stop.periods[stop.worth_stair])
    periods = found.sheet.results[PIECE]
    quicker = [
        place
        for place in np.ndindex(found.shape)
        if _on_line(stop, place) and periods[place] < best - SHOWN_TIME
    ]
    if quicker:
        place = min(quicker, key=lambda one: (len(found.crossed(one)), float(periods[one])))
        limits = found.crossed(place)
        return [
            f"{parts_label(found, place)} would take another "
            f"{timed(found, best - float(periods[place]))} off, but crosses "
            f"{_limit_words(limits)}: {inside(_worst(found, place, limits).advice)}"
        ]
    return _hands(found, stop)


def _hands(found: Sweep, stop: Stop) -> list[str]:
    """That the hands hold up what the ram would gain, where they do."""
    results, chosen = found.sheet.results, stop.stairs[stop.worth_stair]
    loaded, periods = results[LOADED], results[LOG]
    base = base_of(found, stop)
    period = base["log"] if chosen is None else float(periods[chosen])
    now = base["loaded"] if chosen is None else float(loaded[chosen])
    held = {
        place: (now - float(loaded[place])) - (period - float(periods[place]))
        for place in np.ndindex(found.shape)
        if _on_line(stop, place) and found.sheet.feasible[place] and loaded[place] < now
    }
    place = max(held, key=lambda one: held[one], default=None)
    if place is None or held[place] < SHOWN_TIME:
        return []
    gained = period - float(periods[place])
    piece = f"{timed(found, gained)}" if gained >= SHOWN_TIME else "next to nothing"
    return [
        f"{parts_label(found, place)} takes {timed(found, now - float(loaded[place]))} off the "
        f"cycle through wood and {piece} off a piece: the hands are not ready sooner; quicken the "
        "handling first."
    ]


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
    periods, feasible = found.sheet.results[PIECE], found.sheet.feasible
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
            f"{timed(found, float(periods[0]))} to {timed(found, float(periods[-1]))}."
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
        shorter = found.bases.results[LOADED] - found.sheet.results[LOADED]
        if bool((shorter[feasible] > SHOWN_TIME).any()):
            first += " The cycle gets shorter, but the hands are not ready sooner."
    else:
        first = (
            f"The best {name} within every hard limit is {at}: {timed(found, saved)} off every "
            "piece"
        )
        worth = saved * float(found.bases.results["work.second_worth"][0])
        first += (
            f", worth {money(found.study, worth)} over {paying_hours(found)}; a part like it may "
            "cost no more."
            if worth > 0.0
            else "."
        )
    mind = [] if saved <= LEAST_GAIN else _lost_force(found, (best,), _figures(found, (0,)))
    return [
        first,
        *mind,
        *_unsure(found, saved),
        *([f"{opening(', and '.join(edges))}."] if edges else []),
    ]


def _unsure(found: Sweep, saved: float) -> list[str]:
    """In how many draws the quickest point keeps its limits."""
    if found.kept is None or saved <= LEAST_GAIN:
        return []
    words = f"It keeps every hard limit in {chance_words(found.kept, DRAWS)} of {DRAWS} draws"
    if found.kept < SURE:
        words += " of what is not known: do not build on that alone"
    return [f"{words}."]


def _advice_on_points(found: Sweep) -> list[str]:
    """Points without a price of their own: the quickest that keeps every hard limit."""
    periods, feasible = found.sheet.results[PIECE], found.sheet.feasible
    total = int(np.prod(found.shape))
    if not feasible.any():
        return ["No point of this sweep keeps every hard limit.", *_most_in_the_way(found)]
    place = found.quickest
    assert place is not None
    first = (
        f"{int(feasible.sum())} of {total} points keep every hard limit; the quickest of them is "
        f"{place_label(found, place)}, with {timed(found, float(periods[place]))} per piece."
    )
    return [first, *_unsure(found, np.inf), *_most_in_the_way(found)]


def doubt_sentences(found: Sweep, stop: Stop) -> list[str]:
    """The second opinion, and how sure both points are."""
    if len(stop.stairs) < 2:
        return []
    said = []
    if stop.second_worth > 0.0 and stop.worth_doubt is not None:
        said.append(_doubt_words(found, "Where to stop by worth", stop.worth_doubt))
        if stop.saved is not None and not on_now(found, stop.stairs[stop.worth_stair]):
            low, _, high = (timed(found, float(one)) for one in stop.saved)
            said.append(f"It takes {low} to {high} off every piece in 9 cases of 10.")
        if stop.kept is not None:
            said.append(
                f"It keeps every hard limit in {chance_words(stop.kept, DRAWS)} of the draws."
            )
    if not stop.bends:
        return [
            *said,
            "There is no knee as a second opinion: the curve of time over money has too few "
            "machines or does not bend.",
        ]
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
