"""What the commands share: options, a study as it is asked about, answers told, files written."""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from optimise.report.next_steps import Wish
    from optimise.report.tables import Kept
    from optimise.search.chances import Chances
    from optimise.search.crew import Effort
    from optimise.search.front import FrontAnswer
    from optimise.search.knowledge import Knowledge
    from optimise.search.sampled import Sampled
    from optimise.search.sweep import Sweep
    from optimise.study.made_to_order import MadeToOrder
    from optimise.study.model import PriceList, Study
    from optimise.study.space import Space

QUIET = 30.0
"""Seconds between two lines of progress where there is no terminal."""
MOST_VARIED = 2
"""Dimensions of a sweep."""


class Units(StrEnum):
    """Unit system of the answer."""

    us = "us"
    metric = "metric"


class User(StrEnum):
    """Kind of user that a starter study is for."""

    engineer = "engineer"
    planner = "planner"
    hobbyist = "hobbyist"


class Pace(StrEnum):
    """Seconds that count."""

    piece = "piece"
    cycle = "cycle"


class SamplerName(StrEnum):
    """Samplers of a search with ranges."""

    nsga2 = "nsga2"
    nsga3 = "nsga3"
    gp = "gp"


StudyPath = Annotated[
    Path,
    typer.Argument(help="Study folder, or its study.toml.", show_default=False, readable=False),
]
Sets = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help="Change one thing for this call: 'rod=2.5 in rod', 'rod.diameter=2.5 in' or "
        "'surroundings.altitude=1500 m'. May be given more than once.",
    ),
]
UnitsOption = Annotated[
    Units | None, typer.Option("--units", help="Show answers in us or metric units.")
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print one JSON object in SI instead of words.")
]
FittedOption = Annotated[
    bool,
    typer.Option(
        "--fitted",
        help="Use the constants that fit the study's measurements best instead of the study's own.",
    ),
]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="FOLDER", help="Folder for files; reports/NAME where not given."),
]
TableOutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="FOLDER", help="Write the table into this folder."),
]
FrontOutOption = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="FOLDER",
        help="Folder for the table; reports/NAME where not given, and none with --json.",
    ),
]


ParquetOption = Annotated[
    bool,
    typer.Option(
        "--parquet",
        help="Write the table, as Parquet too (needs pyarrow), into --out or under reports.",
    ),
]


WithinOption = Annotated[
    str | None,
    typer.Option(
        "--within",
        metavar="TIME",
        help="Stop searching after this time, such as '20 s', with the best machines found so far, "
        "which are then called not proven. Without it the search goes on to its end.",
    ),
]
WorkersOption = Annotated[
    int,
    typer.Option(
        "--workers",
        min=1,
        max=64,
        metavar="NUMBER",
        help="Share the search among so many processes; the answer is the same.",
    ),
]
ClusterOption = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Share the search among the workers of the dask scheduler at this address, such as "
        "tcp://192.168.1.20:8786, instead; the answer is the same (needs distributed).",
    ),
]


def examples(*calls: str) -> str:
    """Foot of a command's help."""
    return "\n\n".join(["Examples:", *calls])


def asked_study(path: Path, sets: list[str] | None, units: Units | None) -> Study:
    """Study with the changes of a call, in the units asked for."""
    import dataclasses  # noqa: PLC0415

    from optimise.study.load import load_study  # noqa: PLC0415

    study = load_study(path, sets or ())
    return study if units is None else dataclasses.replace(study, system=units.value)


def asked_plan(
    asked: Callable[[list[str] | None], Study],
    sets: list[str] | None,
    kept: Callable[[Study], Path | None],
    wish: Callable[[Mapping[str, PriceList] | None], Wish],
) -> tuple[Study, Path | None, Wish]:
    """Study asked about, place of its table and wish, the faults of all told at once.

    Where the changes of the call are at fault, the rest is held against the study without them.
    """
    from optimise.errors import Gathered  # noqa: PLC0415
    from optimise.study.space import upgrade_space  # noqa: PLC0415

    faults = Gathered()
    study = faults.look(lambda: asked(sets))
    known = study or Gathered().look(lambda: asked(None))
    place = None if known is None else faults.look(lambda: kept(known))
    read = faults.look(lambda: wish(None if known is None else known.lists))
    if study is not None:
        faults.look(lambda: upgrade_space(study))
    return faults.needed(study), place, faults.needed(read)


def as_measured(path: Path, sets: list[str] | None, study: Study) -> Study:
    """Study as its readings were taken: other parts and conditions belong to the question only."""
    import dataclasses  # noqa: PLC0415

    from optimise.study.load import load_study  # noqa: PLC0415
    from optimise.study.sets import measured_under  # noqa: PLC0415

    kept = measured_under(sets or ())
    if len(kept) == len(sets or ()):
        return study
    return dataclasses.replace(load_study(path, kept), system=study.system)


def known_study(
    path: Path, sets: list[str] | None, study: Study, fitted: bool
) -> tuple[Study, Knowledge]:
    """Study with the constants asked for, and what ranges rest on."""
    from optimise.search.knowledge import corrected, knowledge_of  # noqa: PLC0415

    knowledge = knowledge_of(as_measured(path, sets, study), must_fit=fitted)
    return (corrected(study, knowledge.fit) if knowledge.fit and fitted else study), knowledge


def varied(
    path: Path, sets: list[str] | None, study: Study, vary: list[str], knowledge: Knowledge
) -> Sweep:
    """Sweep of one or two things, as written."""
    from optimise.errors import CallError, shown_path  # noqa: PLC0415
    from optimise.search.sweep import sweep as vary_it  # noqa: PLC0415
    from optimise.study.load import load_study  # noqa: PLC0415

    if len(vary) > MOST_VARIED:
        raise CallError(f"{len(vary)} things to vary; one or two can be shown at a time")
    found = vary_it(path, sets or (), study, vary, knowledge.belief)
    if load_study(path, sets or ()).fingerprint != study.fingerprint:
        raise CallError(f"{shown_path(str(path))} changed while it was read; ask again")
    return found


def speak_plainly() -> None:
    """Let a terminal or pipe that has no letter for a sign get a question mark in its place."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def print_json(answer: dict[str, Any]) -> None:
    """Print one answer for programs, in letters that the output has."""
    narrow = (getattr(sys.stdout, "encoding", None) or "utf-8").lower() != "utf-8"
    from optimise.errors import in_order  # noqa: PLC0415

    typer.echo(in_order(json.dumps(answer, indent=2, ensure_ascii=narrow, allow_nan=False)))


def tell(as_json: bool, answer: Callable[[], dict[str, Any]], words: Callable[[Any], None]) -> None:
    """Answer for programs or in words, whichever is asked for."""
    if as_json:
        print_json(answer())
    else:
        words(new_console())


class _InOrder:
    """A stream on which no name out of a study turns the writing about."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write with direction marks escaped."""
        from optimise.errors import in_order  # noqa: PLC0415

        written: int = self._stream.write(in_order(text))
        return written

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def new_console() -> Any:
    """Where words go; a number is not coloured, brackets in a name are no markup."""
    from rich.console import Console  # noqa: PLC0415

    stream: Any = None if sys.stdout is None else _InOrder(sys.stdout)
    return Console(file=stream, soft_wrap=False, highlight=False, markup=False, emoji=False)


@contextmanager
def progress_bar(words: str) -> Iterator[Callable[[str, float], None]]:
    """Progress on standard error: a bar where that is a terminal, else a line now and then."""
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn  # noqa: PLC0415

    console = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task(words, total=1.0)
        told = time.monotonic()

        def tell(step: str, share: float) -> None:
            nonlocal told
            bar.update(task, description=step, completed=share)
            if not console.is_terminal and time.monotonic() - told >= QUIET:
                told = time.monotonic()
                typer.echo(f"{words}: {step}; {share:.0%}", err=True)

        yield tell


def read_effort(
    within: str | None, workers: int, cluster: str | None = None, store: str | None = None
) -> Effort:
    """How a search may work, from the options of a call."""
    import dataclasses  # noqa: PLC0415

    from optimise.errors import CallError, shown  # noqa: PLC0415
    from optimise.search.crew import Effort  # noqa: PLC0415
    from optimise.units import UnitFault, parse  # noqa: PLC0415

    if cluster is not None and workers > 1:
        raise CallError("--workers: not with --cluster, which has workers of its own")
    if cluster == "":
        raise CallError("--cluster: wanted an address, such as tcp://192.168.1.20:8786")
    if store is not None and (not store or "://" in store):
        raise CallError("--store: without ranges wanted a file; a database keeps those with ranges")
    if store is not None and within is not None:
        raise CallError("--store: not with --within; what is kept is gone on with anyway")
    effort = Effort(
        workers,
        cluster=cluster or "",
        note=partial(typer.echo, err=True),
        store=None if store is None else Path(store),
    )
    if within is None:
        return effort
    try:
        seconds = parse(within, "time")
    except UnitFault as fault:
        raise CallError(f"--within {shown(within)}: {fault}") from None
    if seconds <= 0.0:
        raise CallError(f"--within {shown(within)}: wanted a time above 0, such as '20 s'")
    return dataclasses.replace(effort, seconds=seconds)


def searched_front(
    study: Study, effort: Effort, keys: str | None = None, chances: Chances | None = None
) -> tuple[Space, FrontAnswer]:
    """Front of the machines that a call leaves open."""
    from optimise.search.front import find_front  # noqa: PLC0415
    from optimise.search.goals import STANDARD, read_goals  # noqa: PLC0415
    from optimise.study.space import searched_space  # noqa: PLC0415

    goals = STANDARD if keys is None else read_goals([key.strip() for key in keys.split(",")])
    space = searched_space(study)
    with progress_bar("front") as progress:
        return space, find_front(space, study.setting, progress, goals, chances, effort)


def searched_ranges(
    path: Path,
    sets: list[str] | None,
    study: Study,
    ranges: list[str],
    keys: str | None,
    sampler: SamplerName | None,
    designs: int | None,
    store: str | None,
) -> tuple[MadeToOrder, Sampled]:
    """Sampled front over lists and ranges."""
    from optimise.search.goals import STANDARD, read_goals  # noqa: PLC0415
    from optimise.search.sampled import sampled_front  # noqa: PLC0415
    from optimise.study.made_to_order import read_made_to_order  # noqa: PLC0415

    goals = STANDARD if keys is None else read_goals([key.strip() for key in keys.split(",")])
    made = read_made_to_order(path, sets or (), study, ranges)
    with progress_bar("front") as progress:
        return made, sampled_front(
            made,
            goals,
            sampler="nsga2" if sampler is None else sampler.value,
            designs=designs,
            store=store,
            progress=progress,
        )


def refuse_options(where: str, options: dict[str, object]) -> None:
    """Refuse options that are given and make no sense ``where`` they stand."""
    from optimise.errors import CallError  # noqa: PLC0415

    given = [name for name, value in options.items() if value is not None]
    if given:
        raise CallError(f"{', '.join(given)}: not {where}")


def made_folder(folder: Path) -> None:
    """Make the folder where it is not there yet."""
    from optimise.errors import OutputError, shown_path  # noqa: PLC0415

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"{shown_path(str(folder))}: cannot make the folder ({error.strerror}); "
            "name another with --out"
        ) from error


def output_place(study: Study, out: Path | None) -> Path:
    """Folder that a call names, or the study's own under ``reports``; it need not be there yet."""
    from optimise.files import safe_output  # noqa: PLC0415

    if out is not None:
        return out
    name = Path(os.path.abspath(study.folder)).name  # noqa: PTH100 - links keep their own name
    return safe_output(Path("reports"), name)


def refuse_blocked(folder: Path, *names: str) -> None:
    """Refuse, before any work, results that would go where something of another kind stands."""
    from optimise.errors import CallError, Fault  # noqa: PLC0415

    faults: list[Fault] = []
    with contextlib.suppress(OSError):  # what cannot be looked into is told when it is written
        place = next((one for one in (folder, *folder.parents) if os.path.lexists(one)), folder)
        if os.path.lexists(place) and not place.is_dir():
            found = "a link that leads nowhere" if place.is_symlink() else "a file"
            hint = "name another with --out"
            faults.append(Fault(str(place), "", found, "a folder for results", hint))
        for name in names:
            target = folder / name
            if target.is_dir() and not target.is_symlink():
                wanted = "a file that may be replaced, or nothing"
                hint = "move it away, or name another folder with --out"
                faults.append(Fault(str(target), "", "a folder", wanted, hint))
    if faults:
        raise CallError("\n".join(map(str, faults)))


def kept_place(
    study: Study, out: Path | None, name: str, parquet: bool, always: bool = False
) -> Path | None:
    """Folder in which a call keeps a table, looked at before any work; None where it keeps none."""
    if out is None and not parquet and not always:
        return None
    folder = output_place(study, out)
    refuse_blocked(folder, *table_files(name, parquet))
    return folder


def write_file(path: Path, data: str | bytes) -> None:
    """Write a file whole and say so on standard error."""
    from optimise.errors import shown  # noqa: PLC0415
    from optimise.files import write_whole  # noqa: PLC0415

    write_whole(path, data)
    typer.echo(f"written: {shown(str(path), None)}", err=True)


def table_files(name: str, parquet: bool = False) -> list[str]:
    """Names of the files in which a table is kept."""
    return [f"{name}.csv", *([f"{name}.parquet"] if parquet else [])]


def keep_table(folder: Path, name: str, table: Kept, parquet: bool = False) -> None:
    """Write a table as CSV, and as Parquet too where that is asked for; the folder is made."""
    kept: list[str | bytes] = [table.csv]
    if parquet:
        kept.append(table.parquet)
    made_folder(folder)
    for file, data in zip(table_files(name, parquet), kept, strict=True):
        write_file(folder / file, data)
