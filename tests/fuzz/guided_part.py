"""One process of a guided run: ``python -m tests.fuzz.guided_part PART SECONDS``.

The tool is imported here first, so that its lines are counted.
"""

from __future__ import annotations

import atheris

with atheris.instrument_imports(
    include=[
        "optimise.errors",
        "optimise.files",
        "optimise.units",
        "optimise.study",
        "optimise.report.comparing",
        "optimise.report.saved",
        "optimise.report.tables",
        "tomllib",
    ]
):
    from optimise.errors import RamfrontError
    from optimise.machine.parts import CATEGORIES
    from optimise.report.comparing import compare, compare_answer, compare_table, print_compare
    from optimise.study.load import load_study
    from optimise.units import KINDS, UnitFault, parse, show

import hashlib
import io
import json
import math
import random
import re
import sys
import time
from abc import ABC, abstractmethod
from collections.abc import Callable
from pathlib import Path

from rich.console import Console

from tests.fuzz import mutators
from tests.fuzz.cases import Remembered, judged, too_long
from tests.fuzz.guided import PLACE
from tests.fuzz.seeds import ANSWER, STUDY, Ground, ground, seeds

_WHOLE = "whole.json"
_TABLE = "table.csv"
_LONGEST_WORD = 40
_LARGEST, _COLDEST = 1e100, 1.0
_NEARLY = 1e-3


class Part(ABC):
    """What is done with the bytes of a case: first inputs, and the work that one means."""

    ending = "csv"
    longest = 10_000

    def __init__(self, place: Ground) -> None:
        self.seed = seeds()[0]
        self.folder = place.folder(self.seed)
        self.remembered = Remembered()

    @abstractmethod
    def first(self) -> list[bytes]:
        """Inputs to begin with."""

    @abstractmethod
    def work(self, data: bytes) -> str:
        """Do it; "" or the tool's own words."""

    def _loaded(self, *sets: str) -> str:
        started = time.process_time()
        try:
            load_study(self.folder, sets)
        except RamfrontError as error:
            return str(error)
        finally:
            complaint = too_long(time.process_time() - started)
            if complaint:
                raise AssertionError(complaint)
        return ""


class Study(Part):
    """Any study.toml."""

    ending = "toml"

    def first(self) -> list[bytes]:
        """Those of the starters, whole and in parts."""
        return [seed.files[STUDY] for seed in seeds()]

    def work(self, data: bytes) -> str:
        """Load it with the starter's lists."""
        self.remembered.changed = frozenset((STUDY,))
        (self.folder / STUDY).write_bytes(data)
        return self._loaded()


class List(Part):
    """Any price list; the first byte says which."""

    longest = 4_000

    def first(self) -> list[bytes]:
        """Those of the starter and the demonstrations."""
        return [
            bytes((number,)) + seed.files[f"{category}.csv"]
            for number, category in enumerate(CATEGORIES)
            for seed in (seeds()[0], *seeds()[-2:])
        ]

    def work(self, data: bytes) -> str:
        """Load the starter with it."""
        name = f"{tuple(CATEGORIES)[(data or b'0')[0] % len(CATEGORIES)]}.csv"
        self.remembered.changed = frozenset((name,))
        (self.folder / name).write_bytes(data[1:])
        try:
            return self._loaded()
        finally:
            (self.folder / name).write_bytes(self.seed.files[name])


class Units(Part):
    """Any text as a quantity; the first byte says of what."""

    longest = 120

    def first(self) -> list[bytes]:
        """The examples of each kind."""
        return [
            bytes((number,)) + example.encode()
            for number, kind in enumerate(KINDS.values())
            for example in (kind.example_us, kind.example_metric, "1-1/2 in", "-.5e-3")
        ]

    def work(self, data: bytes) -> str:
        """Read it, write it in both systems, and read that again."""
        kind = tuple(KINDS)[(data or b"0")[0] % len(KINDS)]
        try:
            value = parse(data[1:].decode("utf-8", "replace"), kind)
        except UnitFault as fault:
            return str(fault)
        assert math.isfinite(value)
        if abs(value) > _LARGEST or (kind == "temperature" and value < _COLDEST):
            return ""
        for written in (show(value, kind, "us", 17), show(value, kind, "metric", 17)):
            again = parse(written, kind)
            assert math.isclose(again, value, rel_tol=1e-9, abs_tol=1e-9), (value, written, again)
        return ""


class Set(Part):
    """Any words after ``--set``."""

    longest = 300

    def first(self) -> list[bytes]:
        """Keys of all sorts, each with a value that fits."""
        words = ("rod.diameter=2 in", "wood.1.share=0.5", "units=metric", "oil.grade=46", "rod=x")
        more = ('space.keep=["rod"]', "limits.stall.bound=1", "measurements.1.value=9 s")
        return [word.encode() for word in (*words, *more)]

    def work(self, data: bytes) -> str:
        """Load the starter with that change."""
        return self._loaded(data.decode("utf-8", "surrogateescape"))


class Answer(Part):
    """Any saved answer of ``check --json``."""

    ending = "json"
    longest = 60_000
    file = ANSWER

    def __init__(self, place: Ground) -> None:
        super().__init__(place)
        (self.folder / _WHOLE).write_bytes(place.answer(self.seed))

    def first(self) -> list[bytes]:
        """The answer as it is, and without its longest lists."""
        whole = json.loads((self.folder / _WHOLE).read_bytes())
        short = {
            key: value for key, value in whole.items() if len(json.dumps(value)) < self.longest / 20
        }
        least = {**short, "limits": whole["limits"][:2]}
        return [json.dumps(one, indent=2).encode() for one in (whole, short, least)]

    def work(self, data: bytes) -> str:
        """Compare it with the answer as it is."""
        (self.folder / self.file).write_bytes(data)
        try:
            found = compare([self.folder / _WHOLE, self.folder / self.file], (), None)
        except RamfrontError as error:
            return str(error)
        json.dumps(compare_answer(found), allow_nan=False)
        print_compare(Console(file=io.StringIO(), width=80), found)
        compare_table(found).csv.encode("utf-8")
        return ""


class Table(Answer):
    """Any table that ``compare`` wrote as CSV."""

    ending = "csv"
    longest = 20_000
    file = _TABLE

    def __init__(self, place: Ground) -> None:
        super().__init__(place)
        self.other = place.folder(seeds()[-1])

    def first(self) -> list[bytes]:
        """A starter and a demonstration side by side, and one of them."""
        whole = compare_table(compare([self.folder, self.other], (), None)).csv.encode()
        return [whole, b"\n".join(whole.split(b"\n")[:2])]


_PARTS: dict[str, type[Part]] = {
    "study": Study,
    "list": List,
    "units": Units,
    "set": Set,
    "answer": Answer,
    "table": Table,
}


def _dictionary(inputs: list[bytes]) -> str:
    """Words that inputs are made of, as libFuzzer reads them."""
    words = {word for data in inputs for word in re.findall(rb"[\w.%/-]{2,}", data)}
    words |= {
        word.encode("utf-8", "replace")
        for word in (*mutators.NUMBERS, *mutators.UNITS, *mutators.WORDS, *mutators.TOML_VALUES)
    }
    written = ("".join(f"\\x{byte:02x}" for byte in word) for word in sorted(words))
    return "".join(f'"{word}"\n' for word in written if 0 < len(word) <= 4 * _LONGEST_WORD)


class _Findings:
    """Kinds of findings, one input of each kept."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def keep(self, data: bytes, told: str) -> None:
        """Write the input and what came of it, where it is of a new kind."""
        lines = told.strip().splitlines()
        places = [line.strip() for line in lines if line.strip().startswith("File ")]
        kind = f"{places[-1:]} {lines[-1].partition(':')[0]}"
        name = hashlib.sha256(kind.encode()).hexdigest()[:12]
        if not (self.folder / f"{name}.txt").exists():
            (self.folder / f"{name}.input").write_bytes(data)
            (self.folder / f"{name}.txt").write_text(told, encoding="utf-8")


def _mutator(ending: str) -> Callable[[bytes, int, int], bytes]:
    def mutate(data: bytes, most: int, seed: int) -> bytes:
        chance = random.Random(seed)
        if chance.random() < 0.5:
            return mutators.mutated(chance, data, ending)[:most]
        changed: bytes = atheris.Mutate(data, len(data))
        return changed[:most]

    return mutate


def main(words: list[str]) -> None:
    """Run one part; libFuzzer ends the process."""
    name, seconds = words
    place = PLACE / name
    corpus, findings = place / "corpus", _Findings(place / "findings")
    corpus.mkdir(parents=True, exist_ok=True)
    with ground() as land:
        part = _PARTS[name](land)
        inputs = part.first()
        for data in inputs:
            (corpus / hashlib.sha256(data).hexdigest()).write_bytes(data)
        (place / "words.dict").write_text(_dictionary(inputs), encoding="ascii")

        def one(data: bytes) -> None:
            told = judged(lambda: part.work(data)).told
            if told:
                findings.keep(data, told)

        with part.remembered.reading():
            atheris.Setup(
                [
                    sys.argv[0],
                    f"-max_total_time={seconds}",
                    f"-dict={place / 'words.dict'}",
                    f"-artifact_prefix={place}/",
                    f"-max_len={part.longest}",
                    "-timeout=100",
                    "-rss_limit_mb=3000",
                    "-print_final_stats=1",
                    str(corpus),
                ],
                one,
                custom_mutator=_mutator(part.ending),
            )
            atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1:])
