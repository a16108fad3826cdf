"""Machines of a study: the one owned, the one asked about, and all that the lists allow."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Column, Lanes
from optimise.errors import CallError, quoted
from optimise.machine.parts import CATEGORIES, Machine, Part, take
from optimise.study.fault_words import meant
from optimise.study.model import PriceList, Study
from optimise.study.pricelists import outlay


def _index(prices: PriceList, name: str) -> int:
    if name not in prices.names:
        hint = meant(name, prices.names)
        message = f"no part {quoted(name)} in the list {prices.category}"
        raise CallError(f"{message}; {hint}" if hint else message)
    return prices.names.index(name)


def _part(prices: PriceList, name: str) -> Part:
    """One part of a list, every field a float."""
    columns = vars(prices.parts)
    at = _index(prices, name)
    values: dict[str, Any] = {field: float(column[at]) for field, column in columns.items()}
    return type(prices.parts)(**values)


def _machine(parts: Mapping[str, Part]) -> Machine:
    filled: dict[str, Any] = {category: parts[category] for category in CATEGORIES}
    return Machine(**filled)


def machine_of(study: Study, names: Mapping[str, str]) -> Machine:
    """One machine out of named parts, every field a float.

    Parameters
    ----------
    names
        Part of each category; a category left out takes the part owned.

    Raises
    ------
    CallError
        A name or a category that the study does not have.
    """
    for category in names:
        if category not in CATEGORIES:
            raise CallError(f"no part category {quoted(category)}; {meant(category, CATEGORIES)}")
    return _machine(
        {
            category: _part(prices, names.get(category, study.owned[category]))
            for category, prices in study.lists.items()
        }
    )


def owned_machine(study: Study) -> Machine:
    """Return the machine as it stands today."""
    return machine_of(study, study.owned)


def fitted_machine(
    study: Study, columns: Mapping[str, Mapping[str, Column]] | None = None
) -> Machine:
    """Return the machine asked about: parts and fields changed for this call included.

    A changed price, fitting time or resale counts in the outlay of a part that is not owned.

    Parameters
    ----------
    columns
        More fields to change, by category and field: one number or a column each.
    """
    machine = machine_of(study, study.fitted)
    parts: dict[str, Part] = {}
    for category in CATEGORIES:
        part: Part = getattr(machine, category)
        varied = (columns or {}).get(category, {})
        values = {**vars(part), **study.overrides.get(category, {}), **varied}
        if study.fitted[category] != study.owned[category]:
            back = _part(study.lists[category], study.owned[category]).resale
            values["outlay"] = outlay(
                values["price"], values["fitting_time"], study.money.labour_rate, float(back)
            )
        parts[category] = type(part)(**values)
    return _machine(parts)


class Space:
    """All machines that take one part out of each list, numbered by the positions of their parts.

    Parameters
    ----------
    lists
        One list for every category, in any order.
    """

    def __init__(self, lists: Sequence[PriceList]) -> None:
        by_category = {prices.category: prices for prices in lists}
        if len(by_category) != len(lists) or set(by_category) != set(CATEGORIES):
            raise ValueError("a space needs one price list for each part category")
        self.lists = tuple(by_category[category] for category in CATEGORIES)

    @property
    def categories(self) -> tuple[str, ...]:
        """Part categories, in the order of the columns of indices."""
        return tuple(CATEGORIES)

    @property
    def sizes(self) -> tuple[int, ...]:
        """Number of parts in each category."""
        return tuple(len(prices.names) for prices in self.lists)

    @property
    def size(self) -> int:
        """Number of machines, exact however large."""
        return math.prod(self.sizes)

    def machine(self, indices: NDArray[np.intp]) -> Machine:
        """Machines as columns of shape (n,).

        Parameters
        ----------
        indices
            Positions in the lists, shape (n, number of categories).
        """
        lanes: Lanes = np.asarray(indices, dtype=np.intp)
        if lanes.ndim != 2 or lanes.shape[1] != len(self.lists):
            raise ValueError(f"indices must have shape (n, {len(self.lists)}), not {lanes.shape}")
        return _machine(
            {
                prices.category: take(prices.parts, lanes[:, column])
                for column, prices in enumerate(self.lists)
            }
        )

    def names(self, row: Sequence[int] | NDArray[np.intp]) -> dict[str, str]:
        """Part names of one machine given by its positions."""
        return {
            prices.category: prices.names[int(position)]
            for prices, position in zip(self.lists, row, strict=True)
        }

    def indices_of(self, names: Mapping[str, str]) -> tuple[int, ...]:
        """Positions of named parts, one for each category; ``CallError`` for an unknown name."""
        absent = [category for category in CATEGORIES if category not in names]
        if absent:
            raise CallError(f"no part named for {', '.join(absent)}")
        return tuple(_index(prices, names[prices.category]) for prices in self.lists)


def space_of(study: Study) -> Space:
    """Space of a study: its lists, cut down to the names allowed."""
    lists = []
    for category, prices in study.lists.items():
        kept = study.allowed[category]
        lanes = np.array([prices.names.index(name) for name in kept], dtype=np.intp)
        lists.append(PriceList(category=category, names=kept, parts=take(prices.parts, lanes)))
    return Space(lists)


def searched_space(study: Study) -> Space:
    """Space that a search goes through: a part put on for this call is taken as settled.

    Raises
    ------
    CallError
        A single field was changed for this call: such a part is in no list.
    """
    _refuse_overrides(study)
    settled = {
        category: (name,)
        for category, name in study.fitted.items()
        if name != study.owned[category]
    }
    return space_of(dataclasses.replace(study, allowed={**study.allowed, **settled}))


def upgrade_space(study: Study) -> tuple[Space, tuple[int, ...]]:
    """Space of upgrades, which holds the machine asked about, and the place of that machine.

    Raises
    ------
    CallError
        A single field was changed for this call: such a part is in no list.
    """
    _refuse_overrides(study)
    allowed = {
        category: tuple(
            name
            for name in prices.names
            if name in study.allowed[category] or name == study.fitted[category]
        )
        for category, prices in study.lists.items()
    }
    space = space_of(dataclasses.replace(study, allowed=allowed))
    return space, space.indices_of(study.fitted)


def _refuse_overrides(study: Study) -> None:
    faults = [
        f"--set {changed}.{field}=...: a search takes parts from the price lists; put a row "
        f"with this {field.replace('_', ' ')} into {changed}.csv, or ask check"
        for changed, fields in study.overrides.items()
        for field in fields
    ]
    if faults:
        raise CallError("\n".join(faults))
