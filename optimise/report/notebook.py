"""From Python: load a study, evaluate a machine, find a front, and see each in a notebook.

``import optimise`` offers these under its own name, each loaded when it is first asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from pathlib import Path
from typing import Literal

import numpy as np

from optimise.machine.limits import Kind
from optimise.machine.results import RESULTS
from optimise.machine.sheet import LimitReading, Sheet, sheet_of
from optimise.report.text import (
    by_margin,
    changed_parts,
    findings_of,
    limit_row,
    percent,
    spread,
    written,
)
from optimise.search.alike import apart
from optimise.search.front import OBJECTIVES, FrontAnswer, find_front
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.study.space import Space, fitted_machine, searched_space

SHOWN = (
    "cycle.total_s",
    "cycle.extend_s",
    "cycle.retract_s",
    "cycle.loaded_total_s",
    "force_N",
    "oil.steady_degC",
    "engine.mean_power_W",
    "work.pieces_per_h",
    "cost.outlay",
)
"""Results that a notebook shows; all of them are in :attr:`Machine.results`."""
TIGHTEST = 12
"""Limits that a notebook shows, and more where more are crossed."""
TITLES = {result.key: result.title for result in RESULTS}
ESTIMATES = (
    "Estimates, not a certificate: local codes, the makers and licensed practice decide. Never "
    "feel for a leak; keep hands from wedge and plate."
)


@dataclass(frozen=True)
class Limit:
    """One limit of a machine.

    Attributes
    ----------
    name, title, kind, advice
        Key, words, ``hard`` or ``advisory``, and what to change when it is crossed.
    value, bound
        What is held against what, SI.
    margin
        Distance to the bound as a share of it; below 0 the limit is crossed.
    """

    name: str
    title: str
    kind: Kind
    value: float
    bound: float
    margin: float
    advice: str

    @property
    def kept(self) -> bool:
        """Whether it is kept; an unknown margin is not."""
        return self.margin >= 0.0


@dataclass(frozen=True)
class Machine:
    """One machine of a study, evaluated.

    Attributes
    ----------
    study
        As it was loaded.
    parts
        Name of its part in each category.
    sheet
        Its results and limits, each a single number.
    """

    study: Study
    parts: Mapping[str, str]
    sheet: Sheet

    def __getitem__(self, key: str) -> float:
        """Result by its key, SI, such as ``machine["cycle.total_s"]``."""
        return float(self.sheet.results[key])

    @property
    def results(self) -> dict[str, float]:
        """Every result by its key, SI with absolute temperatures."""
        return {key: float(value) for key, value in self.sheet.results.items()}

    @property
    def limits(self) -> tuple[Limit, ...]:
        """Every limit, that with the least margin first."""
        return tuple(
            Limit(
                reading.limit.name,
                reading.limit.title,
                reading.limit.kind,
                float(reading.value),
                float(reading.bound),
                float(reading.margin),
                reading.limit.advice,
            )
            for reading in sorted(self.sheet.limits, key=by_margin)
        )

    @property
    def safe(self) -> bool:
        """Whether every hard limit is kept."""
        return bool(self.sheet.feasible)

    def __repr__(self) -> str:
        """Cycle, force and whether it may be run, on one line."""
        cycle, force = (self._written(key) for key in ("cycle.total_s", "force_N"))
        return f"<Machine of {self.study.name}: cycle {cycle}, force {force}, {self._verdict()}>"

    def _repr_html_(self) -> str:
        """The machine as a notebook shows it."""
        told = self._told_limits()
        crossed = sum(not reading.kept for reading in told)
        shown = told[: max(crossed, TIGHTEST)]
        limits = [limit_row(reading, self.study.system) for reading in shown]
        verdict = self._verdict()
        said = [
            f"The {len(shown)} limits nearest to their bound are shown; the other "
            f"{len(told) - len(shown)} are kept.",
            *findings_of(self.sheet, self.study.system),
            f"{verdict[0].upper()}{verdict[1:]}.",
            ESTIMATES,
        ]
        return "".join(
            (
                _caption(self.study),
                _table(("part", "on the machine"), _spaced(self.parts.items())),
                _table(("result", "value"), [(TITLES[key], self._priced(key)) for key in SHOWN]),
                _table(("limit", "value", "bound", "margin", ""), limits),
                *(f"<p>{escape(sentence)}</p>" for sentence in said),
            )
        )

    def _written(self, key: str) -> str:
        return written(self.sheet, key, self.study.system)

    def _priced(self, key: str) -> str:
        words = self._written(key)
        return f"{words} {self.study.currency}" if key == "cost.outlay" else words

    def _told_limits(self) -> list[LimitReading]:
        return [
            reading
            for reading in sorted(self.sheet.limits, key=by_margin)
            if reading.limit.name != "solution_found" or not reading.kept
        ]

    def _verdict(self) -> str:
        if self.safe:
            return "all hard limits kept"
        crossed = [one.title.lower() for one in self.limits if one.kind == "hard" and not one.kept]
        return f"crosses {', '.join(crossed)}: do not run it like this"


@dataclass(frozen=True)
class Front(Sequence[Machine]):
    """Machines of the price lists than which none is quicker without being weaker or dearer.

    A sequence of :class:`Machine`, the quickest first.

    Attributes
    ----------
    study
        As it was loaded.
    answer
        What the search found, and whether that is proven.
    """

    study: Study
    space: Space
    answer: FrontAnswer

    def __len__(self) -> int:
        """Number of machines."""
        return len(self.answer.indices)

    def __getitem__(self, at: int) -> Machine:  # type: ignore[override]
        """One machine; -1 is the last."""
        lane = range(len(self))[at]
        return Machine(
            self.study, self.space.names(self.answer.indices[lane]), self.answer.sheet.lane(lane)
        )

    def __iter__(self) -> Iterator[Machine]:
        """Each machine, the quickest first."""
        return (self[lane] for lane in range(len(self)))

    @property
    def proven(self) -> bool:
        """Whether no machine of the lists is missing."""
        return self.answer.proven

    @property
    def objectives(self) -> dict[str, list[float]]:
        """Cycle time [s], force [N] and outlay of each machine, by result key, as columns."""
        return {key: np.asarray(self.answer.sheet.results[key]).tolist() for key in OBJECTIVES}

    def __repr__(self) -> str:
        """How many machines of how many."""
        proof = "proven" if self.proven else "not proven"
        return f"<Front of {self.study.name}: {self._covers()}, {proof}>"

    def _repr_html_(self) -> str:
        """The front as a notebook shows it: some machines that stand for all."""
        if not len(self):
            return f"{_caption(self.study)}<p>No machine keeps every hard limit.</p>"
        view = apart(self.answer)
        system, sheet = self.study.system, self.answer.sheet
        rows = [
            (
                *(_unbroken(written(sheet, key, system, (lane,))) for key in OBJECTIVES),
                percent(float(sheet.least_margin[lane])),
                changed_parts(self.study, self.space, self.answer, lane),
            )
            for lane in view.shown[spread(len(view.shown))]
        ]
        outlay = f"outlay, {self.study.currency}"
        heads = ("cycle", "force", outlay, "least margin", "parts that change")
        said = (
            f"{self._covers()}: none of the lists is quicker without being weaker or dearer. "
            f"{len(rows)} of them are shown. {ESTIMATES}"
        )
        return f"{_caption(self.study)}{_table(heads, rows)}<p>{escape(said)}</p>"

    def _covers(self) -> str:
        return f"{len(self):,} machines worth a look out of {self.answer.designs_in_space:,}"


def _caption(study: Study) -> str:
    return f"<p><strong>{escape(study.title or study.name)}</strong></p>"


def _unbroken(words: str) -> str:
    """A number that stays on one line with its unit."""
    return words.replace(" ", "\u00a0")


def _spaced(rows: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    return [(key.replace("_", " "), value) for key, value in rows]


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Table of words, each escaped: a name out of a price list is never markup."""
    top = "".join(f'<th scope="col">{escape(head)}</th>' for head in heads)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows
    )
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def load(path: str | Path, *changes: str, units: Literal["us", "metric"] | None = None) -> Study:
    """Study of a folder or its study.toml.

    Parameters
    ----------
    path
        Study folder or file.
    changes
        What ``--set`` takes: "rod=2.5 in rod, 75 ksi", "surroundings.altitude=1500 m".
    units
        System in which answers are shown; that of the study by default.

    Raises
    ------
    StudyError
        Lists every fault with its place.
    """
    study = load_study(Path(path), changes)
    return study if units is None else replace(study, system=units)


def evaluate(study: Study) -> Machine:
    """The machine asked about: that on the study's frame, with the changes it was loaded with."""
    return Machine(study, dict(study.fitted), sheet_of(fitted_machine(study), study.setting))


def front(study: Study) -> Front:
    """Exact front of cycle time, force and outlay over the study's price lists."""
    space = searched_space(study)
    return Front(study, space, find_front(space, study.setting))
