"""What is swept: enough to work out the machine at any point of one or two dimensions."""

from __future__ import annotations

import dataclasses
import itertools
import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimise.machine.parts import Machine, take
from optimise.study.dimensions import Dimension, setting_at, study_at
from optimise.study.model import Study
from optimise.study.space import fitted_machine

Place = tuple[int, ...]
"""A point: its position along each dimension."""


@dataclass(frozen=True)
class Question:
    """Dimensions, and the study that they vary."""

    path: str | os.PathLike[str]
    sets: Sequence[str]
    study: Study
    dimensions: tuple[Dimension, ...]

    @property
    def setting_places(self) -> list[int]:
        """Dimensions that are no parts."""
        return [place for place, one in enumerate(self.dimensions) if one.of_setting]

    @property
    def part_places(self) -> list[int]:
        """Dimensions of parts and their numbers."""
        return [place for place, one in enumerate(self.dimensions) if not one.of_setting]

    def study_on(self, line: dict[int, int]) -> Study:
        """Study with a point of each dimension of the setting put in."""
        study = self.study
        sets = list(self.sets)
        for place, nth in line.items():
            dimension = self.dimensions[place]
            setting = (
                None
                if dimension.values is None
                else setting_at(dimension, float(dimension.values[nth]), study.setting)
            )
            if setting is None:
                study = study_at(dimension, nth, study, self.path, sets)
            else:
                study = dataclasses.replace(study, setting=setting)
            sets.append(dimension.change(nth))
        return study

    def machine(self, study: Study, places: dict[int, Any]) -> Machine:
        """Machine with points of part dimensions put in: numbers in SI, or list positions."""
        columns: dict[str, dict[str, Any]] = {}
        whole: dict[str, Any] = {}
        for place, points in places.items():
            dimension = self.dimensions[place]
            if dimension.of_parts:
                names = study.lists[dimension.key].names
                at = np.array([names.index(name) for name in dimension.names], dtype=np.intp)
                whole[dimension.key] = take(study.lists[dimension.key].parts, at[points])
            else:
                category, *field = dimension.steps
                columns.setdefault(category, {})[".".join(field)] = points
        return dataclasses.replace(fitted_machine(study, columns), **whole)

    def grid(self) -> dict[int, Any]:
        """Points of the part dimensions, each along its own axis of the answer."""
        found: dict[int, Any] = {}
        for place in self.part_places:
            dimension = self.dimensions[place]
            shape = [1] * len(self.dimensions)
            shape[place] = len(dimension)
            column: Any = (
                np.arange(len(dimension)) if dimension.values is None else dimension.values
            )
            found[place] = column.reshape(shape)
        return found

    def points(self, spots: Sequence[Place]) -> dict[int, Any]:
        """Points of the part dimensions at some places of the answer, in one column."""
        found: dict[int, Any] = {}
        for place in self.part_places:
            at = np.array([spot[place] for spot in spots], dtype=np.intp)
            numbers = self.dimensions[place].values
            found[place] = at if numbers is None else numbers[at]
        return found

    def kept_numbers(self) -> list[int]:
        """Numbers of parts beside whole parts: these are compared with the number as it is there.

        None where no whole part varies.
        """
        if not any(one.of_parts for one in self.dimensions):
            return []
        return [place for place in self.part_places if not self.dimensions[place].of_parts]

    def base(self, study: Study, points: dict[int, Any]) -> Machine:
        """Machine asked about with points of :meth:`kept_numbers` put in."""
        return self.machine(study, {place: points[place] for place in self.kept_numbers()})

    def lines(self) -> list[dict[int, int]]:
        """Every combination of points of the setting."""
        ranges = [range(len(self.dimensions[place])) for place in self.setting_places]
        return [
            dict(zip(self.setting_places, chosen, strict=True))
            for chosen in itertools.product(*ranges)
        ]
