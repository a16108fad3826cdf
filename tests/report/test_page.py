"""The page as text: what it holds, what it may do, and that foreign words stay words."""

from __future__ import annotations

import base64
import copy
import gzip
import hashlib
import json
import os
import re
import subprocess
import sys
from html.parser import HTMLParser
from importlib import resources
from pathlib import Path

import pytest

from optimise.report.content import Content
from optimise.report.page import PLAIN_ROWS, SCRIPTS, render_page, spread
from tests.report.example import (
    LINK,
    MARKUP,
    SHARED,
    empty_study,
    hostile_study,
    kept_content,
    made_up,
    starter_content,
)

LARGEST_PAGE = 6_000_000


class Reading(HTMLParser):
    """Tags with their attributes, raw text of scripts, and all other text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []
        self.words: list[str] = []
        self._raw = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._raw = tag if tag in ("script", "style") else ""
        if tag == "script":
            self.scripts.append((dict(attrs), ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == self._raw:
            self._raw = ""

    def handle_data(self, data: str) -> None:
        if self._raw == "script":
            attributes, text = self.scripts[-1]
            self.scripts[-1] = (attributes, text + data)
        elif not self._raw:
            self.words.append(data)

    def meta(self, name: str) -> str:
        found = [
            attributes["content"]
            for tag, attributes in self.tags
            if tag == "meta" and name in (attributes.get("name"), attributes.get("http-equiv"))
        ]
        assert len(found) == 1
        assert found[0] is not None
        return found[0]

    def packed(self, identity: str) -> str:
        found = [text for attributes, text in self.scripts if attributes.get("id") == identity]
        assert len(found) == 1
        return gzip.decompress(base64.b64decode(found[0])).decode("utf-8")


@pytest.fixture(scope="module")
def content() -> Content:
    return starter_content()


@pytest.fixture(scope="module")
def page(content: Content) -> str:
    return render_page(content)


@pytest.fixture(scope="module")
def reading(page: str) -> Reading:
    return Reading(page)


@pytest.fixture(scope="module")
def hostile() -> Reading:
    return Reading(render_page(kept_content(hostile_study)))


def own_scripts() -> dict[str, str]:
    folder = resources.files("optimise.report") / "assets" / "scripts"
    return {name: (folder / f"{name}.js").read_text(encoding="utf-8") for name in SCRIPTS}


def source_hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def test_the_same_content_gives_the_same_bytes(content: Content, page: str) -> None:
    assert render_page(json.loads(json.dumps(content))) == page


def test_another_process_with_another_hash_seed_gives_the_same_bytes(page: str) -> None:
    program = (
        "import hashlib; from tests.report.example import starter_content;"
        "from optimise.report.page import render_page;"
        "print(hashlib.sha256(render_page(starter_content()).encode()).hexdigest())"
    )
    root = Path(__file__).resolve().parents[2]
    alone = {name: value for name, value in os.environ.items() if name != SHARED}
    run = subprocess.run(
        [sys.executable, "-c", program],
        env={**alone, "PYTHONHASHSEED": "4242", "PYTHONPATH": str(root)},
        cwd=root,
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.strip() == hashlib.sha256(page.encode()).hexdigest()


def test_the_data_unpacks_to_the_content(content: Content, reading: Reading) -> None:
    assert json.loads(reading.packed("packed-content")) == content


def test_the_policy_allows_these_two_scripts_and_no_request(reading: Reading) -> None:
    rules = dict(rule.split(" ", 1) for rule in reading.meta("Content-Security-Policy").split("; "))
    runnable = [text for attributes, text in reading.scripts if "type" not in attributes]
    assert len(runnable) == 1
    library = reading.packed("packed-plotly")
    assert rules["script-src"].split() == [source_hash(runnable[0]), source_hash(library)]
    assert rules["default-src"] == "'none'"
    assert set(rules) == {
        "default-src", "script-src", "style-src", "img-src", "base-uri", "form-action",
    }  # fmt: skip
    assert "http" not in reading.meta("Content-Security-Policy")


def test_the_policy_stands_before_anything_it_rules(reading: Reading) -> None:
    tags = [tag for tag, _ in reading.tags]
    place = next(
        at
        for at, (tag, attributes) in enumerate(reading.tags)
        if attributes.get("http-equiv") == "Content-Security-Policy"
    )
    assert not {"script", "style", "link"} & set(tags[:place])


def test_markup_asks_for_nothing_and_runs_nothing_inline(reading: Reading) -> None:
    for tag, attributes in reading.tags:
        assert tag not in ("img", "link", "iframe", "object", "embed", "base", "form")
        assert "src" not in attributes
        assert "style" not in attributes
        assert not [name for name in attributes if name.startswith("on")]
        assert (attributes.get("href") or "#").startswith("#")


@pytest.mark.parametrize(
    "word",
    [
        "innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function",
        "scattergl", "parcoords", "XMLHttpRequest", "fetch(", "</script", "<!--", "srcdoc",
        "DOMParser", "createContextualFragment", "setHTML", "javascript:", "WebSocket",
        "sendBeacon", "EventSource", "import(",
    ],
)  # fmt: skip
def test_own_scripts_do_without(word: str) -> None:
    assert [name for name, text in own_scripts().items() if word in text] == []


def test_every_script_is_joined_into_the_page() -> None:
    folder = resources.files("optimise.report") / "assets" / "scripts"
    assert sorted(f"{name}.js" for name in SCRIPTS) == sorted(
        file.name for file in folder.iterdir()
    )


def test_five_thousand_machines_fit() -> None:
    page = render_page(made_up(5000))
    assert len(page.encode("utf-8")) < LARGEST_PAGE


def test_the_machines_are_spread_over_the_plain_table(content: Content, reading: Reading) -> None:
    count = content["designs"]["count"]
    places = spread(count, PLAIN_ROWS)
    assert len(places) == len(set(places)) == PLAIN_ROWS < count
    assert (places[0], places[-1]) == (0, count - 1)
    words = " ".join(reading.words)
    assert f"{PLAIN_ROWS} machines spread over the {count}" in words


def test_textbook_words_stay_in_the_footnote(reading: Reading) -> None:
    words = " ".join(reading.words)
    assert words.count("Pareto") == 1
    assert not re.search("objective|dominat|hypervolume|constraint", words, re.IGNORECASE)


def test_cautions_are_there(reading: Reading) -> None:
    words = " ".join(" ".join(reading.words).split())
    for caution in (
        "Pressure.", "goes through skin", "Wedge and plate crush", "relief valve, two-hand control",
        "less time to get a hand away", "bows and breaks", "Hot oil", "carbon monoxide",
        "not a certificate", "Local codes, the makers of the parts and licensed practice decide",
    ):  # fmt: skip
        assert caution in words


def test_hostile_words_bring_no_tag(hostile: Reading, reading: Reading) -> None:
    kinds = {tag for tag, _ in hostile.tags}
    assert kinds == {tag for tag, _ in reading.tags}
    assert len(hostile.scripts) == len(reading.scripts)
    for tag, attributes in hostile.tags:
        assert (attributes.get("href") or "#").startswith("#")
        assert not [name for name in attributes if name.startswith("on")], tag


def test_hostile_words_are_still_read(hostile: Reading) -> None:
    words = "".join(hostile.words)
    assert MARKUP in words
    assert LINK in words


def test_long_words_do_not_fill_the_page(hostile: Reading) -> None:
    title = [at for at, (tag, _) in enumerate(hostile.tags) if tag == "title"]
    assert len(title) == 1
    assert max(len(words) for words in hostile.words) < 2_000


def test_a_search_that_was_stopped_is_not_called_proven(content: Content) -> None:
    for whole in (content, kept_content(empty_study)):
        proven = " ".join(" ".join(Reading(render_page(whole)).words).split())
        stopped = copy.deepcopy(whole)
        stopped["provenance"]["proven"] = False
        stopped["provenance"]["why_not"] = "the search was stopped after 20 s"
        words = " ".join(" ".join(Reading(render_page(stopped)).words).split())
        assert "the search was stopped after 20 s" in words
        assert "stopped" not in proven
        for claim in ("This is proven", "Whatever else you bolt together", "keeps every limit. "):
            assert claim not in words
        assert "This is proven" in proven or "keeps every limit. " in proven


def test_the_empty_front_says_so_in_plain_markup() -> None:
    words = " ".join(" ".join(Reading(render_page(kept_content(empty_study))).words).split())
    assert "No machine of this list keeps every limit." in words
    assert "Half a second 100.0 %" in words
    assert "The machines that come nearest" in words
