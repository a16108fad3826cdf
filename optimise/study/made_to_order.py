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
from optimise.machine.parts import CATEGORIES, Machine
from optimise.machine.quantities import quantities
from optimise.machine.setting import Frame, Line, Setting
from optimise.study.dimensions import Dimension, read_dimensions, setting_at
from optimise.study.model import Study
from optimise.study.space import Space, fitted_machine, space_of
from optimise.units import System, show

FREE_OF_SETTING = re.compile(r"frame\.(drive_ratio|suction_head)|lines\.\w+\.(length|turns)")
"""Numbers besides the parts that a builder chooses. The stroke is none: a shorter one is quicker
and splits shorter logs."""
_NOTED = re.compile(r"\d+(?:\.\d+)?(?:e[-+]?\d+)?")


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


def ranges_noted(made: MadeToOrder) -> str:
    """Free numbers and their ends in SI, to the last bit."""
    ends = zip(made.free, made.low, made.high, strict=True)
    return " ".join(f"{one.key}={low!r}..{high!r}" for one, low, high in ends)


def ranges_told(noted: str, system: System) -> str:
    """Ranges as a person writes them, from what was noted of them.

    Examples
    --------
    >>> ranges_told("rod.diameter=0.0381..0.0762 frame.drive_ratio=0.5..2.0", "us")
    'rod.diameter=1.5 in..3 in, frame.drive_ratio=0.5..2'
    """
    said = []
    for one in noted.split():
        key, _, ends = one.partition("=")
        kind = _kind_of(key)
        numbers = _NOTED.findall(ends.replace("np.float64", ""))
        told = [number if kind is None else show(float(number), kind, system) for number in numbers]
        said.append(f"{key}={'..'.join(told)}")
    return ", ".join(said)


def _kind_of(key: str) -> str | None:
    """Kind of unit of a number that may be free."""
    head, *_, last = key.split(".")
    owner = {**CATEGORIES, "frame": Frame, "lines": Line}.get(head)
    spec = None if owner is None else quantities(owner).get(last)
    return None if spec is None else spec.kind


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
