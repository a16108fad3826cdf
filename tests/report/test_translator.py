"""What the translation to JavaScript refuses, each with its file and line."""

from __future__ import annotations

import importlib
import textwrap
from collections.abc import Callable
from itertools import count
from pathlib import Path

import pytest

from optimise.report.model_script import COUNTERPARTS, model_script
from optimise.report.translated_names import UntranslatableError
from optimise.report.translator import translate

Writer = Callable[[str], tuple[str, Path]]
_NUMBERS = count()


@pytest.fixture
def written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Writer:
    """Writes a module and gives its name and file."""
    monkeypatch.syspath_prepend(tmp_path)

    def write(source: str) -> tuple[str, Path]:
        name = f"model_{next(_NUMBERS)}"
        path = tmp_path / f"{name}.py"
        path.write_text(textwrap.dedent(source), encoding="utf-8")
        importlib.invalidate_caches()
        return name, path

    return write


HEAD = """\
import math
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
import numpy as np

"""
REFUSED = {
    "a chain": ("def asked(x):\n    return 0.0 < x < 1.0\n", 2, "chain of comparisons"),
    "floor division": ("def asked(x):\n    return x // 2\n", 2, "FloorDiv"),
    "a dict": ("def asked(x):\n    return {'a': x}\n", 2, "Dict"),
    "try": ("def asked(x):\n    try:\n        return x\n    finally:\n        pass\n", 2, "Try"),
    "in place": ("def asked(x):\n    x += 1\n    return x\n", 2, "AugAssign"),
    "in": ("def asked(x):\n    return x in (1, 2)\n", 2, "comparison outside"),
    "walrus": ("def asked(x):\n    return (y := x) + y\n", 2, "NamedExpr"),
    "a loop with else": (
        "def asked(x):\n    for y in x:\n        pass\n    else:\n        x = 1\n    return x\n",
        2,
        "loop with else",
    ),
    "two loops at once": (
        "def asked(x):\n    return [y * z for y in x for z in x]\n",
        2,
        "more than one thing",
    ),
    "numpy without counterpart": (
        "def asked(x):\n    y = x\n    return np.tanh(y)\n",
        3,
        "numpy.tanh has no counterpart",
    ),
    "math without counterpart": ("def asked(x):\n    return math.tau * x\n", 2, "math.tau"),
    "builtin without counterpart": ("def asked(x):\n    return round(x)\n", 2, "round"),
    "an argument too many": (
        "def asked(x):\n    return np.sqrt(x, x)\n",
        2,
        "2 arguments, a counterpart has 1",
    ),
    "a keyword of numpy": (
        "def asked(x):\n    return np.sqrt(x, where=x > 0)\n",
        2,
        "the keyword where",
    ),
    "a method of lists": ("def asked(x):\n    x.sort()\n    return x\n", 2, "attribute sort"),
    "an attribute of arrays": ("def asked(x):\n    return x.size\n", 2, "attribute size"),
    "any number of arguments": ("def asked(*x):\n    return x\n", 1, "any number of arguments"),
    "a decorated function": (
        "@lru_cache\ndef asked(x):\n    return x\n",
        2,
        "decorator of asked",
    ),
    "a format": ("def asked(x):\n    return f'{x:.2f}'\n", 2, "a text with a format"),
    "a with statement": (
        "def asked(x):\n    with open(x) as y:\n        return y\n",
        2,
        "with statement",
    ),
    "a called call": ("def asked(x):\n    return (lambda y: y)(x)\n", 2, "of Lambda"),
    "an import inside": (
        "def asked(x):\n    import json\n    return json.dumps(x)\n",
        2,
        "Import",
    ),
    "a class of its own kind": (
        "class asked:\n    def __init__(self):\n        self.x = 1\n"
        "    def __mul__(self, other):\n        return other\n",
        4,
        "__mul__",
    ),
    "made after its fields": (
        "@dataclass\nclass asked:\n    x: float\n    def __post_init__(self):\n        pass\n",
        4,
        "__post_init__",
    ),
    "a class of a class": (
        "class base:\n    pass\nclass asked(base):\n    pass\n",
        3,
        "has a base class",
    ),
    "a hidden method": (
        "class asked:\n    def __init__(self):\n        self.y = 1\n"
        "    def any(self):\n        return self.y\n",
        4,
        "would hide that of arrays",
    ),
    "a class method": (
        "class asked:\n    def __init__(self):\n        self.y = self.made\n"
        "    @classmethod\n    def made(cls):\n        return cls()\n",
        5,
        "decorator of made",
    ),
    "a missing argument": (
        "def other(x, y):\n    return x + y\ndef asked(x):\n    return other(x)\n",
        4,
        "no argument for y",
    ),
    "an unknown keyword": (
        "def other(x):\n    return x\ndef asked(x):\n    return other(x, z=x)\n",
        4,
        "keyword z",
    ),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_outside_the_subset_is_refused_with_its_place(what: str, written: Writer) -> None:
    source, line, words = REFUSED[what]
    name, path = written(HEAD + source)
    with pytest.raises(UntranslatableError) as refused:
        translate([f"{name}.asked"], (name,), COUNTERPARTS)
    assert str(refused.value).startswith(f"{path}:{line + HEAD.count(chr(10))}: ")
    assert words in str(refused.value)


def test_what_is_needed_further_down_is_refused_too(written: Writer) -> None:
    other, path = written("def deeper(x):\n    return x % 2\n")
    name, _ = written(f"from {other} import deeper\n\n\ndef asked(x):\n    return deeper(x)\n")
    with pytest.raises(UntranslatableError, match="Mod") as refused:
        translate([f"{name}.asked"], (name, other), COUNTERPARTS)
    assert str(refused.value).startswith(f"{path}:2: ")


def test_what_is_not_needed_may_be_anything(written: Writer) -> None:
    name, _ = written(
        """\
        def unused(x):
            return x % 2

        def asked(x):
            return x
        """
    )
    assert "unused" not in translate([f"{name}.asked"], (name,), COUNTERPARTS)


def test_an_entry_that_is_not_there_is_refused(written: Writer) -> None:
    name, _ = written("x = 1.0\n")
    with pytest.raises(UntranslatableError, match="no such definition"):
        translate([f"{name}.absent"], (name,), COUNTERPARTS)


def test_the_model_is_translated_without_evaluating_text() -> None:
    script = model_script()
    assert "function sheet$sheet_of(" in script
    for word in ("eval(", "new Function", "</script", "import("):
        assert word not in script
