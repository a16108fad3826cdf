"""Which models to sell, on the page: lines by number of models, their machines, buyers and kits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from optimise.report.charts import (
    Curve,
    Mark,
    Piece,
    Said,
    Section,
    Table,
    amount,
    axis,
    curve,
    group_of,
    panel,
    section_of,
    series,
    table_of,
)
from optimise.report.lineup_words import (
    BEST_VALUE,
    HOUR,
    LineupReport,
    advice,
    and_words,
    keeps_most,
    kit_words,
    letter_of,
    shown_lines,
    terms_sentences,
    why_left_out,
)
from optimise.report.next_steps import title_of
from optimise.report.sources import SYSTEMS, Sources
from optimise.search.kits import Kit

KEY, TITLE = "lineup", "Which models to sell"


def lineup_section(sources: Sources) -> Section | None:
    """Worth by number of models, the best line, buyers and kits; None without buyers."""
    found = sources.lineup
    if found is None:
        return None
    notes: list[Said] = [[words] for words in advice(found.study, found.answer)]
    kits = group_of(
        "Upgrade kits",
        [
            "Fitted to a machine such as the one owned (",
            amount("time", found.kits.piece_time),
            " a piece, cycle without a log ",
            amount("time", found.kits.cycle_time),
            ", ",
            amount("force", found.kits.force),
            "), at the same margin; the shop takes back what comes off. Gains are seconds off a "
            "piece, hands and wood and all.",
        ],
        tables=[_kits(found)],
    )
    models = [_models(found), _parts(found)] if found.answer.line.models else []
    return section_of(
        KEY,
        TITLE,
        [" ".join(terms_sentences(found))],
        [_worths(found)],
        notes,
        [_lines(found), *models, _buyers(found)],
        [kits],
    )


def _worths(found: LineupReport) -> Curve:
    lines = shown_lines(found.answer)
    most = [line.most for line in lines]
    chosen, best = found.answer.line.most, lines[keeps_most(found.answer)].most
    marks: list[Mark] = [
        {"sign": "best together", "before": "best for shop and buyers together: ",
         "value": float(chosen), "after": ""},
    ]  # fmt: skip
    if best != chosen:
        marks.append(
            {"sign": "best for the shop", "before": "best for the shop alone at these prices: ",
             "value": float(best), "after": ""}
        )  # fmt: skip
    return curve(
        "lineup",
        "Worth of the line by number of models",
        ["Where the upper line is level, one more model brings nothing. The shop's share may be "
         "largest earlier: it pays for each model and its stock, and buyers have the rest."],
        axis("Models at most", "count", whole=True),
        [
            panel(
                "Money",
                "money",
                [
                    series("shop and buyers together", most, [one.worth for one in lines], 0,
                           dots=True),
                    series("the shop alone", most, [one.contribution for one in lines], 1,
                           dots=True),
                ],
            )
        ],
        marks=marks,
    )  # fmt: skip


def _lines(found: LineupReport) -> Table:
    answer = found.answer
    rows: list[list[Piece]] = []
    for nth, line in enumerate(shown_lines(answer)):
        groups = [_names(found, model.serves) for model in line.models]
        used = "" if len(line.models) == line.most else f" ({len(line.models)} used)"
        rows.append(
            [
                f"{line.most}{used}",
                amount("money", line.worth),
                amount("money", answer.gain(nth)),
                amount("money", line.contribution),
                amount("money", line.stock_cost),
                amount("money", line.shared_saving),
                " | ".join(groups) or "nobody",
            ]
        )
    head = [
        ("Models at most", ""),
        ("Worth", "money"),
        ("One more brings", "money"),
        ("Shop's share", "money"),
        ("Stock", "money"),
        ("Saved by sharing parts", "money"),
        ("Serves", ""),
    ]
    return table_of("Lines, each the best of its size", head, rows)


def _names(found: LineupReport, groups: Sequence[int]) -> str:
    return and_words([found.answer.needs[group].name for group in groups])


def _models(found: LineupReport) -> Table:
    answer = found.answer
    rows: list[list[Piece]] = []
    for nth, model in enumerate(answer.line.models):
        margin, binding = found.margin(model)
        rows.append(
            [
                letter_of(nth),
                _names(found, model.serves),
                amount("money", model.price),
                amount("money", model.cost),
                amount("time", model.cycle_time),
                amount("force", model.force),
                amount("share", margin),
                title_of(found.study, binding),
            ]
        )
    head = [
        ("Model", ""),
        ("Serves", ""),
        ("Price", "money"),
        ("Cost of parts", "money"),
        ("Cycle", "time"),
        ("Force", "force"),
        ("Least margin", "share"),
        ("Limit nearest", ""),
    ]
    return table_of("The best line", head, rows)


def _parts(found: LineupReport) -> Table:
    answer = found.answer
    models, shared = answer.line.models, set(answer.line.shared)
    rows: list[list[Piece]] = [
        [
            prices.category.replace("_", " "),
            *(
                prices.names[model.row[place]] + (" *" * ((place, model.row[place]) in shared))
                for model in models
            ),
        ]
        for place, prices in enumerate(answer.space.lists)
    ]
    head = [("Part", ""), *((letter_of(nth), "") for nth in range(len(models)))]
    stock = "Parts of each model; * in more than one" if shared else "Parts of each model"
    return table_of(stock, head, rows)


def _nothing(found: LineupReport, group: int) -> Piece:
    """Why a group buys nothing, in both unit systems."""
    return {
        system: "none: "
        + why_left_out(replace(found.study, system=system), found.answer, group, brief=True)
        for system in SYSTEMS
    }


def _buyers(found: LineupReport) -> Table:
    answer = found.answer
    rows: list[list[Piece]] = []
    for group, need in enumerate(answer.needs):
        served = [letter_of(n) for n, one in enumerate(answer.line.models) if group in one.serves]
        buys: Piece = served[0] if served else _nothing(found, group)
        rows.append(
            [
                need.name,
                f"{need.number:g}",
                amount("force", need.force),
                amount("time", need.cycle_time),
                amount("money", need.price),
                buys,
            ]
        )
    head = [
        ("Buyers", ""),
        ("Number", "count"),
        ("Force at least", "force"),
        ("Cycle at most", "time"),
        ("Pay at most", "money"),
        ("Buy", ""),
    ]
    return table_of("Who buys what, and who is left out", head, rows)


def _kits(found: LineupReport) -> Table:
    named = [need.name for need in found.answer.needs]
    each = [*zip(named, found.kits.for_groups, strict=True), (BEST_VALUE, found.kits.best_value)]
    rows = [_kit_row(name, kit) for name, kit in each]
    head = [
        ("Kit for", ""),
        ("Price", "money"),
        ("To fit", "count"),
        ("Cycle", "time"),
        ("A piece", "time"),
        ("Force", "force"),
        ("Gains", "time"),
        ("A second costs", "money"),
        ("Parts", ""),
    ]
    return table_of("The cheapest kit for each group, and the best value", head, rows)


def _kit_row(name: str, kit: Kit | None) -> list[Piece]:
    if kit is None:
        return [name, *[""] * 7, "no kit does"]
    return [
        name,
        amount("money", kit.price),
        f"{kit.fitting_time / HOUR:.1f} h",
        amount("time", kit.cycle_time),
        amount("time", kit.piece_time),
        amount("force", kit.force),
        amount("time", kit.seconds_gained),
        "" if kit.per_second is None else amount("money", kit.per_second),
        kit_words(kit),
    ]
