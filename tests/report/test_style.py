"""Colours of the page: contrast by the formula of WCAG 2.1 (relative luminance, 1.4.3, 1.4.11)."""

from __future__ import annotations

import itertools
import math
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
    red, green, blue = linear(colour)
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


Row = tuple[float, float, float]
SEEN_BY: dict[str, tuple[Row, Row, Row]] = {
    "no red": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "no green": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "no blue": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
"""Linear RGB as eyes without one kind of cone see it: Machado, Oliveira and Fernandes 2009,
severity 1.0, from memory; that white stays white and grey grey is tested."""
WHITE = (0.950456, 1.0, 1.088754)
"""XYZ of D65, the white of sRGB (IEC 61966-2-1)."""
TOLD_APART = 12.0
"""Least distance in CIELAB (CIE 1976); about 2.3 can just be noticed side by side. Chosen: common
practice for thin marks is ten or more, no source."""


def linear(colour: str) -> Row:
    channels = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    one, two, three = (
        channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4
        for channel in channels
    )
    return one, two, three


def through(matrix: tuple[Row, Row, Row], colour: Row) -> Row:
    one, two, three = (
        sum(factor * channel for factor, channel in zip(row, colour, strict=True)) for row in matrix
    )
    return one, two, three


def lab(colour: Row) -> Row:
    to_xyz: tuple[Row, Row, Row] = (
        (0.4124564, 0.3575761, 0.1804375),
        (0.2126729, 0.7151522, 0.0721750),
        (0.0193339, 0.1191920, 0.9503041),
    )
    clipped = through(to_xyz, tuple(min(max(one, 0.0), 1.0) for one in colour))  # type: ignore[arg-type]
    x, y, z = (
        ratio ** (1.0 / 3.0) if ratio > (6.0 / 29.0) ** 3 else ratio * 841.0 / 108.0 + 4.0 / 29.0
        for ratio in (one / white for one, white in zip(clipped, WHITE, strict=True))
    )
    return 116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)


def test_eyes_without_a_cone_see_white_and_grey_as_they_are() -> None:
    for matrix in SEEN_BY.values():
        for grey in (1.0, 0.25):
            assert through(matrix, (grey, grey, grey)) == pytest.approx((grey,) * 3, abs=1e-5)
    assert lab((1.0, 1.0, 1.0)) == pytest.approx((100.0, 0.0, 0.0), abs=0.02)


@pytest.mark.parametrize("eyes", SEEN_BY)
@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(
    "together",
    [
        ("mark", "chosen", "pin-A"),
        ("mark", "chosen", "plan", "ink"),
        ("mark", "warn"),
        ("band-3", "band-0", "ink", "pin-C"),
    ],
    ids=["lines", "front", "kept and crossed", "hands and ram"],
)
def test_what_stands_together_is_told_apart_without_a_cone(
    scheme: str, together: tuple[str, ...], eyes: str
) -> None:
    known = colours(scheme)
    seen = {name: lab(through(SEEN_BY[eyes], linear(known[name]))) for name in together}
    for one, other in itertools.combinations(together, 2):
        assert math.dist(seen[one], seen[other]) >= TOLD_APART, (one, other)
