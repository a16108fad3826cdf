"""What the page holds, as plain data: facts of the study, the front, the machine owned."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from collections.abc import Sequence
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

import optimise
from optimise.columns import Array, Column
from optimise.machine.evaluation import Evaluation
from optimise.machine.findings import FINDINGS, GAP
from optimise.machine.limits import limits_of
from optimise.machine.parts import Machine
from optimise.machine.points import extend_points, retract_points
from optimise.machine.results import RESULTS
from optimise.machine.setting import Setting
from optimise.machine.sheet import Sheet, sheet_of
from optimise.physics import lines
from optimise.report.charts import Section
from optimise.report.figures import Scale, scale_of
from optimise.report.model_script import BenchFacts, bench_facts
from optimise.report.sections import sections_of
from optimise.report.sources import SYSTEMS, Sources
from optimise.search.alike import apart
from optimise.search.front import FrontAnswer
from optimise.search.knowledge import Knowledge
from optimise.search.sweep import Sweep
from optimise.study.model import PriceList, Study
from optimise.study.space import Space, fitted_machine, owned_machine
from optimise.units import System

DIGITS = 6
"""Significant digits of every figure on the page."""
WORTH_WHILE = 0.1
"""Share of the cycle time that a step has to save to be named in the answer."""

DRAWN = (
    ("pump", "large_displacement"),
    ("valve", "relief_pressure"),
    ("valve", "detent_pressure"),
)
"""Quantities of parts that the drawing of the circuit needs: category and field."""

STUDY_CONSTANTS = "those of the study, not corrected by measurements"
FITTED_CONSTANTS = "those that fit the measurements on the machine owned best"

Figure = float | None
"""A number of the page, SI; None where there is no value."""
PageColumn = Figure | list[Figure]
"""One figure for all designs, or one each."""


ASKED_RESULTS = (
    "cycle.extend_s", "cycle.retract_s", "cycle.total_s", "cycle.loaded_total_s", "force_N",
)  # fmt: skip
"""Results shown of a machine with parts put on for the call."""


class StudyFacts(TypedDict):
    """What the study says of itself."""

    name: str
    title: str
    notes: str
    currency: str
    units: System
    price_date: str
    fingerprint: str
    labour_rate: float


class Provenance(TypedDict):
    """Where the answer comes from. ``designs_in_space`` is text: it may pass 2**53."""

    version: str
    command: str
    constants: str
    proven: bool
    why_not: str
    designs_in_space: str
    designs_evaluated: int


class CategoryFacts(TypedDict):
    """Parts of one category, in list order; ``owned`` is the position of the part owned.

    ``hours`` is the time that fitting takes, ``resales`` what a part brings once it is off.
    ``quantities`` has those of :data:`DRAWN` that the circuit is drawn with, and for hoses the
    velocity in them for each unit of flow.
    """

    key: str
    title: str
    names: list[str]
    outlays: list[Figure]
    prices: list[Figure]
    hours: list[Figure]
    resales: list[Figure]
    owned: int
    quantities: dict[str, list[Figure]]


class ResultFacts(TypedDict):
    """One result: key, words, kind of unit."""

    key: str
    title: str
    unit: str


class LimitFacts(TypedDict):
    """One limit: words, kind of unit, weight and who says so."""

    name: str
    title: str
    sense: str
    unit: str
    kind: str
    source: str
    advice: str


class LimitPlaces(TypedDict):
    """Places of one limit's columns in the pool."""

    value: int
    bound: int
    margin: int


class Designs(TypedDict):
    """Machines as columns: part positions per category, and places of columns in the pool.

    ``points`` has those of the circuit under "out" and "back" (:mod:`optimise.machine.points`).
    """

    count: int
    parts: list[list[int]]
    results: dict[str, int]
    limits: list[LimitPlaces]
    least_margin: int
    binding: list[int]
    points: dict[str, dict[str, int]]


class BlockingFacts(TypedDict):
    """How often a limit stands in the way, as shares of a sample of the machines."""

    name: str
    title: str
    crossed: float
    alone: float


class AlikeFacts(TypedDict):
    """Designs, by position in the front, that stand for all that are nearly alike."""

    time_s: float
    price_share: float
    shown: list[int]


class Picks(TypedDict):
    """Designs that the answer names, by position in the front; None where there is none."""

    cheapest: int | None
    quickest: int | None
    strongest: int | None


class Asked(TypedDict):
    """The machine with parts put on for this call: figures and what is to be said of it.

    A sentence is a list of words and, between them, figures with their kind of unit.
    """

    parts: list[str]
    figures: list[tuple[str, str, Figure, Figure]]
    sentences: list[list[str | tuple[str, Figure]]]
    crossed: list[str]


class Content(TypedDict):
    """Everything on the page, ready for JSON.

    ``nearest`` is there when the front is empty, ``plan`` where there are steps to take: the
    machine after each. ``mark`` is that of :func:`address_mark`, ``hands_s`` the handling time of a
    piece, ``bench`` what the model in the page works with.
    """

    study: StudyFacts
    mark: str
    provenance: Provenance
    kinds: dict[str, dict[System, Scale]]
    categories: list[CategoryFacts]
    results: list[ResultFacts]
    findings: list[dict[str, str | float]]
    limits: list[LimitFacts]
    columns: list[PageColumn]
    designs: Designs
    owned: Designs
    asked: Asked | None
    nearest: Designs | None
    blocking: list[BlockingFacts]
    picks: Picks
    alike: AlikeFacts
    plan: Designs | None
    sections: list[Section]
    hands_s: Figure
    bench: BenchFacts


def rounded(value: float) -> Figure:
    """Round a value to the digits of the page; None where it is not finite."""
    return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None


class _Pool:
    """Columns of the page, equal ones kept once."""

    def __init__(self) -> None:
        self.columns: list[PageColumn] = []
        self._places: dict[tuple[Figure, ...], int] = {}

    def place_of(self, values: Array) -> int:
        figures = tuple(rounded(float(value)) for value in values)
        same = len(set(figures)) == 1
        key = (*figures[:1], None) if same else figures
        if key not in self._places:
            self._places[key] = len(self.columns)
            self.columns.append(figures[0] if same else list(figures))
        return self._places[key]


def _points(pool: _Pool, machine: Machine, setting: Setting) -> dict[str, dict[str, int]]:
    with np.errstate(all="ignore"):
        evaluation = Evaluation(machine, setting)
        both = {"out": extend_points(evaluation), "back": retract_points(evaluation)}
        return {
            stroke: {
                field.name: pool.place_of(np.atleast_1d(getattr(points, field.name)))
                for field in dataclasses.fields(points)
            }
            for stroke, points in both.items()
        }


def _designs(
    pool: _Pool, parts: NDArray[np.intp], sheet: Sheet, machine: Machine, setting: Setting
) -> Designs:
    """Machines for the page; ``parts`` has one row each, sheet columns may be single numbers."""
    names = [reading.limit.name for reading in sheet.limits]
    return {
        "count": len(parts),
        "parts": [[int(position) for position in column] for column in parts.T],
        "results": {
            key: pool.place_of(np.atleast_1d(values)) for key, values in sheet.results.items()
        },
        "limits": [
            {
                "value": pool.place_of(np.atleast_1d(reading.value)),
                "bound": pool.place_of(np.atleast_1d(reading.bound)),
                "margin": pool.place_of(np.atleast_1d(reading.margin)),
            }
            for reading in sheet.limits
        ],
        "least_margin": pool.place_of(np.atleast_1d(sheet.least_margin)),
        "binding": [names.index(str(name)) for name in np.atleast_1d(sheet.binding)],
        "points": _points(pool, machine, setting),
    }


def _alike(answer: FrontAnswer) -> AlikeFacts:
    view = apart(answer)
    return {"time_s": view.time, "price_share": view.share, "shown": view.shown.tolist()}


def _velocities(prices: PriceList) -> dict[str, list[Figure]]:
    """Mean velocity in a hose for each unit of flow [1/m2]."""
    inner_diameter = getattr(prices.parts, "inner_diameter", None)
    if inner_diameter is None:
        return {}
    each = lines.mean_velocity(1.0, np.asarray(inner_diameter))
    return {"velocity_per_flow": _figures(each)}


def _figures(column: Column) -> list[Figure]:
    return [rounded(float(value)) for value in np.asarray(column)]


def _categories(study: Study) -> list[CategoryFacts]:
    return [
        {
            "key": category,
            "title": category.replace("_", " ").capitalize(),
            "names": list(prices.names),
            "outlays": _figures(prices.parts.outlay),
            "prices": _figures(prices.parts.price),
            "hours": _figures(np.asarray(prices.parts.fitting_time) / 3600.0),
            "resales": _figures(prices.parts.resale),
            "owned": prices.names.index(study.owned[category]),
            "quantities": {
                name: _figures(getattr(prices.parts, name))
                for drawn, name in DRAWN
                if drawn == category
            }
            | _velocities(prices),
        }
        for category, prices in study.lists.items()
    ]


def _in_whole_lists(study: Study, space: Space, indices: NDArray[np.intp]) -> NDArray[np.intp]:
    """Positions in the study's whole lists of parts given by positions in the space's lists."""
    columns = []
    for place, prices in enumerate(space.lists):
        whole = study.lists[prices.category].names
        moved = np.array([whole.index(name) for name in prices.names], dtype=np.intp)
        columns.append(moved[indices[:, place]])
    return np.stack(columns, axis=1)


def picks_of(sheet: Sheet, owned: Sheet) -> Picks:
    """Choose the quickest and the strongest design, and the cheapest that betters the one owned.

    To better it is to take :data:`WORTH_WHILE` off its cycle and to be no weaker. Ties go to the
    one that costs least.
    """
    time, force, outlay = (
        sheet.results[key] for key in ("cycle.total_s", "force_N", "cost.outlay")
    )
    if len(time) == 0:
        return {"cheapest": None, "quickest": None, "strongest": None}
    quicker = time <= (1.0 - WORTH_WHILE) * owned.results["cycle.total_s"]
    better = quicker & (force >= owned.results["force_N"])
    by_outlay = np.lexsort((time, outlay))
    return {
        "cheapest": int(by_outlay[better[by_outlay]][0]) if better.any() else None,
        "quickest": int(np.lexsort((outlay, time))[0]),
        "strongest": int(np.lexsort((outlay, -force))[0]),
    }


def _asked(study: Study, owned: Sheet) -> Asked | None:
    changed = [name for category, name in study.fitted.items() if name != study.owned[category]]
    if not changed:
        return None
    sheet = sheet_of(fitted_machine(study), study.setting)
    units = {result.key: result.unit for result in RESULTS}

    def figure(of: Sheet, key: str) -> Figure:
        number = float(of.results[key])
        return number if math.isfinite(number) else None

    return {
        "parts": changed,
        "figures": [
            (result.title, result.unit, figure(sheet, result.key), figure(owned, result.key))
            for result in RESULTS
            if result.key in ASKED_RESULTS
        ],
        "sentences": [
            [
                (units[piece], figure(sheet, piece)) if place % 2 else piece
                for place, piece in enumerate(GAP.split(finding.template))
            ]
            for finding in FINDINGS
            if finding.holds(sheet.results)
        ],
        "crossed": [
            reading.limit.title
            for reading in sheet.limits
            if reading.limit.kind == "hard" and not bool(reading.kept)
        ],
    }


def _plan(pool: _Pool, sources: Sources) -> Designs | None:
    found = sources.steps
    if found.plan is None or len(found.plan.rows) < 2:
        return None
    machine = found.space.machine(found.plan.rows[1:])
    parts = _in_whole_lists(sources.study, found.space, found.plan.rows[1:])
    setting = sources.study.setting
    return _designs(pool, parts, sheet_of(machine, setting), machine, setting)


def address_mark(fingerprint: str, *machines: Designs | None) -> str:
    """Short digest of a study and of the machines that an address names by their numbers.

    One study has other machines with ``--fitted`` or ``--within``, which leave its fingerprint.
    """
    named = [fingerprint, *(designs and designs["parts"] for designs in machines)]
    return hashlib.sha256(json.dumps(named).encode()).hexdigest()[:12]


def report_content(
    study: Study,
    space: Space,
    answer: FrontAnswer,
    command: str,
    knowledge: Knowledge | None = None,
    sweeps: Sequence[Sweep] = (),
) -> Content:
    """Gather what the page shows. The same study and answer give the same content.

    Parameters
    ----------
    study
        The study asked about.
    space
        The machines that were searched.
    answer
        Front of that space; its run time is left out on purpose.
    command
        The call that gave it, as it was typed.
    knowledge
        What ranges rest on; that of the study where it is not given.
    sweeps
        Those to show; the usual ones where they are not given.
    """
    pool = _Pool()
    limits = limits_of(study.setting)
    titles = {limit.name: limit.title for limit in limits}
    categories = _categories(study)
    owned = sheet_of(owned_machine(study), study.setting)
    nearest: Designs | None = None
    if len(answer.indices) == 0 and len(answer.nearest) > 0:
        parts = _in_whole_lists(study, space, answer.nearest)
        machine = space.machine(answer.nearest)
        nearest = _designs(pool, parts, sheet_of(machine, study.setting), machine, study.setting)
    kinds = (
        {result.unit for result in RESULTS}
        | {limit.unit for limit in limits}
        | {"length", "temperature_difference"}
    )
    sources = Sources(study, space, answer, knowledge, sweeps)
    designs = _designs(
        pool,
        _in_whole_lists(study, space, answer.indices),
        answer.sheet,
        space.machine(answer.indices),
        study.setting,
    )
    plan = _plan(pool, sources)
    kinds |= {one.kind for found in sources.sweeps for one in found.dimensions}
    return {
        "study": {
            "name": study.name,
            "title": study.title,
            "notes": study.notes,
            "currency": study.currency,
            "units": study.system,
            "price_date": study.price_date,
            "fingerprint": study.fingerprint,
            "labour_rate": float(study.money.labour_rate),
        },
        "mark": address_mark(study.fingerprint, designs, nearest, plan),
        "provenance": {
            "version": optimise.__version__,
            "command": command,
            "constants": FITTED_CONSTANTS if study.corrected else STUDY_CONSTANTS,
            "proven": answer.proven,
            "why_not": answer.why_not,
            "designs_in_space": str(answer.designs_in_space),
            "designs_evaluated": int(answer.designs_evaluated),
        },
        "kinds": {
            kind: {system: scale_of(kind, system, study.currency) for system in SYSTEMS}
            for kind in sorted(kinds)
        },
        "categories": categories,
        "results": [
            {"key": result.key, "title": result.title, "unit": result.unit} for result in RESULTS
        ],
        "findings": [dataclasses.asdict(finding) for finding in FINDINGS],
        "limits": [
            {
                "name": limit.name,
                "title": limit.title,
                "sense": limit.sense,
                "unit": limit.unit,
                "kind": limit.kind,
                "source": limit.source,
                "advice": limit.advice,
            }
            for limit in limits
        ],
        "designs": designs,
        "owned": _designs(
            pool,
            np.array([[category["owned"] for category in categories]], dtype=np.intp),
            owned,
            owned_machine(study),
            study.setting,
        ),
        "plan": plan,
        "nearest": nearest,
        "columns": pool.columns,
        "blocking": [
            {
                "name": blocking.name,
                "title": titles[blocking.name],
                "crossed": blocking.crossed,
                "alone": blocking.alone,
            }
            for blocking in answer.blocking
        ],
        "alike": _alike(answer),
        "picks": picks_of(answer.sheet, owned),
        "asked": _asked(study, owned),
        "sections": sections_of(sources),
        "hands_s": rounded(study.setting.work.handling_time),
        "bench": bench_facts(study),
    }


def figure(content: Content, place: int, index: int) -> Figure:
    """One figure out of the pool: of a column, the one of a design."""
    column = content["columns"][place]
    return column[index] if isinstance(column, list) else column
