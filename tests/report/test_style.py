"""Colours of the page: contrast by the formula of WCAG 2.1 (relative luminance, 1.4.3, 1.4.11)."""

from __future__ import annotations

import re
from importlib import resources

import pytest

SCHEMES = ("light", "dark")
READ = 4.5
"""Least contrast of text (1.4.3, level AA)."""
SEEN = 3.0
"""Least contrast of a mark that carries meaning (1.4.11)."""


def colours(scheme: str) -> dict[str, str]:
    style = (resources.files("optimise.report") / "assets" / "page.css").read_text("utf-8")
    blocks = {
        "light": re.search(r"^:root \{(.*?)\}", style, re.DOTALL | re.MULTILINE),
        "dark": re.search(
            r'^:root\[data-theme="dark"\] \{(.*?)\}', style, re.DOTALL | re.MULTILINE
        ),
    }
    block = blocks[scheme]
    assert block is not None
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block[1]))


def luminance(colour: str) -> float:
    channels = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    red, green, blue = (
        channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4
        for channel in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_published_ends() -> None:
    """Black on white is 21 to 1 (WCAG 2.1, definition of contrast ratio)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("ground", ["paper", "card"])
@pytest.mark.parametrize("text", ["ink", "ink-2", "link", "chosen", "warn"])
def test_text_can_be_read(scheme: str, ground: str, text: str) -> None:
    known = colours(scheme)
    assert contrast(known[text], known[ground]) >= READ


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("pin", ["A", "B", "C", "D"])
def test_letters_on_pins_can_be_read(scheme: str, pin: str) -> None:
    known = colours(scheme)
    assert contrast(known[f"pin-{pin}"], known["paper"]) >= READ


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("mark", [*(f"band-{band}" for band in range(5)), "mark", "bar", "edge"])
def test_marks_can_be_seen(scheme: str, mark: str) -> None:
    known = colours(scheme)
    assert contrast(known[mark], known["paper"]) >= SEEN


@pytest.mark.parametrize("scheme", SCHEMES)
def test_shades_run_one_way_without_any_colour(scheme: str) -> None:
    known = colours(scheme)
    grey = [luminance(known[f"band-{band}"]) for band in range(5)]
    assert grey == sorted(grey, reverse=scheme == "light")


def test_both_dark_blocks_are_alike() -> None:
    style = (resources.files("optimise.report") / "assets" / "page.css").read_text("utf-8")
    asked = re.search(r':root:not\(\[data-theme="light"\]\) \{(.*?)\}', style, re.DOTALL)
    assert asked is not None
    assert dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", asked[1])) == colours("dark")
