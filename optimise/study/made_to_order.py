"""Machines with some numbers free between two ends: parts made to order beside those of the lists.

A category with a free number is settled: it is the part put on, and its price stays what the list
says, whatever the number.
"""

from __future__ import annotations

import dataclasses
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Column
from optimise.errors import CallError, Fault, StudyError
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.study.dimensions import Dimension, read_dimensions, setting_at
from optimise.study.model import Study
from optimise.study.space import Space, fitted_machine, space_of

FREE_OF_SETTING = re.compile(r"frame\.(drive_ratio|suction_head)|lines\.\w+\.(length|turns)")
"""Numbers besides the parts that a builder chooses. The stroke is none: a shorter one is quicker
and splits shorter logs."""


@dataclass(frozen=True)
class MadeToOrder:
    """A space of machines: positions in price lists, and free numbers.

    Attributes
    ----------
    study, space
        The study, and its lists with one part where a number of the part is free.
    free
        What the numbers mean; the first and the last of its values are the ends.
    """

    study: Study
    space: Space
    free: tuple[Dimension, ...]

    @property
    def low(self) -> Array:
        """Lower ends in SI."""
        return np.array([one.values[0] for one in self.free if one.values is not None])

    @property
    def high(self) -> Array:
        """Upper ends in SI."""
        return np.array([one.values[-1] for one in self.free if one.values is not None])

    @property
    def settled(self) -> dict[str, str]:
        """Part in each category with a free number."""
        return {one.category: self.study.fitted[one.category] for one in self.free if one.category}

    def column(self, rows: NDArray[np.intp], numbers: Array) -> tuple[Machine, Setting]:
        """Machines as columns of shape (n,), and the setting they stand in.

        Parameters
        ----------
        rows
            Positions in the lists, shape (n, categories).
        numbers
            Free numbers in SI, shape (n, free).
        """
        machine, setting = self.space.machine(rows), self.study.setting
        for one, values in zip(self.free, numbers.T, strict=True):
            if one.of_setting:
                setting = _changed(one, values, setting)
            else:
                part = dataclasses.replace(getattr(machine, one.category), **{one.steps[1]: values})
                machine = dataclasses.replace(machine, **{one.category: part})
        return machine, setting

    def listed_at(self, numbers: Array) -> tuple[Space, Setting]:
        """Price lists and setting with every free number held at one value."""
        setting, lists = self.study.setting, {one.category: one for one in self.space.lists}
        for one, value in zip(self.free, numbers, strict=True):
            if one.of_setting:
                setting = _changed(one, float(value), setting)
            else:
                prices = lists[one.category]
                parts = dataclasses.replace(prices.parts, **{one.steps[1]: np.array([value])})
                lists[one.category] = dataclasses.replace(prices, parts=parts)
        return Space(tuple(lists.values())), setting

    def numbers_now(self) -> Array:
        """Free numbers of the machine asked about, moved to the nearer end where outside."""
        machine, values = fitted_machine(self.study), []
        for one in self.free:
            owner: object = self.study.setting if one.of_setting else machine
            for step in one.steps:
                owner = getattr(owner, step)
            values.append(float(np.asarray(owner)))
        now: Array = np.clip(np.array(values), self.low, self.high)
        return now


def _changed(one: Dimension, value: Column, setting: Setting) -> Setting:
    changed = setting_at(one, value, setting)
    if changed is None:
        raise ValueError(f"{one.key} is not a number of the setting by itself")
    return changed


def read_made_to_order(
    path: str | os.PathLike[str], sets: Sequence[str], study: Study, texts: Sequence[str]
) -> MadeToOrder:
    """Space of a study in which the ranges written are free.

    Raises
    ------
    StudyError
        With every fault of all ranges.
    CallError
        A field was changed for this call beside a free number of the same part.
    """
    free = read_dimensions(path, sets, study, texts, (2, 2), "range")
    faults = [
        Fault("", f"range {one.text}", found, expected)
        for one in free
        if (found := _no_range(one))
        for expected in [
            "a range of a number of a part, of a line or of the drive, such as "
            '"rod.diameter=1.5..3.5 in" or "lines.return_line.length=3..12 ft"'
        ]
    ]
    if faults:
        raise StudyError(faults)
    kept = {one.category: (study.fitted[one.category],) for one in free if one.category}
    put_on = {
        category: (name,)
        for category, name in study.fitted.items()
        if name != study.owned[category]
    }
    if study.overrides:
        changed = next(iter(study.overrides))
        raise CallError(
            f"--set {changed}.*: a search with ranges takes whole parts; write the number as a "
            "range, or put a row with it into the price list"
        )
    lists = space_of(dataclasses.replace(study, allowed={**study.allowed, **put_on, **kept}))
    return MadeToOrder(study, lists, free)


def _no_range(one: Dimension) -> str:
    """What is wrong with a dimension as a range; "" where nothing is."""
    if one.values is None:
        return "names"
    if ".." not in one.text or " by " in one.text:
        return "single values" if ".." not in one.text else "a range with steps"
    if one.of_setting and not FREE_OF_SETTING.fullmatch(one.key):
        return "a number that no search may choose"
    return ""
