"""The line of models and the upgrade kits, for programs and for spreadsheets."""

from __future__ import annotations

from typing import Any

from optimise.machine.results import RESULTS
from optimise.report.answers import machine_entry, plain, provenance
from optimise.report.lineup_words import LineupReport, advice, letter_of, shown_lines
from optimise.report.tables import CHOSEN, Kept, head_of, inert, result_cells, result_columns
from optimise.search.kits import Kit
from optimise.search.lineup import (
    Line,
    LineupAnswer,
    Model,
)


def lineup_answer(found: LineupReport) -> dict[str, Any]:
    """Answer of ``lineup``."""
    study, answer, kits = found.study, found.answer, found.kits
    return {
        **provenance(study),
        "proven": answer.proven,
        "worth_gap": plain(answer.gap),
        "designs_in_space": answer.space.size,
        "candidates": answer.candidates,
        "seconds": answer.seconds,
        "margin": answer.terms.margin,
        "stock": answer.terms.stock,
        "model_cost": answer.terms.model_cost,
        "buyers": [
            {
                "name": need.name,
                "number": need.number,
                "least_force_N": need.force,
                "longest_cycle_s": need.cycle_time,
                "highest_price": need.price,
                "cheapest_cost": plain(cost),
                "cheapest_price": plain(answer.terms.price(cost)),
                "stopped_by": None
                if stopped is None
                else [
                    {"name": one.name, "crossed": one.crossed, "alone": one.alone}
                    for one in stopped.blocking
                ],
            }
            for need, cost, stopped in zip(answer.needs, answer.cheapest, answer.stops, strict=True)
        ],
        "models": answer.line.most,
        "chosen": _chosen(found),
        "line": _line_entry(found, answer.chosen),
        "lines": [_line_entry(found, nth) for nth in range(len(shown_lines(answer)))],
        "kits": {
            "owned": {
                "cycle_s": kits.cycle_time,
                "piece_s": kits.piece_time,
                "force_N": kits.force,
            },
            "buyers": [
                {"name": need.name, "kit": _kit_entry(kit)}
                for need, kit in zip(answer.needs, kits.for_groups, strict=True)
            ],
            "best_value": _kit_entry(kits.best_value),
        },
        "advice": list(advice(study, answer)),
    }


def _chosen(found: LineupReport) -> list[dict[str, Any]]:
    """Whole machine of each model of the line to build; nothing is on it to be an outlay over."""
    if found.sheet is None:
        return []
    chosen = []
    for nth, model in enumerate(found.answer.line.models):
        lane = found.rows.index(model.row)
        entry = machine_entry(found.answer.space.names(model.row), found.sheet, (lane,))
        entry["cost"]["outlay"] = None
        chosen.append({"label": f"model {letter_of(nth)}", "machine": entry})
    return chosen


def _line_entry(found: LineupReport, nth: int) -> dict[str, Any]:
    answer = found.answer
    line = answer.lines[nth]
    return {
        "most_models": line.most,
        "worth": line.worth,
        "one_more_brings": answer.gain(nth),
        "contribution": line.contribution,
        "stock_cost": line.stock_cost,
        "shared_saving": line.shared_saving,
        "shared": [
            {"category": category, "part": name} for category, name in _shared(answer, line)
        ],
        "left_out": [
            need.name for group, need in enumerate(answer.needs) if group not in line.served()
        ],
        "designs": [
            {"model": letter_of(nth), **_model_entry(found, model)}
            for nth, model in enumerate(line.models)
        ],
    }


def _shared(answer: LineupAnswer, line: Line) -> list[tuple[str, str]]:
    lists = answer.space.lists
    return [(lists[place].category, lists[place].names[part]) for place, part in line.shared]


def _model_entry(found: LineupReport, model: Model) -> dict[str, Any]:
    margin, binding = found.margin(model)
    return {
        "serves": [found.answer.needs[group].name for group in model.serves],
        "parts": found.answer.space.names(model.row),
        "cost": model.cost,
        "price": model.price,
        "cycle_s": model.cycle_time,
        "force_N": model.force,
        "limits_min_margin": plain(margin),
        "binding": binding,
    }


def _kit_entry(kit: Kit | None) -> dict[str, Any] | None:
    if kit is None:
        return None
    return {
        "parts": kit.parts,
        "fitting_s": kit.fitting_time,
        "outlay": kit.outlay,
        "price": kit.price,
        "cycle_s": kit.cycle_time,
        "piece_s": kit.piece_time,
        "gained_s": kit.seconds_gained,
        "force_N": kit.force,
        "price_per_s": None if kit.per_second is None else plain(kit.per_second),
    }


def lineup_table(found: LineupReport) -> Kept:
    """Models of all lines, a row each, in the study's units."""
    answer, system = found.answer, found.study.system
    writer = Kept.of(found.study)
    head = ["Models at most", "Worth of the line", "Shop's share", "Model", "Serves", "Buyers"]
    of_machine = [result for result in RESULTS if result.key != "cost.outlay"]
    head += ["Cost", "Price", *(head_of(result, system) for result in of_machine), "Least margin"]
    writer.writerow([*head, "Tightest limit", *answer.space.categories, CHOSEN])
    columns = [] if found.sheet is None else result_columns(found.sheet, system, of_machine)
    for line in shown_lines(answer):
        for nth, model in enumerate(line.models):
            margin, binding = found.margin(model)
            buyers = sum(answer.needs[group].number for group in model.serves)
            amounts = [f"{amount:.2f}" for amount in (line.worth, line.contribution)]
            build = f"model {letter_of(nth)}" if line is answer.line else ""
            writer.writerow(
                [
                    line.most,
                    *amounts,
                    letter_of(nth),
                    inert("; ".join(answer.needs[group].name for group in model.serves)),
                    f"{buyers:g}",
                    f"{model.cost:.2f}",
                    f"{model.price:.2f}",
                    *result_cells(columns, found.rows.index(model.row)),
                    f"{margin:.4f}",
                    binding,
                    *(inert(name) for name in answer.space.names(model.row).values()),
                    build,
                ]
            )
    return writer
