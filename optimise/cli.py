"""The command line: one thin function per command."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from pathlib import Path
from typing import Annotated

import typer

from optimise import __version__
from optimise.calls import (
    ClusterOption,
    FittedOption,
    FrontOutOption,
    JsonOption,
    OutOption,
    Pace,
    ParquetOption,
    SamplerName,
    Sets,
    StudyPath,
    TableOutOption,
    Units,
    UnitsOption,
    User,
    WithinOption,
    WorkersOption,
    as_measured,
    asked_plan,
    asked_study,
    examples,
    keep_table,
    kept_place,
    known_study,
    new_console,
    output_place,
    print_json,
    progress_bar,
    read_effort,
    refuse_blocked,
    refuse_options,
    searched_front,
    searched_ranges,
    speak_plainly,
    table_files,
    tell,
    varied,
    write_file,
)
from optimise.completing import SCRIPTS, Shell, candidates, for_bash, typed
from optimise.errors import RamfrontError
from optimise.help_words import PlainHelp
from optimise.memory import keep_freed

app = typer.Typer(
    cls=PlainHelp,
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Find the faster hydraulic wood splitter before buying the parts.",
)

EXIT_CROSSED = 3
"""Exit code of ``check --strict`` when a hard limit is crossed."""
EXIT_INTERRUPTED = 130
EXIT_ENDED = 143
"""Exit code after SIGTERM, as a shell tells it."""


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"ramfront {__version__}")
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print version.")
    ] = False,
) -> None:
    """Find the faster hydraulic wood splitter before buying the parts."""


@app.command(epilog=examples("ramfront new mine", "ramfront new winter --for hobbyist"))
def new(
    folder: Annotated[Path, typer.Argument(help="Folder to make.", show_default=False)],
    user: Annotated[
        User,
        typer.Option(
            "--for",
            help="engineer: limits and measurements with their uncertainty. planner: buyers and a "
            "line of models. hobbyist: own machine, stopwatch and budget.",
        ),
    ] = User.engineer,
) -> None:
    """Write a commented starter study that runs as it is; nothing is asked.

    The invented machine and its price lists are the same for each kind of user.
    """
    from optimise.errors import shown  # noqa: PLC0415
    from optimise.study.starter import next_commands, write_starter  # noqa: PLC0415

    write_starter(folder, user.value)
    typer.echo(f"written: {shown(str(folder), None)}", err=True)
    for call in next_commands(folder, user.value):
        typer.echo(f"next: {call}", err=True)


@app.command(epilog=examples("ramfront schema", "ramfront schema > study.schema.json"))
def schema() -> None:
    """Print the JSON Schema of study.toml, by which an editor completes and checks it."""
    from optimise.study.published import published_schema  # noqa: PLC0415

    typer.echo(published_schema(), nl=False)


@app.command(
    epilog=examples(
        "ramfront check studies/alder-yard",
        'ramfront check studies/alder-yard --set "rod.diameter=2.5 in"',
    )
)
def check(
    study: StudyPath,
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
    fitted: FittedOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit with 3 when a hard limit is crossed.")
    ] = False,
) -> None:
    """Times, force, heat, work and every limit of the machine, and which limit is closest.

    Each result has a range that holds in 9 cases of 10, each limit a chance of being kept.
    """
    from optimise.machine.sheet import sheet_of  # noqa: PLC0415
    from optimise.report.answers import check_answer  # noqa: PLC0415
    from optimise.search.ranges import ranges_of  # noqa: PLC0415
    from optimise.study.space import fitted_machine, owned_machine  # noqa: PLC0415

    loaded, knowledge = known_study(study, sets, asked_study(study, sets, units), fitted)
    machine = fitted_machine(loaded)
    sheet = sheet_of(machine, loaded.setting)
    ranges = ranges_of(machine, loaded.setting, knowledge)
    if as_json:
        print_json(check_answer(loaded, sheet, ranges))
    else:
        from optimise.report.text import print_check  # noqa: PLC0415

        owned = sheet_of(owned_machine(loaded), loaded.setting)
        print_check(new_console(), loaded, sheet, owned, ranges)
    if strict and not bool(sheet.feasible):
        raise typer.Exit(EXIT_CROSSED)


@app.command(
    epilog=examples(
        'ramfront explain studies/alder-yard --only "back stroke"',
        "ramfront explain studies/kvarnby --json",
    )
)
def explain(
    study: StudyPath,
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
    only: Annotated[
        str, typer.Option("--only", metavar="WORDS", help="Chapters with these words in the title.")
    ] = "",
) -> None:
    """The machine's calculation line by line, to be checked by hand: formula, numbers, source."""
    from optimise.report.explain_words import (  # noqa: PLC0415
        explain_answer,
        explained,
        print_explained,
    )

    found = explained(asked_study(study, sets, units), only)
    tell(as_json, lambda: explain_answer(found), lambda console: print_explained(console, found))


@app.command(
    epilog=examples(
        "ramfront fit studies/alder-yard",
        'ramfront fit studies/alder-yard --set "measurements.1.value=7.6 s"',
    )
)
def fit(
    study: StudyPath,
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Correct the model by the study's measurements, and say what is worth measuring next.

    Readings count as taken on the machine owned, in the study's own conditions. --set with a part
    or a condition changes the machine whose cycle time is predicted; --set constants.* and
    measurements.* change what is fitted. Readings that contradict physics are refused.
    """
    from optimise.report.fitting import fit_answer, fitting_of, print_fit  # noqa: PLC0415
    from optimise.search.knowledge import fit_of  # noqa: PLC0415
    from optimise.study.space import fitted_machine  # noqa: PLC0415

    loaded = asked_study(study, sets, units)
    measured = as_measured(study, sets, loaded)
    found = fitting_of(loaded, measured, fitted_machine(loaded), fit_of(measured))
    tell(
        as_json,
        lambda: fit_answer(loaded, found),
        lambda console: print_fit(console, loaded, found),
    )


@app.command(
    epilog=examples(
        "ramfront day studies/alder-yard",
        'ramfront day studies/kvarnby --set "surroundings.air_temperature=25 degC"',
    )
)
def day(
    study: StudyPath,
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Oil over the working day: warm-up, hottest hour, cooling that holds it, cold start."""
    from optimise.report.working_day import day_answer, print_day, working_day  # noqa: PLC0415

    found = working_day(asked_study(study, sets, units))
    tell(as_json, lambda: day_answer(found), lambda console: print_day(console, found))


@app.command(
    epilog=examples(
        "ramfront sweep studies/alder-yard rod",
        'ramfront sweep studies/alder-yard "rod.diameter=1.5..2.5 in by 0.25"',
    )
)
def sweep(
    study: StudyPath,
    vary: Annotated[
        list[str],
        typer.Argument(
            metavar="KEY=RANGE...",
            help="One or two things to vary: 'rod' (its whole price list), "
            "'rod=2 in rod | 2.5 in rod', 'rod.diameter=1.5..3.5 in by 0.25' or "
            "'surroundings.air_temperature=-10..35 degC'; keys are those of --set.",
            show_default=False,
        ),
    ],
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
    fitted: FittedOption = False,
    out: TableOutOption = None,
    parquet: ParquetOption = False,
) -> None:
    """What one or two things bring when they vary, which limits stop them, and where to stop.

    Along parts with a price it says up to which one a second costs less than it is worth. Writes
    sweep.csv where --out is given.
    """
    from optimise.report.sweep_answer import sweep_answer, sweep_table  # noqa: PLC0415
    from optimise.report.sweep_print import print_sweep  # noqa: PLC0415

    loaded, knowledge = known_study(study, sets, asked_study(study, sets, units), fitted)
    kept = kept_place(loaded, out, "sweep", parquet)
    found = varied(study, sets, loaded, vary, knowledge)
    tell(as_json, lambda: sweep_answer(found), lambda console: print_sweep(console, found))
    if kept is not None:
        keep_table(kept, "sweep", sweep_table(found), parquet)


@app.command(
    epilog=examples(
        "ramfront cycle studies/alder-yard",
        'ramfront cycle studies/alder-yard --set "rod=3.5 in rod, 75 ksi"',
    )
)
def cycle(
    study: StudyPath,
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """One cycle followed in time, idle and through the mean piece, beside the fast model.

    Times, reversals, highest pressure, what switched when, and where the engine's work goes; with
    --json also the course of pressures, ram, flows and engine speed.
    """
    from optimise.report.cycle_words import cycle_answer, cycles_of, print_cycle  # noqa: PLC0415

    found = cycles_of(asked_study(study, sets, units))
    tell(as_json, lambda: cycle_answer(found), lambda console: print_cycle(console, found))


@app.command(
    epilog=examples(
        "ramfront front studies/alder-yard",
        "ramfront front studies/alder-yard --sure 0.9 --out reports/sure",
    )
)
def front(
    study: StudyPath,
    ranges: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="KEY=RANGE...",
            help="Numbers that are free beside the lists, for parts made to order: "
            "'rod.diameter=1.5..3 in', 'lines.return_line.length=2..8 ft'. Such a search is "
            "sampled, not proven (needs optuna).",
            show_default=False,
        ),
    ] = None,
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
    out: FrontOutOption = None,
    fitted: FittedOption = False,
    parquet: ParquetOption = False,
    sure: Annotated[
        float | None,
        typer.Option(
            "--sure",
            min=0.0,
            max=1.0,
            metavar="CHANCE",
            help="Find the front of the machines that keep all hard limits with this chance, such "
            "as 0.9: in so many of 128 draws of constants and tolerances, the same for each. "
            "Proven as the plain front is, but takes a minute or some; a chance from 128 draws may "
            "be off by 0.05.",
        ),
    ] = None,
    objectives: Annotated[
        str | None,
        typer.Option(
            "--objectives",
            metavar="KEY,KEY",
            help="Search for other results than cycle time, force and outlay: their keys in the "
            "JSON of check, such as 'cycle.loaded_total_s, force_N, cost.price'. Proven alike; a "
            "result for which nothing can be proven is refused.",
        ),
    ] = None,
    sampler: Annotated[
        SamplerName | None,
        typer.Option(
            "--sampler",
            help="How a search with ranges samples; nsga2 where not given. gp, a Gaussian process, "
            "takes a second and more for each design (needs torch).",
        ),
    ] = None,
    designs: Annotated[
        int | None,
        typer.Option(
            "--designs",
            min=1,
            metavar="NUMBER",
            help="Most designs that the sampler of a search with ranges proposes.",
        ),
    ] = None,
    store: Annotated[
        str | None,
        typer.Option(
            "--store",
            metavar="FILE",
            help="Keep what is worked out in this file (SQLite), and go on with it where it is "
            "there already, as after a crash. A search with ranges may be kept in a database (URL) "
            "too; it gets slower: about ten designs a second.",
        ),
    ] = None,
    near: Annotated[
        str | None,
        typer.Option(
            "--apart",
            metavar="TIME,SHARE",
            help="List the few machines that stand for all: none that they stand for is stronger, "
            "more than this time quicker or more than this share of its price cheaper, such as "
            "'0.05 s, 2 %'. A view: the front, its table and its JSON stay whole.",
        ),
    ] = None,
    within: WithinOption = None,
    workers: WorkersOption = 1,
    cluster: ClusterOption = None,
) -> None:
    """The machines worth a look: none other is quicker without being weaker or dearer.

    Each has a range of its cycle time that holds in 9 cases of 10, and the chance that it keeps all
    hard limits. Writes front.csv with all of them; with --json only where --out is given.
    """
    from optimise.errors import CallError  # noqa: PLC0415
    from optimise.report.answers import front_answer  # noqa: PLC0415
    from optimise.report.sampled_words import (  # noqa: PLC0415
        print_sampled,
        sampled_answer,
        sampled_table,
    )
    from optimise.report.tables import front_table  # noqa: PLC0415
    from optimise.search.alike import read_apart  # noqa: PLC0415
    from optimise.search.chances import Chances  # noqa: PLC0415
    from optimise.search.sureness import sureness_of  # noqa: PLC0415

    if ranges:
        refuse_options(
            "with ranges",
            {
                "--sure": sure,
                "--apart": near,
                "--within": within,
                "--workers": workers if workers > 1 else None,
                "--cluster": cluster,
            },
        )
        loaded, _ = known_study(study, sets, asked_study(study, sets, units), fitted)
        kept = kept_place(loaded, out, "front", parquet, not as_json)
        made, found = searched_ranges(
            study, sets, loaded, ranges, objectives, sampler, designs, store
        )
        tell(
            as_json,
            lambda: sampled_answer(made, found),
            lambda console: print_sampled(console, made, found),
        )
        if kept is not None:
            keep_table(kept, "front", sampled_table(made, found), parquet)
        return
    refuse_options("without ranges", {"--sampler": sampler, "--designs": designs})
    view = None if near is None else read_apart(near)
    if view is not None and objectives is not None:
        raise CallError("--apart is a view of the usual front: leave --objectives out")
    effort = read_effort(within, workers, cluster, store)
    loaded, knowledge = known_study(study, sets, asked_study(study, sets, units), fitted)
    chances = sureness = None
    if sure is not None:
        if knowledge.belief is None:
            raise CallError(f"--sure: no chance can be told; {knowledge.why_not}")
        chances = Chances(loaded.setting, knowledge.belief, sure)
    kept = kept_place(loaded, out, "front", parquet, not as_json)
    space, answer = searched_front(loaded, effort, objectives, chances)
    if knowledge.belief is not None and len(answer.indices):
        with progress_bar("front") as progress:
            sureness = sureness_of(
                space, answer, loaded.setting, knowledge.belief, progress, effort
            )
    if as_json:
        print_json(front_answer(loaded, space, answer, knowledge, sureness, view))
    else:
        from optimise.report.text import print_front  # noqa: PLC0415

        print_front(new_console(), loaded, space, answer, sureness, view)
    if kept is not None:
        keep_table(kept, "front", front_table(loaded, space, answer, sureness), parquet)


@app.command(
    epilog=examples(
        "ramfront steps studies/alder-yard --budget 1000",
        'ramfront steps studies/alder-yard --target "15 s" --json',
    )
)
def steps(
    study: StudyPath,
    budget: Annotated[
        str | None,
        typer.Option("--budget", metavar="MONEY", help="Plan for this much money at most."),
    ] = None,
    target: Annotated[
        str | None,
        typer.Option(
            "--target",
            metavar="TIME",
            help="Plan for this time per piece (or cycle), such as '15 s'.",
        ),
    ] = None,
    to: Annotated[
        list[str] | None,
        typer.Option(
            "--to",
            metavar="CATEGORY=PART",
            help="Plan for these parts, and compare with the best plan for the same money. May be "
            "given more than once.",
        ),
    ] = None,
    force: Annotated[
        str | None,
        typer.Option(
            "--force",
            metavar="FORCE",
            help="Least force of the goal; that of the machine by default.",
        ),
    ] = None,
    by: Annotated[
        Pace,
        typer.Option(
            "--by",
            help="The seconds that count, in ranks and plan. piece: off a piece, where a return "
            "quicker than the hands is worth nothing. cycle: of the stroke out and back without a "
            "log, as a stopwatch shows it.",
        ),
    ] = Pace.piece,
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
    out: TableOutOption = None,
    parquet: ParquetOption = False,
) -> None:
    """The next part to put on: every single change by gain for money, and the best order of a plan.

    Writes steps.csv where --out is given.
    """
    from optimise.report.next_steps import next_steps, read_wish  # noqa: PLC0415
    from optimise.report.step_words import (  # noqa: PLC0415
        print_steps,
        steps_answer,
        steps_table,
    )

    loaded, kept, wish = asked_plan(
        lambda changes: asked_study(study, changes, units),
        sets,
        lambda known: kept_place(known, out, "steps", parquet),
        lambda lists: read_wish(lists, budget, target, force, to or (), by.value),
    )
    with progress_bar("steps"):
        found = next_steps(loaded, wish)
    tell(as_json, lambda: steps_answer(found), lambda console: print_steps(console, found))
    if kept is not None:
        keep_table(kept, "steps", steps_table(found), parquet)


@app.command(
    epilog=examples(
        "ramfront lineup studies/alder-yard",
        "ramfront lineup studies/alder-yard --models 2",
    )
)
def lineup(
    study: StudyPath,
    models: Annotated[
        int | None,
        typer.Option(
            "--models",
            min=1,
            metavar="NUMBER",
            max=8,
            help="Models to build; as many as pay where not given.",
            show_default=False,
        ),
    ] = None,
    sets: Sets = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
    out: TableOutOption = None,
    parquet: ParquetOption = False,
) -> None:
    """The models to build for the study's groups of buyers, and upgrade kits for the machine owned.

    With --out it writes lineup.csv with the models of all lines.
    """
    from optimise.report.lineup_answer import lineup_answer, lineup_table  # noqa: PLC0415
    from optimise.report.lineup_words import lineup_report, print_lineup  # noqa: PLC0415

    loaded = asked_study(study, sets, units)
    kept = kept_place(loaded, out, "lineup", parquet)
    with progress_bar("lineup") as progress:
        found = lineup_report(loaded, models, progress)
    tell(as_json, lambda: lineup_answer(found), lambda console: print_lineup(console, found))
    if kept is not None:
        keep_table(kept, "lineup", lineup_table(found), parquet)


@app.command(
    epilog=examples(
        'ramfront compare studies/alder-yard --with "rod=2.5 in rod, 75 ksi"',
        "ramfront compare studies/alder-yard studies/kvarnby --units metric",
    )
)
def compare(
    places: Annotated[
        list[Path],
        typer.Argument(
            metavar="STUDY|ANSWER...",
            help="Study folders, and saved answers: check, steps, sweep and lineup with --json, or "
            "tables (.csv, .parquet).",
            show_default=False,
        ),
    ],
    variants: Annotated[
        list[str] | None,
        typer.Option(
            "--with",
            metavar="KEY=VALUE;...",
            help="The first study with these changes, as one more machine. May be given more than "
            "once.",
        ),
    ] = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
    out: TableOutOption = None,
    parquet: ParquetOption = False,
    strict: Annotated[
        bool,
        typer.Option(
            "--strict",
            help="Refuse, with exit code 2, when an answer is out of date or cannot be told to "
            "be up to date.",
        ),
    ] = False,
    whole: Annotated[
        bool,
        typer.Option("--all", help="Show also what differs by less than 1 %."),
    ] = False,
) -> None:
    """Machines, plans and studies side by side: every difference in parts, results and limits.

    A saved answer knows where its study is: one whose study has changed since, or is not there any
    more, or that another version made, is flagged.
    """
    from optimise.errors import CallError, Gathered  # noqa: PLC0415
    from optimise.report.comparing import (  # noqa: PLC0415
        compare as side_by_side,
    )
    from optimise.report.comparing import (  # noqa: PLC0415
        compare_answer,
        compare_table,
        print_compare,
    )

    kept = Path("reports") if out is None else out
    faults = Gathered()
    if out is not None or parquet:
        faults.look(lambda: refuse_blocked(kept, *table_files("compare", parquet)))
    sides = faults.look(
        lambda: side_by_side(places, variants or (), None if units is None else units.value)
    )
    found = faults.needed(sides)
    if strict and found.flags:
        raise CallError("\n".join(found.flags))
    tell(
        as_json,
        lambda: compare_answer(found),
        lambda console: print_compare(console, found, whole),
    )
    if out is not None or parquet:
        keep_table(kept, "compare", compare_table(found), parquet)


@app.command(
    epilog=examples(
        "ramfront report studies/alder-yard",
        'ramfront report studies/alder-yard --set "rod=3.5 in rod, 75 ksi" --open',
    )
)
def report(
    study: StudyPath,
    sets: Sets = None,
    units: UnitsOption = None,
    out: OutOption = None,
    fitted: FittedOption = False,
    sweeps: Annotated[
        list[str] | None,
        typer.Option(
            "--sweep",
            metavar="KEY=RANGE",
            help="Show this sweep, such as 'rod' or 'rod.diameter=2..3 in', instead of the usual "
            "ones; two things with a semicolon between, 'pump; rod'. May be given more than once.",
        ),
    ] = None,
    open_it: Annotated[
        bool, typer.Option("--open", help="Open the report in the browser.")
    ] = False,
    within: WithinOption = None,
    workers: WorkersOption = 1,
) -> None:
    """All answers as one interactive HTML file that works offline."""
    from optimise.report.content import report_content  # noqa: PLC0415
    from optimise.report.page import render_page  # noqa: PLC0415
    from optimise.report.tables import front_table  # noqa: PLC0415

    effort = read_effort(within, workers)
    loaded, knowledge = known_study(study, sets, asked_study(study, sets, units), fitted)
    folder = output_place(loaded, out)
    refuse_blocked(folder, *table_files("front"), "report.html")
    shown = []
    for text in sweeps or ():
        vary = [one.strip() for one in text.split(";")]
        shown.append(varied(study, sets, loaded, vary, knowledge))
    space, answer = searched_front(loaded, effort)
    words = [
        *(f"--set {one!r}" for one in sets or ()),
        *(["--fitted"] if fitted else []),
        *(f"--sweep {one!r}" for one in sweeps or ()),
        *([f"--within {within!r}"] if within else []),
    ]
    command = " ".join(["ramfront report", study.name, *words])
    page = render_page(report_content(loaded, space, answer, command, knowledge, shown))
    keep_table(folder, "front", front_table(loaded, space, answer))
    write_file(folder / "report.html", page)
    if open_it:
        import webbrowser  # noqa: PLC0415

        webbrowser.open((folder / "report.html").resolve().as_uri())


@app.command(
    epilog=examples("ramfront completion bash >> ~/.bashrc", "ramfront completion fish"),
)
def completion(
    shell: Annotated[Shell, typer.Argument(help="bash, zsh or fish.", show_default=False)],
) -> None:
    """Print what makes a shell complete commands, options, studies, keys and names of parts."""
    typer.echo(SCRIPTS[shell], nl=False)


@app.command(hidden=True)
def complete(
    context: typer.Context, style: str, words: Annotated[list[str], typer.Argument()]
) -> None:
    """Print candidates: of a line in the style "bash", of words, the last unfinished, else."""
    commands = context.find_root().command.commands  # type: ignore[attr-defined]
    choices = {
        name: [one.value for one in kind]
        for name, kind in (("units", Units), ("user", User), ("shell", Shell), ("by", Pace))
    }
    if style == "bash":
        line = typed(words[0])
        found = for_bash(candidates(commands, choices, line.words[1:], line.current), line)
    else:
        *whole, current = (typed(word.replace(" ", "\\ ")).current for word in words)
        found = candidates(commands, choices, whole, current)
    for one in found:
        typer.echo(one)


def run() -> None:
    """Entry point: own errors become one message each and their exit code."""
    speak_plainly()
    keep_freed()
    before = signal.signal(signal.SIGTERM, _end)
    try:
        try:
            app()
        finally:
            if sys.stdout is not None:
                sys.stdout.flush()
    except RamfrontError as error:
        typer.echo(str(error), err=True)
        raise SystemExit(error.exit_code) from None
    except SystemExit as ended:
        # Typer tells Ctrl-C by its code alone, and a reader that left by what it met.
        if isinstance(ended.__context__, BrokenPipeError):
            _leave_output()
            raise SystemExit(0) from None
        if ended.code == EXIT_INTERRUPTED:
            _say_stopped()
        raise
    except KeyboardInterrupt:
        _say_stopped()
        raise SystemExit(EXIT_INTERRUPTED) from None
    except BrokenPipeError:
        _leave_output()
        raise SystemExit(0) from None
    except OSError as error:
        _leave_output()
        typer.echo(f"the answer could not be written out: {error.strerror or error}", err=True)
        raise SystemExit(1) from None
    finally:
        signal.signal(signal.SIGTERM, before)


def _say_stopped() -> None:
    typer.echo("stopped; files named as written are whole, others are as they were", err=True)


def _end(*_: object) -> None:
    """End on SIGTERM as on an error, so that no temporary file is left."""
    raise SystemExit(EXIT_ENDED)


def _leave_output() -> None:
    """Nothing more goes to standard output, nor fails there as the interpreter ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    run()
