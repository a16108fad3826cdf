"""Mutates study files, price lists and saved answers, and tells what they break.

Run ``python -m tests.fuzz N [SEED]``. Each case starts from a study that loads, changes bytes,
values or nesting of one or two of its files, loads it and, where it still loads, checks the machine
as ``ramfront check`` does; one case in eight changes a saved answer of ``check --json`` and
compares as ``ramfront compare`` does. A finding is any exception that is not the tool's own, a
warning, a message that would not print, more than 2 s to load, or more than 500 MB. Exit code 1
where there is one. A case is told by seed and number and can be written out:
``python -m tests.fuzz 1 SEED:CASE``.

``python -m tests.fuzz --load N [SEED]`` is the quick form, on the same cases: price lists that a
case left alone are read once and for all, one in fifty of the studies that load is checked, and
one in ten of the answers compared.
"""

from __future__ import annotations

import io
import json
import pickle
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from rich.console import Console

from optimise.errors import RamfrontError
from optimise.machine.parts import CATEGORIES
from optimise.machine.sheet import sheet_of
from optimise.report.answers import check_answer
from optimise.report.comparing import compare, compare_answer, compare_table, print_compare
from optimise.search.knowledge import knowledge_of
from optimise.search.ranges import ranges_of
from optimise.study import load
from optimise.study.load import load_study
from optimise.study.pricelists import RawList, read_list
from optimise.study.space import fitted_machine
from optimise.study.starter import KINDS_OF_USER, STARTER_FILES, starter_text
from optimise.units import System

LONGEST_LOAD = 2.0
"""Longest time to load any study, s of this process."""
MOST_MEMORY = 500_000_000
"""Largest growth of the process while it loads, bytes."""
_GIVEN_UP = 60.0
_ROOM = 3_000_000_000

NUMBERS = (
    *("0", "-0", "1", "-1", "1e999", "-1e999", "nan", "NaN", "inf", "-inf", "Infinity", "1e308"),
    *("1e-308", "5e-324", "1e30", "1e-30", "1e15", "1e-9", "0.1", "100", "10000", "1,5", "1 000"),
    *("1_000", "0x10", "0b1", "1e", ".5", "5.", "+5", "--5", "1e400000", "9" * 400, "１２", "٣"),
    *("½", "∞", "1/0", "2**9999", "", " ", "none", "true"),
)
UNITS = (
    *("in", "mm", "m", "psi", "bar", "Pa", "gpm", "l/min", "cm3", "degC", "degF", "K", "kN", "lbf"),
    *("tonf", "hp", "kW", "rpm", "s", "min", "h", "%", "kg", "L", "gal", "ft", "USD", "parsec"),
    *("in**9", "mm mm", "µm", "Ω", "\u202ein", "in\n", "{in}", "%s"),
)
WORDS = (
    *("", " ", "=1+1", "+1", "@x", "</script><img src=x onerror=alert(1)>", "\u202eabc", "{found}"),
    *("none", "two-way", "__class__", "%s%n", "../../etc/passwd", "x" * 10_000, "a\tb", "'", '\\"'),
    *("[red]x[/red]", "[/]", "\U0001f600", "e\u0301" * 50, "stepped", "hard", "advisory", "rod"),
)
TOML_VALUES = (
    *("[]", "{}", "[[]]", "true", "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "nan", "inf"),
    *("1e999", "-0.0", "0", "-1", "1" * 99, "1" * 200, "0xff", "0o7", "1_0", '""', "''", '"""a"""'),
    *("'''\n'''", "[1, 'a', {}]", "{ a = 1 }", '[""]', '"1 in"', "9223372036854775808"),
)
JSON_VALUES = (
    *("null", "true", "[]", "{}", '""', "NaN", "-Infinity", "1e999", "1" + "0" * 400, "1" * 5000),
    *("[1]", '"1"', '"\\ud800"', "-0.0", "1e308", '{"from": 1}', '"=1+1"', '"fitted"'),
)


@dataclass(frozen=True)
class Finding:
    """What one case did that it should not: case, files changed, and what came of it."""

    case: str
    changed: tuple[str, ...]
    told: str


Mutator = Callable[[random.Random, bytes], bytes]


def _spot(chance: random.Random, data: bytes) -> int:
    return chance.randrange(len(data) + 1)


def _flip(chance: random.Random, data: bytes) -> bytes:
    changed = bytearray(data or b" ")
    for _ in range(chance.choice((1, 1, 2, 8))):
        changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def _insert(chance: random.Random, data: bytes) -> bytes:
    at = _spot(chance, data)
    marks = (b"\0", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n", b'"', b"'", b"[", b"]", b"{", b"}")
    more = (*marks, b"=", b",", b".", b"#", b"\\", b"\\u", b"\\ud800", b'"""', b"\x7f", b"\xc2\x85")
    return data[:at] + chance.choice(more) * chance.choice((1, 1, 2, 30)) + data[at:]


def _cut(chance: random.Random, data: bytes) -> bytes:
    one, other = sorted((_spot(chance, data), _spot(chance, data)))
    return data[:one] + data[min(other, one + chance.choice((1, 3, 40, 10**6))) :]


def _twice(chance: random.Random, data: bytes) -> bytes:
    one, other = sorted((_spot(chance, data), _spot(chance, data)))
    return data[:other] + data[one:other] * chance.choice((1, 1, 50)) + data[other:]


def _torn(chance: random.Random, data: bytes) -> bytes:
    return data[: _spot(chance, data)]


def _lines_moved(chance: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _line_again(chance: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    at = chance.randrange(len(lines))
    times = chance.choice((1, 2, 100, 20_000))
    return b"\n".join([*lines[:at], *[lines[at]] * times, *lines[at:]])


def _other_ends(chance: random.Random, data: bytes) -> bytes:
    return data.replace(b"\n", chance.choice((b"\r\n", b"\r", b"\n\r", b"\x0b", b"\x0c", b"\n\n")))


def _other_code(chance: random.Random, data: bytes) -> bytes:
    text = data.decode("utf-8", "replace")
    return text.encode(chance.choice(("utf-16", "utf-16-le", "utf-8-sig", "cp500")), "replace")


def _replaced(pattern: bytes, values: Callable[[random.Random], str]) -> Mutator:
    """Put something else where a pattern stands."""

    def mutate(chance: random.Random, data: bytes) -> bytes:
        found = list(re.finditer(pattern, data))
        if not found:
            return _insert(chance, data)
        match = chance.choice(found)
        value = values(chance).encode("utf-8", "replace")
        return data[: match.start()] + value + data[match.end() :]

    return mutate


def _quantity(chance: random.Random) -> str:
    return f"{chance.choice(NUMBERS)} {chance.choice(UNITS)}"


def _text(chance: random.Random) -> str:
    return chance.choice((_quantity(chance), chance.choice(WORDS), chance.choice(NUMBERS)))


def _scaled(chance: random.Random, data: bytes) -> bytes:
    """A number in place, some powers of ten away."""
    found = list(re.finditer(rb"(?<![\w.])\d+(?:\.\d+)?(?![\w.-])", data))
    if not found:
        return _insert(chance, data)
    match = chance.choice(found)
    number = float(match[0]) * 10.0 ** chance.choice((-6, -3, -2, -1, 1, 2, 3, 6, -0.3, 0.3))
    return data[: match.start()] + f"{number:.6g}".encode() + data[match.end() :]


def _deep(chance: random.Random) -> str:
    deep = chance.choice((1, 2, 19, 20, 21, 500, 100_000))
    opened, closed = chance.choice((("[", "]"), ("{a=", "}"), ("[{a=", "}]"), ("[1,", "]")))
    return opened * deep + "1" + closed * chance.choice((deep, deep, deep - 1))


def _headed(chance: random.Random, data: bytes) -> bytes:
    """A header of dots, arrays of tables, or keys of a section again."""
    name = chance.choice(("frame", "oil", "wood", "limits", "space", "space.only", "owned", "a"))
    dots = ".b" * chance.choice((0, 1, 5, 19, 25, 10_000))
    head = chance.choice((f"[{name}{dots}]", f"[[{name}{dots}]]", f"{name}{dots} = 1"))
    lines = data.split(b"\n")
    at = chance.randrange(len(lines) + 1)
    times = chance.choice((1, 1, 2, 300))
    return b"\n".join([*lines[:at], *[head.encode()] * times, *lines[at:]])


def _cells(chance: random.Random, data: bytes) -> bytes:
    """Rows and columns: one more, one less, another order, far too many."""
    rows = [row.split(b",") for row in data.split(b"\n")]
    row = chance.choice(rows)
    kind = chance.randrange(5)
    if kind == 0:
        row.insert(chance.randrange(len(row) + 1), chance.choice(NUMBERS).encode())
    elif kind == 1:
        row.pop(chance.randrange(len(row)))
    elif kind == 2:
        chance.shuffle(row)
    elif kind == 3:
        row.extend([b"x"] * chance.choice((3, 199, 100_000)))
    else:
        at = chance.randrange(max(len(row), 1))
        for one in rows:
            if at < len(one):
                one[at] = chance.choice((b"", b"1", b"-1 in"))
    return b"\n".join(b",".join(one) for one in rows)


ANY: tuple[Mutator, ...] = (
    *(_flip, _insert, _cut, _twice, _torn, _lines_moved, _line_again, _other_ends, _other_code),
    _scaled,
    _scaled,
    _scaled,
    _replaced(rb"(?<![\w.])\d+(?:\.\d+)?", lambda chance: chance.choice(NUMBERS)),
)
OF_TOML: tuple[Mutator, ...] = (
    _replaced(rb'(?<=")[^"\n]*(?=")', _text),
    _replaced(rb'(?<=")[^"\n]*(?=")', _quantity),
    _replaced(rb"(?<== )[^\n]+", lambda chance: chance.choice(TOML_VALUES)),
    _replaced(rb"(?<== )[^\n]+", _deep),
    _replaced(rb"(?m)^[a-z_]+(?= =)", lambda chance: chance.choice(("x", "name", '""', "a.b"))),
    _headed,
)
OF_CSV: tuple[Mutator, ...] = (
    _replaced(rb"(?<=,)[^,\n]*", _text),
    _replaced(rb"(?<=,)[^,\n]*", _quantity),
    _replaced(rb"(?m)^[^,\n]*", lambda chance: chance.choice(WORDS)),
    _cells,
    _cells,
)
OF_JSON: tuple[Mutator, ...] = (
    _replaced(rb'"[^"\n]*"', lambda chance: json.dumps(_text(chance))),
    _replaced(rb"(?<=: )[^,\n]+", lambda chance: chance.choice(JSON_VALUES)),
    _replaced(rb"(?<=: )[^,\n]+", lambda chance: _deep(chance).replace("a=", '"a":')),
    _replaced(rb'"[a-z_.]+"(?=:)', lambda chance: chance.choice(('"x"', '"plan"', '"parts"'))),
)
KEYS = (
    *("rod", "rod.diameter", "bore.max_pressure", "frame.stroke", "wood.1.share", "limits.stall"),
    *("space.keep", "units", "oil.grade", "measurements.1.value", "engine.power", "valve", "x.y.z"),
    *(
        "",
        ".",
        "wood.999999999999999999999.share",
        "wood.-1.share",
        "frame",
        "title",
        "user_limits",
    ),
)


ANSWER = "answer.json"
_starter_text = cache(starter_text)
_answers: list[bytes] = []


def saved_answer(folder: Path) -> bytes:
    """The starter's answer, worked out once."""
    if not _answers:
        study = load_study(folder)
        machine = fitted_machine(study)
        ranges = ranges_of(machine, study.setting, knowledge_of(study))
        answer = check_answer(study, sheet_of(machine, study.setting), ranges)
        _answers.append(json.dumps(answer, indent=2, ensure_ascii=False).encode())
    return _answers[0]


def _changed(chance: random.Random, folder: Path) -> tuple[tuple[str, ...], list[str]]:
    """Write a study with one or two files changed; their names, and the words of ``--set``."""
    kind = chance.choice(tuple(KINDS_OF_USER))
    for file in STARTER_FILES:
        (folder / file).write_text(_starter_text(file, kind), encoding="utf-8")
    if chance.random() < 0.125:
        data = saved_answer(folder)
        for _ in range(chance.choice((1, 1, 2, 5))):
            data = chance.choice(OF_JSON if chance.random() < 0.7 else ANY)(chance, data)
        (folder / ANSWER).write_bytes(data[:30_000_000])
        return (ANSWER,), []
    lists = [f"{category}.csv" for category in CATEGORIES]
    files = tuple(
        "study.toml" if chance.random() < 0.6 else chance.choice(lists)
        for _ in range(chance.choice((1, 1, 1, 2)))
    )
    for file in files:
        data = (folder / file).read_bytes()
        own = OF_TOML if file == "study.toml" else OF_CSV
        for _ in range(chance.choice((1, 1, 1, 2, 5))):
            data = chance.choice(own if chance.random() < 0.6 else ANY)(chance, data)
        (folder / file).write_bytes(data[:30_000_000])
    sets: list[str] = []
    if chance.random() < 0.1:
        sets.append(f"{chance.choice(KEYS)}={_text(chance)}")
    return files, sets


@contextmanager
def _alarm() -> Iterator[None]:
    def ring(*_: object) -> None:
        raise TimeoutError(f"given up after {_GIVEN_UP:g} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, _GIVEN_UP)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


def _memory(name: str) -> int:
    """VmRSS or VmHWM of this process in bytes."""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    found = re.search(rf"{name}:\s+(\d+) kB", status)
    assert found is not None
    return int(found[1]) * 1024


def _check(folder: Path, sets: list[str], loaded: list[float], whole: Callable[[int], bool]) -> str:
    """Load and check, or compare, as the command does; "" or the tool's own words."""
    if (folder / ANSWER).exists():
        return _compare(folder) if whole(10) else ""
    started = time.process_time()
    try:
        study = load_study(folder, sets)
    except RamfrontError as error:
        loaded.append(time.process_time() - started)
        return str(error)
    loaded.append(time.process_time() - started)
    if not whole(50):
        return ""
    try:
        machine = fitted_machine(study)
        ranges = ranges_of(machine, study.setting, knowledge_of(study))
        answer = check_answer(study, sheet_of(machine, study.setting), ranges)
    except RamfrontError as error:
        return str(error)
    json.dumps(answer, allow_nan=False)
    return ""


def _compare(folder: Path) -> str:
    try:
        found = compare([folder, folder / ANSWER], (), None)
    except RamfrontError as error:
        return str(error)
    json.dumps(compare_answer(found), allow_nan=False)
    print_compare(Console(file=io.StringIO(), width=80), found)
    compare_table(found).csv.encode("utf-8")
    return ""


@contextmanager
def remembered_lists() -> Iterator[None]:
    """Price lists with the starters' own text are read once."""
    seen: dict[tuple[str, str, bytes], bytes] = {}
    own = {
        (file.removesuffix(".csv"), starter_text(file, kind).encode())
        for file in STARTER_FILES
        for kind in KINDS_OF_USER
    }

    def remembered(folder: Path, category: str, system: System) -> RawList:
        data = (folder / f"{category}.csv").read_bytes()
        if (category, data) not in own:
            return read_list(folder, category, system)
        key = (category, system, data)
        if key not in seen:
            seen[key] = pickle.dumps(read_list(folder, category, system))
        found: RawList = pickle.loads(seen[key])
        return found

    load.read_list = remembered
    try:
        yield
    finally:
        load.read_list = read_list


def run_case(
    seed: str, number: int, keep: Path | None = None, quick: bool = False
) -> tuple[str, Finding | None]:
    """One case: what it ended as, and the finding if there is one."""
    chance = random.Random(f"{seed}:{number}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "s"
        folder.mkdir()
        files, sets = _changed(chance, folder)
        if keep is not None:
            shutil.copytree(folder, keep)
        Path("/proc/self/clear_refs").write_text("5", encoding="utf-8")
        before, loaded, told, words = _memory("VmRSS"), [], "", ""
        try:
            with warnings.catch_warnings(), _alarm():
                warnings.simplefilter("error")
                words = _check(folder, sets, loaded, lambda often: not quick or number % often == 0)
        except Exception:
            told = traceback.format_exc()
        grown = _memory("VmHWM") - before
    if not told and not all(line.isprintable() for line in words.split("\n")):
        told = f"a message that does not print: {words[:200]!r}"
    if not told and loaded and loaded[0] > LONGEST_LOAD:
        told = f"{loaded[0]:.1f} s to load"
    if not told and grown > MOST_MEMORY:
        told = f"{grown / 1e6:.0f} MB more"
    finding = Finding(f"{seed}:{number}", (*files, *sets), told) if told else None
    return ("finding" if told else "refused" if words else "answered"), finding


def main(words: list[str]) -> int:
    """Run so many cases and print what was found."""
    quick = words[0] == "--load"
    words = words[quick:]
    count, (seed, _, one) = int(words[0]), (words[1] if len(words) > 1 else "0").partition(":")
    resource.setrlimit(resource.RLIMIT_AS, (_memory("VmSize") + _ROOM, resource.RLIM_INFINITY))
    if one:
        keep = Path(f"fuzz-{seed}-{one}")
        outcome, finding = run_case(seed, int(one), keep)
        print(f"{outcome}; files in {keep}")
        print(finding.told if finding else "")
        return int(finding is not None)
    ends: Counter[str] = Counter()
    kinds: Counter[str] = Counter()
    started = time.monotonic()
    with remembered_lists() if quick else nullcontext():
        for number in range(count):
            outcome, finding = run_case(seed, number, quick=quick)
            ends[outcome] += 1
            if finding is not None:
                kind = re.sub(r"[\d.]+", "N", finding.told.strip().splitlines()[-1])[:100]
                kinds[kind] += 1
                if kinds[kind] <= 2:
                    print(f"--- {finding.case} {', '.join(map(ascii, finding.changed))}"[:300])
                    print(finding.told[-2500:], flush=True)
    print(f"{count} cases in {time.monotonic() - started:.0f} s: {dict(ends)}")
    for kind, often in kinds.most_common():
        print(f"{often} x {kind}")
    return int(bool(kinds))


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
