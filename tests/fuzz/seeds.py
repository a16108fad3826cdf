"""What a case starts from: whole studies and saved answers, in folders kept in memory."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from optimise.machine.sheet import sheet_of
from optimise.report.answers import check_answer
from optimise.search.knowledge import knowledge_of
from optimise.search.ranges import ranges_of
from optimise.study.load import load_study
from optimise.study.space import fitted_machine
from optimise.study.starter import KINDS_OF_USER, STARTER_FILES, starter_text

ANSWER = "answer.json"
LISTS = tuple(file for file in STARTER_FILES if file.endswith(".csv"))
STUDY = "study.toml"
_DEMONSTRATIONS = Path(__file__).parents[2] / "studies"
_IN_MEMORY = Path("/dev/shm")
_NEEDED = ("", "owned", "frame", "lines", "oil", "wood")
_WITHOUT_WORDS = re.compile(rb"(?m)^[ \t]*(?:#[^\n]*)?\n")


@dataclass(frozen=True)
class Seed:
    """A study that loads: its name, how often it is taken, and its files."""

    name: str
    weight: int
    files: Mapping[str, bytes]

    def bare(self, weight: int) -> Seed:
        """The same without comments and empty lines: changes then meet what is read."""
        files = {name: _WITHOUT_WORDS.sub(b"", data) for name, data in self.files.items()}
        return Seed(f"{self.name}-bare", weight, files)

    def parts(self, count: int, weight: int) -> list[Seed]:
        """Smaller studies that hold all together: what is needed, and some of what may be left."""
        sections = re.split(rb"(?m)^(?=\[)", self.files[STUDY])
        names = [_head(section) for section in sections]
        optional = [name for name in dict.fromkeys(names) if name not in _NEEDED]
        return [
            Seed(
                f"{self.name}-{part}",
                weight,
                {
                    **self.files,
                    STUDY: b"".join(
                        section
                        for name, section in zip(names, sections, strict=True)
                        if name in _NEEDED or name in optional[part::count]
                    ),
                },
            )
            for part in range(count)
        ]


def _head(section: bytes) -> str:
    """First word of a section's header; "" for what stands before all headers."""
    found = re.match(rb"\[+(\w+)", section)
    return found[1].decode() if found else ""


@cache
def seeds() -> tuple[Seed, ...]:
    """The three starters, as they are, without comments and in parts; both demonstrations."""
    starters = [
        Seed(kind, 1, {file: starter_text(file, kind).encode() for file in STARTER_FILES})
        for kind in KINDS_OF_USER
    ]
    large = [
        Seed(place.name, 0, {file: (place / file).read_bytes() for file in STARTER_FILES})
        for place in sorted(_DEMONSTRATIONS.iterdir())
    ]
    return (
        *starters,
        *(part for seed in starters for part in seed.bare(0).parts(3, 3)),
        *(seed.bare(1) for seed in large),
    )


def answer_of(folder: Path, sets: Sequence[str] = ()) -> bytes:
    """What ``ramfront check --json`` says of a study."""
    study = load_study(folder, sets)
    machine = fitted_machine(study)
    ranges = ranges_of(machine, study.setting, knowledge_of(study))
    answer = check_answer(study, sheet_of(machine, study.setting), ranges)
    return json.dumps(answer, indent=2, ensure_ascii=False, allow_nan=False).encode()


class Ground:
    """One folder for each seed; a case changes files in it and puts them back."""

    def __init__(self, place: Path) -> None:
        self._place = place
        self._answers: dict[str, bytes] = {}

    def folder(self, seed: Seed) -> Path:
        """The seed's folder, written at first."""
        folder = self._place / seed.name
        if not folder.exists():
            folder.mkdir()
            for name, data in seed.files.items():
                (folder / name).write_bytes(data)
        return folder

    def answer(self, seed: Seed) -> bytes:
        """The answer of the seed as it is, worked out once."""
        if seed.name not in self._answers:
            self._answers[seed.name] = answer_of(self.folder(seed))
        return self._answers[seed.name]

    @contextmanager
    def changed(self, seed: Seed, files: Mapping[str, bytes]) -> Iterator[Path]:
        """The folder with these files in it; afterwards as it was."""
        folder = self.folder(seed)
        for name, data in files.items():
            (folder / name).write_bytes(data)
        try:
            yield folder
        finally:
            for name in files:
                if name in seed.files:
                    (folder / name).write_bytes(seed.files[name])
                else:
                    (folder / name).unlink()


@contextmanager
def ground() -> Iterator[Ground]:
    """Folders in memory where the system has such a place, on disk elsewhere."""
    with tempfile.TemporaryDirectory(dir=_IN_MEMORY if _IN_MEMORY.is_dir() else None) as name:
        yield Ground(Path(name))
