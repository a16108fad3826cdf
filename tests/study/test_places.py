"""Lines of keys against a reader that knows nothing of TOML, and against what the parser finds."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.study.places import lines_of, parse_toml
from tests.study.starter import starter_text

FULL = """\
# comment with [brackets] and = signs
top = 1   # after a value
"quoted key" = "a # no comment [x]"
'literal.key' = 'b = 3'
a.b.c = @@@
[not.a.table]
key = "inside"
@@@
list = [
    "one", # [2]
    ["two", 2.5],
    {x = 1, y = {z = 'deep'}},
]
when = 1979-05-27 07:32:00
after = '''
multi ' line
[x]
'''
[table]
key = true
  [ table . "sub.table" ]
  other = [1,2,
    3]

[[array]]
n = 1
[[array]]
n = 2
[array.inner]
m = 3
[[array.more]]
k = 4
[[array.more]]
k = 5
""".replace("@@@", '"' * 3)

EXPECTED = {
    ("top",): 2,
    ("quoted key",): 3,
    ("literal.key",): 4,
    ("a",): 5,
    ("a", "b", "c"): 5,
    ("list",): 9,
    ("list", 0): 10,
    ("list", 1): 11,
    ("list", 1, 1): 11,
    ("list", 2, "y", "z"): 12,
    ("when",): 14,
    ("after",): 15,
    ("table",): 19,
    ("table", "key"): 20,
    ("table", "sub.table"): 21,
    ("table", "sub.table", "other", 2): 23,
    ("array", 0): 25,
    ("array", 0, "n"): 26,
    ("array", 1): 27,
    ("array", 1, "n"): 28,
    ("array", 1, "inner", "m"): 30,
    ("array", 1, "more", 0): 31,
    ("array", 1, "more", 1, "k"): 34,
}


def ways(data: Any, way: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in items:
        yield (*way, key)
        if isinstance(value, (dict, list)):
            yield from ways(value, (*way, key))


def test_lines_counted_by_hand() -> None:
    lines = lines_of(FULL)
    assert {way: lines[way] for way in EXPECTED} == EXPECTED


def test_every_key_of_the_parser_has_a_line_and_no_other() -> None:
    for text in (FULL, starter_text("study.toml"), "", "# only a comment", "a=[]", "a={}\nb='x'"):
        found = set(ways(tomllib.loads(text)))
        lines = lines_of(text)
        assert set(lines) == found


def test_keys_stand_on_their_lines_in_the_starter() -> None:
    text = starter_text("study.toml")
    for way, line in lines_of(text).items():
        named = [str(step) for step in way if isinstance(step, str)]
        written = text.splitlines()[line - 1]
        if isinstance(way[-1], str):
            assert named[-1] in written or written.startswith(f"[{named[-1]}.")


KEYS = st.text(st.sampled_from("ab.\"' #[]="), min_size=1, max_size=4)
LEAVES = st.integers() | st.booleans() | st.text(st.sampled_from("x\"'#[]{}=,\\ "), max_size=8)
TREES = st.dictionaries(
    KEYS,
    st.recursive(
        LEAVES,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
        max_leaves=8,
    ),
    max_size=4,
)


def written(value: Any, spread: bool) -> str:
    if isinstance(value, dict):
        pairs = (f"{json.dumps(key)} = {written(item, spread)}" for key, item in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list):
        gap = ", # ]\n" if spread else ", "
        return "[" + gap.join(written(item, spread) for item in value) + "]"
    return json.dumps(value)


@given(tree=TREES, spread=st.booleans())
@settings(max_examples=200, deadline=None)
def test_any_tree_is_found_whole(tree: dict[str, Any], spread: bool) -> None:
    text = "\n".join(f"{json.dumps(key)} = {written(item, spread)}" for key, item in tree.items())
    assert parse_toml(text, "x") == tree
    assert set(lines_of(text)) == set(ways(tree))


@given(tree=TREES)
@settings(max_examples=100, deadline=None)
def test_top_keys_follow_each_other_line_by_line(tree: dict[str, Any]) -> None:
    text = "\n".join(f"{json.dumps(key)} = {written(item, False)}" for key, item in tree.items())
    lines = lines_of(text)
    assert [lines[(key,)] for key in tree] == list(range(1, len(tree) + 1))
