"""What the sections of the page are made of."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property

from optimise.report.charts import Said
from optimise.report.cycle_words import Cycles, cycles_of
from optimise.report.lineup_words import LineupReport, lineup_report
from optimise.report.next_steps import NextSteps, Wish, next_steps
from optimise.search.front import FrontAnswer
from optimise.search.knowledge import Knowledge, knowledge_of
from optimise.search.ranges import Ranges, ranges_of
from optimise.search.sweep import Sweep, sweep_along
from optimise.search.usual_sweeps import usual_dimensions
from optimise.study.model import Study
from optimise.study.space import Space, fitted_machine
from optimise.units import System

SYSTEMS: tuple[System, System] = ("us", "metric")


class Sources:
    """What sections are made of, each worked out once and when first asked for.

    ``knowledge`` is what ranges rest on; that of the study where it is not given. ``sweeps`` are
    those to show; the usual ones where they are not given.
    """

    def __init__(
        self,
        study: Study,
        space: Space,
        answer: FrontAnswer,
        knowledge: Knowledge | None = None,
        sweeps: Sequence[Sweep] = (),
    ) -> None:
        self.study, self.space, self.answer = study, space, answer
        self.knowledge = knowledge or knowledge_of(study)
        self.named_sweeps = tuple(sweeps)

    @cached_property
    def steps(self) -> NextSteps:
        """Steps and plan from the machine asked about, the parts put on for the call settled."""
        settled = {
            category: (name,)
            for category, name in self.study.fitted.items()
            if name != self.study.owned[category]
        }
        study = dataclasses.replace(self.study, allowed={**self.study.allowed, **settled})
        return next_steps(study, Wish())

    @cached_property
    def _places(self) -> dict[tuple[str, ...], int]:
        return {
            tuple(self.space.names(row).values()): nth
            for nth, row in enumerate(self.answer.indices)
        }

    def place_of(self, names: Mapping[str, str]) -> int | None:
        """Number of a machine among those of the page; None where it is not there."""
        return self._places.get(tuple(names.values()))

    @cached_property
    def sweeps(self) -> tuple[Sweep, ...]:
        """Sweeps from the machine asked about: those named, or the usual ones."""
        return self.named_sweeps or tuple(
            sweep_along(self.study, (dimension,), self.knowledge.belief)
            for dimension in usual_dimensions(self.study)
        )

    @cached_property
    def lineup(self) -> LineupReport | None:
        """Lines of models and kits; None where the study has no buyers."""
        if not self.study.buyers:
            return None
        steps = self.steps
        same = [one.names for one in steps.space.lists] == [one.names for one in self.space.lists]
        by_piece = steps.front if same else None
        return lineup_report(self.study, front=self.answer, by_piece=by_piece)

    @cached_property
    def cycles(self) -> Cycles:
        """The machine asked about over a cycle."""
        return cycles_of(self.study)

    @cached_property
    def ranges(self) -> Ranges | None:
        """Ranges of the machine asked about."""
        return ranges_of(fitted_machine(self.study), self.study.setting, self.knowledge)

    def said(self, words: Callable[[Study], Sequence[str]]) -> list[Said]:
        """Sentences in both unit systems."""
        each = {system: words(dataclasses.replace(self.study, system=system)) for system in SYSTEMS}
        return [
            [dict(zip(SYSTEMS, pair, strict=True))] for pair in zip(*each.values(), strict=True)
        ]
