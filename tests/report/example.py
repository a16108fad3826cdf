"""Reports to test with: the starter study, with hostile words, with nothing feasible, and large."""

from __future__ import annotations

import copy
import dataclasses
import fcntl
import functools
import json
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from optimise.machine.setting import Setting, UserLimit
from optimise.report.content import Content, address_mark, report_content
from optimise.search.front import find_front
from optimise.study.load import load_study
from optimise.study.model import Buyers, PriceList, Study
from optimise.study.space import space_of
from optimise.study.starter import write_starter

MARKUP = "</script><img src=x onerror=alert(1)>"
LINK = '<a href="javascript:alert(2)">cheap & cheerful</a>'
TURNED = "bore \u202e\u2067mm 09 \u2066\u200f"
LONG = "x" * 10_000
FORMULA = '=HYPERLINK("file:///etc/passwd")'
PLUS, AT, MINUS, TAB = "+1 pump", "@pump", "-2 pump", "\tpump"
SHARED = "RAMFRONT_TESTS_SHARED"
"""Variable with the folder of what the workers of a run share; without it all is made anew."""
COMMAND = "ramfront report studies/starter"
BUYERS = (
    Buyers(name="weekend owners", number=40.0, longest_cycle=14.0, highest_price=3000.0),
    Buyers(
        name="firewood dealers", number=15.0, longest_cycle=9.0, highest_price=4500.0,
        least_force=9e4,
    ),
    Buyers(name="wishers", number=5.0, longest_cycle=0.5, highest_price=5000.0),
)  # fmt: skip


@functools.cache
def starter() -> Study:
    """The starter study, loaded from files of its own."""
    with tempfile.TemporaryDirectory() as folder:
        write_starter(Path(folder) / "starter")
        return load_study(Path(folder) / "starter")


def renamed(study: Study, names: dict[str, tuple[str, ...]]) -> Study:
    """Study in which the first parts of some categories have other names."""
    lists = dict(study.lists)
    for category, words in names.items():
        prices = lists[category]
        lists[category] = dataclasses.replace(prices, names=(*words, *prices.names[len(words) :]))

    def new(category: str, name: str) -> str:
        return lists[category].names[study.lists[category].names.index(name)]

    return dataclasses.replace(
        study,
        lists=lists,
        owned={category: new(category, name) for category, name in study.owned.items()},
        fitted={category: new(category, name) for category, name in study.fitted.items()},
        allowed={
            category: tuple(new(category, name) for name in some)
            for category, some in study.allowed.items()
        },
    )


def limited(study: Study, limit: UserLimit) -> Setting:
    """Setting of a study with one more limit of its own."""
    limits = (*study.setting.user_limits, limit)
    return dataclasses.replace(study.setting, user_limits=limits)


def content_of(study: Study) -> Content:
    """Content of the page of a study."""
    space = space_of(study)
    return report_content(study, space, find_front(space, study.setting), COMMAND)


def selling_study() -> Study:
    """The starter with groups of buyers."""
    return dataclasses.replace(starter(), buyers=BUYERS)


def starter_content() -> Content:
    """Content of the page of the starter with buyers; every call gives a copy."""
    return kept_content(selling_study)


def kept_content(study: Callable[[], Study]) -> Content:
    """Content of the page of a study of this module, made once in a run; each call gives a copy."""
    content: Content = json.loads(_kept(study))
    return content


def dear_content() -> Content:
    """The starter's content with a thousand times as much of another money."""
    content = starter_content()
    for scale in content["kinds"]["money"].values():
        scale["scale"] = 1e-3
    words = "Ask check, front and report with --no-such-option, front and report with --fitted."
    content["sections"][0]["notes"].append([{"us": words, "metric": words}])
    return content


@functools.cache
def _kept(study: Callable[[], Study]) -> str:
    """By the first process of a run that needs it: building one takes seconds."""
    if SHARED not in os.environ:
        return json.dumps(content_of(study()))
    kept = Path(os.environ[SHARED]) / f"{study.__name__}.json"
    with kept.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.exists():
            kept.write_text(json.dumps(content_of(study())), encoding="utf-8")
    return kept.read_text(encoding="utf-8")


def hostile_study() -> Study:
    """The starter with words that try to be markup, formulas, endless or turned round."""
    study = renamed(
        starter(),
        {
            "pump": (FORMULA, PLUS, AT, MINUS),
            "bore": (TURNED, LINK),
            "rod": (MARKUP, LONG),
            "engine": (TAB,),
        },
    )
    limit = UserLimit(
        name=MARKUP, result="cycle.total_s", at_most=100.0, kind="advisory", advice=LINK
    )
    return dataclasses.replace(
        study,
        title=f"{MARKUP} {LONG}",
        name="<b>starter</b>",
        buyers=tuple(dataclasses.replace(one, name=f"{MARKUP} {one.name}") for one in BUYERS[:2]),
        notes=f"{LINK} {TURNED}",
        currency="<i>$</i>",
        setting=limited(study, limit),
    )


def empty_study() -> Study:
    """The starter with a limit that no machine keeps."""
    study = starter()
    limit = UserLimit(name="half a second", result="cycle.total_s", at_most=0.5)
    return dataclasses.replace(study, setting=limited(study, limit))


def single_study() -> Study:
    """The starter with one part in each list."""
    study = starter()
    lists = {
        category: PriceList(category=category, names=prices.names, parts=prices.parts)
        for category, prices in study.lists.items()
    }
    allowed = {category: (name,) for category, name in study.owned.items()}
    return dataclasses.replace(study, lists=lists, allowed=allowed)


def made_up(count: int) -> Content:
    """Content with so many designs whose every figure is made up: no two columns alike."""
    content = copy.deepcopy(starter_content())
    chance = np.random.default_rng(5)
    designs = content["designs"]
    columns = content["columns"]

    def column(low: float, high: float) -> int:
        columns.append([float(f"{value:.5g}") for value in chance.uniform(low, high, count)])
        return len(columns) - 1

    def like(place: int) -> int:
        known = columns[place]
        figures = [value for value in (known if isinstance(known, list) else [known]) if value]
        return column(min(figures, default=0.0), max(figures, default=1.0) * 1.001 + 1e-9)

    designs["count"] = count
    designs["parts"] = [
        [int(at) for at in chance.integers(0, len(category["names"]), count)]
        for category in content["categories"]
    ]
    moved: dict[int, int] = {}
    for place in designs["results"].values():
        moved[place] = like(place)
    designs["results"] = {key: moved[place] for key, place in designs["results"].items()}
    designs["limits"] = [
        {"value": like(places["value"]), "bound": like(places["bound"]), "margin": column(0, 2)}
        for places in designs["limits"]
    ]
    designs["points"] = {
        stroke: {
            name: moved[place] if place in moved else like(place) for name, place in points.items()
        }
        for stroke, points in designs["points"].items()
    }
    designs["least_margin"] = column(0, 0.3)
    designs["binding"] = [int(at) for at in chance.integers(0, len(content["limits"]), count)]
    content["alike"]["shown"] = list(range(0, count, 20))
    content["picks"] = {"cheapest": 0, "quickest": 1, "strongest": 2}
    content["mark"] = address_mark(content["study"]["fingerprint"], designs)
    return content
