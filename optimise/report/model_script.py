"""The model as a script of the page, and the numbers of a study that it works with."""

from __future__ import annotations

import dataclasses
import functools
import math
from typing import Any, TypedDict

import numpy as np

from optimise.machine import parts as parts_module
from optimise.machine import setting as setting_module
from optimise.machine.wood import levels_of
from optimise.report.translated_code import MANY
from optimise.report.translated_names import RUN_TIME, Counterparts, dotted_name, script_name
from optimise.report.translator import translate
from optimise.study.model import Study

_NUMPY = {
    "abs": 1, "any": 1, "asarray": 1, "broadcast_to": 2, "clip": 3, "cos": 1, "fmin": 2,
    "isfinite": 1, "isnan": 1, "log10": 1, "maximum": 2, "minimum": 2, "power": 2,
    "sin": 1, "sqrt": 1, "where": 3,
}  # fmt: skip
_BUILTINS = {
    "float": 1, "getattr": 2, "len": 1, "list": 1, "next": 1, "range": 1,
    "reversed": 1, "sum": 1, "tuple": 1,
}  # fmt: skip
_COLUMNS = {
    "map_columns": 2, "shape_of": 1, "spread_to": 2, "together": 3, "where_any": 3,
}  # fmt: skip
_SEVERAL = {"builtins.max": "max", "builtins.min": "min", "builtins.zip": "zip"}
"""Functions of two things or more."""
_SINGLE = {
    **{f"numpy.{name}": (name, count) for name, count in _NUMPY.items()},
    **{f"builtins.{name}": (name, count) for name, count in _BUILTINS.items()},
    **{f"optimise.columns.{name}": (name, count) for name, count in _COLUMNS.items()},
    "math.sqrt": ("sqrt", 1),
    "dataclasses.replace": ("replace", 1),
    "optimise.columns.as_column": ("asarray", 1),
    "optimise.columns.as_numbers": ("asarray", 1),
    "optimise.elementary.cosine": ("cos", 1),
    "optimise.elementary.log10": ("log10", 1),
    "optimise.elementary.power": ("power", 2),
    "optimise.elementary.sine": ("sin", 1),
    "optimise.compiled.kernels.compiled": ("compiled", 2),
    "optimise.compiled.kernels.quick": ("quick", 3),
    "optimise.normal.share_below": ("share_below", 1),
    "optimise.roots.guessed": ("guessed", 2),
    "optimise.roots.keep": ("keep", 3),
    "optimise.roots.trail_of": ("trail_of", 3),
    "optimise.machine.wood.levels_of": ("levels_of", 1),
}
"""Names in the run-time, and how many arguments they take."""

COUNTERPARTS = Counterparts(
    names={
        **{dotted: f"{RUN_TIME}.{name}" for dotted, (name, _) in _SINGLE.items()},
        **{dotted: f"{RUN_TIME}.{name}" for dotted, name in _SEVERAL.items()},
        "optimise.roots.solve_falling": f"{RUN_TIME}.solve_falling",
        "numpy.inf": "Infinity",
        "numpy.nan": "NaN",
        "math.pi": repr(math.pi),
    },
    arguments={
        **{dotted: (count, count) for dotted, (_, count) in _SINGLE.items()},
        **{dotted: (1 if name == "zip" else 2, MANY) for dotted, name in _SEVERAL.items()},
        "optimise.roots.solve_falling": (6, 9),
    },
    methods={"any": 0, "append": 1, "get": 1, "lower": 0, "upper": 0},
    ignored=frozenset({"dtype", "strict"}),
    keywords=frozenset({"dataclasses.replace"}),
    fields=frozenset({"dataclasses.field", "optimise.machine.quantities.quantity"}),
    contexts=frozenset({"numpy.errstate"}),
)


def _dataclasses_of(module: object) -> list[str]:
    return [
        dotted_name(value)
        for value in vars(module).values()
        if isinstance(value, type)
        and dataclasses.is_dataclass(value)
        and value.__module__ == getattr(module, "__name__", "")
    ]


@functools.cache
def model_script() -> str:
    """Evaluation of one machine, its results and its limits, in JavaScript."""
    entries = [
        "optimise.machine.sheet.sheet_of",
        "optimise.machine.wood.WorkLevels",
        "optimise.roots.MOST_STEPS",
        *_dataclasses_of(setting_module),
        *_dataclasses_of(parts_module),
    ]
    return translate(entries, ("optimise",), COUNTERPARTS)


class ListFacts(TypedDict):
    """A price list: class of its parts in the script, and one column for each field."""

    kind: str
    columns: dict[str, list[Any]]


class BenchFacts(TypedDict):
    """What the model in the page works with, at full precision.

    ``setting`` and ``levels`` (of the wood mix) are trees (:func:`told`), ``lists`` stand in the
    order of the page's categories.
    """

    setting: Any
    levels: Any
    lists: list[ListFacts]


def told(value: object) -> Any:
    """Tree of dataclasses, tuples, dicts and numbers for JSON.

    ``["=", module$class, {field: ...}]`` is an object, ``["()", ...]`` a tuple, ``["{}", ...]`` a
    dict as its pairs, ``["#", text]`` a number that is not finite.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return [
            "=",
            script_name(dotted_name(type(value))),
            {key: told(part) for key, part in vars(value).items()},
        ]
    if isinstance(value, tuple):
        return ["()", *(told(part) for part in value)]
    if isinstance(value, dict):
        return ["{}", *([told(key), told(part)] for key, part in value.items())]
    if value is None or isinstance(value, (str, bool)):
        return value
    number = float(np.asarray(value, dtype=np.float64)[()])
    return number if math.isfinite(number) else ["#", repr(number)]


def bench_facts(study: Study) -> BenchFacts:
    """Setting, wood and price lists of a study."""
    return {
        "setting": told(study.setting),
        "levels": told(levels_of(study.setting)),
        "lists": [
            {
                "kind": script_name(dotted_name(type(prices.parts))),
                "columns": {
                    field.name: [told(one) for one in np.asarray(getattr(prices.parts, field.name))]
                    for field in dataclasses.fields(prices.parts)
                },
            }
            for prices in study.lists.values()
        ],
    }
