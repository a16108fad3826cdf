"""The page as one HTML file that asks nothing of any network."""

from __future__ import annotations

import base64
import functools
import gzip
import hashlib
import json
import math
from importlib import resources
from typing import Any, TypedDict

from optimise.errors import shown
from optimise.report.content import Content, Designs, Figure, figure
from optimise.report.figures import counted, grouped, written
from optimise.report.model_script import model_script
from optimise.units import System

PLAIN_ROWS = 50
"""Machines in the table that needs no script."""
SCRIPTS = (
    "basics",
    "numbers",
    "lane",
    "machines",
    "state",
    "filters",
    "pairs",
    "parallel",
    "solid",
    "table",
    "limits",
    "sheet",
    "compare",
    "legends",
    "saving",
    "downloads",
    "curves",
    "bars",
    "stairs",
    "sections",
    "circuit",
    "chosen",
    "bench",
    "address",
    "start",
)
"""Modules of the page's script, in the order in which they are joined."""


class _Summary(TypedDict):
    design: int
    time: Figure
    force: Figure
    outlay: Figure


def _asset(*path: str) -> str:
    return resources.files("optimise.report").joinpath("assets", *path).read_text(encoding="utf-8")


@functools.cache
def page_script() -> str:
    """Join the modules of the page, and the model, into one function scope."""
    modules = "\n".join(_asset("scripts", f"{name}.js") for name in SCRIPTS)
    return f'"use strict";\n(() => {{\n{modules}\n{model_script()}\nstart();\n}})();\n'


@functools.cache
def _plotly() -> str:
    from plotly.offline import get_plotlyjs  # noqa: PLC0415 - slow, and only a page needs it

    library: str = get_plotlyjs()
    return library


@functools.cache
def _packed_plotly() -> str:
    return _packed(_plotly())


def _packed(text: str) -> str:
    """Text compressed and in base64; the same text gives the same bytes."""
    return base64.b64encode(gzip.compress(text.encode("utf-8"), 9, mtime=0)).decode("ascii")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode()}'"


def content_policy(script: str, library: str) -> str:
    """Content-Security-Policy of the page: two scripts by their hashes, no request at all.

    Styles may stand inline because the chart library writes its own; no text of a study ever
    becomes markup, so that none can bring a style.
    """
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {_hash(script)} {_hash(library)}",
            "style-src 'unsafe-inline'",
            "img-src data: blob:",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def _summary(content: Content, designs: Designs, index: int) -> _Summary:
    def result(key: str) -> Figure:
        return figure(content, designs["results"][key], index)

    return {
        "design": index,
        "time": result("cycle.total_s"),
        "force": result("force_N"),
        "outlay": result("cost.outlay"),
    }


def spread(count: int, most: int) -> list[int]:
    """Positions spread evenly over a list, both ends among them.

    Examples
    --------
    >>> spread(9, 5), spread(3, 5)
    ([0, 2, 4, 6, 8], [0, 1, 2])
    """
    if count <= most:
        return list(range(count))
    return [round(step * (count - 1) / (most - 1)) for step in range(most)]


def _plain_row(content: Content, designs: Designs, index: int) -> dict[str, Any]:
    def result(key: str) -> Figure:
        return figure(content, designs["results"][key], index)

    new = [
        category["names"][column[index]]
        for category, column in zip(content["categories"], designs["parts"], strict=True)
        if column[index] != category["owned"]
    ]
    return {
        "number": index + 1,
        **_summary(content, designs, index),
        "extend": result("cycle.extend_s"),
        "retract": result("cycle.retract_s"),
        "oil": result("oil.steady_degC"),
        "margin": figure(content, designs["least_margin"], index),
        "parts": new,
    }


def _plain(content: Content) -> dict[str, Any]:
    """Tables of the page for a browser that runs no script."""
    designs, owned = content["designs"], content["owned"]
    if designs["count"] == 0 and content["nearest"] is not None:
        designs = content["nearest"]
    limits = [
        {
            **limit,
            "value": figure(content, places["value"], 0),
            "bound": figure(content, places["bound"], 0),
            "margin": figure(content, places["margin"], 0),
        }
        for limit, places in zip(content["limits"], owned["limits"], strict=True)
    ]
    return {
        "of": designs["count"],
        "rows": [
            _plain_row(content, designs, index) for index in spread(designs["count"], PLAIN_ROWS)
        ],
        "owned_parts": [
            {"category": category["title"], "name": category["names"][category["owned"]]}
            for category in content["categories"]
        ],
        "owned_results": [
            {**result, "value": figure(content, owned["results"][result["key"]], 0)}
            for result in content["results"]
        ],
        "owned_limits": sorted(
            limits, key=lambda limit: -math.inf if limit["margin"] is None else limit["margin"]
        ),
    }


def render_page(content: Content) -> str:
    """Write the page; the same content gives the same text."""
    import jinja2  # noqa: PLC0415 - only a page needs it
    from markupsafe import Markup  # noqa: PLC0415

    system: System = content["study"]["units"]
    kinds = content["kinds"]

    def as_figure(value: Figure, kind: str) -> str:
        return written(value, kinds[kind][system], system)

    script, library = page_script(), _plotly()
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    environment.filters.update(
        figure=as_figure,
        share=lambda value: as_figure(value, "share"),
        js=repr,
        brief=shown,
        counted=lambda number: counted(number, system),
        grouped=lambda number: grouped(number, 0, system),
    )
    data = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    template = environment.from_string(_asset("page.html.j2"))
    picks, designs = content["picks"], content["designs"]
    return template.render(
        study=content["study"],
        provenance=content["provenance"],
        designs=designs,
        blocking=content["blocking"],
        picked={
            name: None if index is None else _summary(content, designs, index)
            for name, index in (
                ("cheapest", picks["cheapest"]),
                ("quickest", picks["quickest"]),
                ("strongest", picks["strongest"]),
            )
        },
        asked=content["asked"],
        mine=_summary(content, content["owned"], 0),
        plain=_plain(content),
        policy=content_policy(script, library),
        style=Markup(_asset("page.css")),
        script=Markup(script),
        packed_content=_packed(data),
        packed_plotly=_packed_plotly(),
    )
