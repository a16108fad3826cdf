"""What may be done to the bytes of a study file, a price list or a saved answer."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable

_LARGEST = 5_000_000

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


Mutator = Callable[[random.Random, bytes], bytes]
_Match = re.Match[bytes] | None
_NAME_IN_LIST = re.compile(rb'(?<=[\[,])\s*"[^"\n]*"(?=[\],])')
_QUOTED = re.compile(rb'"[^"\n]*(?=")')
_NUMBER = re.compile(rb"(?<![\w.])\d+(?:\.\d+)?(?![\w.-])")


def _seldom(chance: random.Random, monster: int, *usual: int) -> int:
    """A usual number, or once in forty the one that costs most of the time."""
    return monster if chance.random() < 0.025 else chance.choice(usual)


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
    return data[:one] + data[min(other, one + _seldom(chance, 10**6, 1, 3, 40)) :]


def _twice(chance: random.Random, data: bytes) -> bytes:
    one, other = sorted((_spot(chance, data), _spot(chance, data)))
    times = min(_seldom(chance, 50, 1, 1, 3), _LARGEST // (other - one + 1))
    return data[:other] + data[one:other] * times + data[other:]


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
    times = min(_seldom(chance, 20_000, 1, 2, 100), _LARGEST // (len(lines[at]) + 1))
    return b"\n".join([*lines[:at], *[lines[at]] * times, *lines[at:]])


def _other_ends(chance: random.Random, data: bytes) -> bytes:
    return data.replace(b"\n", chance.choice((b"\r\n", b"\r", b"\n\r", b"\x0b", b"\x0c", b"\n\n")))


def _other_code(chance: random.Random, data: bytes) -> bytes:
    read = data.decode("utf-8", "replace")
    return read.encode(chance.choice(("utf-16", "utf-16-le", "utf-8-sig", "cp500")), "replace")


def _found(chance: random.Random, pattern: re.Pattern[bytes], data: bytes) -> _Match:
    """The next place of a pattern from anywhere on, or else the first."""
    return pattern.search(data, _spot(chance, data)) or pattern.search(data)


def _replaced(pattern: bytes, values: Callable[[random.Random], str]) -> Mutator:
    """Put something else where a pattern stands."""
    compiled = re.compile(pattern)

    def mutate(chance: random.Random, data: bytes) -> bytes:
        match = _found(chance, compiled, data)
        if match is None:
            return _insert(chance, data)
        value = values(chance).encode("utf-8", "replace")
        return data[: match.start()] + value + data[match.end() :]

    return mutate


def _quantity(chance: random.Random) -> str:
    return f"{chance.choice(NUMBERS)} {chance.choice(UNITS)}"


def text(chance: random.Random) -> str:
    """A quantity, a word or a number that may mean harm."""
    return chance.choice((_quantity(chance), chance.choice(WORDS), chance.choice(NUMBERS)))


def _scaled(chance: random.Random, data: bytes) -> bytes:
    """A number in place, some powers of ten away."""
    match = _found(chance, _NUMBER, data)
    if match is None:
        return _insert(chance, data)
    number = float(match[0]) * 10.0 ** chance.choice((-6, -3, -2, -1, 1, 2, 3, 6, -0.3, 0.3))
    return data[: match.start()] + f"{number:.6g}".encode() + data[match.end() :]


def _deep(chance: random.Random) -> str:
    deep = _seldom(chance, 100_000, 1, 2, 19, 20, 21, 500)
    opened, closed = chance.choice((("[", "]"), ("{a=", "}"), ("[{a=", "}]"), ("[1,", "]")))
    return opened * deep + "1" + closed * chance.choice((deep, deep, deep - 1))


def _headed(chance: random.Random, data: bytes) -> bytes:
    """A header of dots, arrays of tables, or keys of a section again."""
    name = chance.choice(("frame", "oil", "wood", "limits", "space", "space.only", "owned", "a"))
    dots = ".b" * _seldom(chance, 10_000, 0, 1, 5, 19, 25)
    head = chance.choice((f"[{name}{dots}]", f"[[{name}{dots}]]", f"{name}{dots} = 1"))
    lines = data.split(b"\n")
    at = chance.randrange(len(lines) + 1)
    times = min(_seldom(chance, 8_000, 1, 1, 2), 190_000 // len(head))
    again = chance.random() < 0.5
    heads = [head.replace(name, name if again else f"{name}{nth}", 1) for nth in range(times)]
    return b"\n".join([*lines[:at], *(one.encode() for one in heads), *lines[at:]])


def _crowd(chance: random.Random, data: bytes) -> bytes:
    """A section, or a name in a list, many times over, each with a number of its own."""
    times = _seldom(chance, 8_000, 2, 9, 60)
    match = _found(chance, _NAME_IN_LIST, data)
    if match is not None and chance.random() < 0.4:
        names = b", ".join(b'"%b%d"' % (match[0][1:-1], nth) for nth in range(times))
        return data[: match.start()] + names + data[match.end() :]
    sections = re.split(rb"(?m)^(?=\[)", data)
    at = chance.randrange(len(sections))
    quoted = _QUOTED.search(sections[at])
    end = quoted.end() if quoted else 0
    head, tail = sections[at][:end], sections[at][end:]
    times = min(times, 2_000_000 // (len(sections[at]) + 9))
    crowd = [b"%b%d%b" % (head, nth, tail) if quoted else tail for nth in range(times)]
    return b"".join([*sections[:at], *crowd, *sections[at:]])


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
        row.extend([b"x"] * _seldom(chance, 100_000, 3, 199))
    else:
        at = chance.randrange(max(len(row), 1))
        for one in rows:
            if at < len(one):
                one[at] = chance.choice((b"", b"1", b"-1 in"))
    return b"\n".join(b",".join(one) for one in rows)


_ANY: tuple[Mutator, ...] = (
    *(_flip, _insert, _cut, _twice, _torn, _lines_moved, _line_again, _other_ends, _other_code),
    _scaled,
    _scaled,
    _scaled,
    _replaced(rb"(?<![\w.])\d+(?:\.\d+)?", lambda chance: chance.choice(NUMBERS)),
)
_OF_TOML: tuple[Mutator, ...] = (
    _replaced(rb'(?<=")[^"\n]*(?=")', text),
    _replaced(rb'(?<=")[^"\n]*(?=")', _quantity),
    _replaced(rb"(?<== )[^\n]+", lambda chance: chance.choice(TOML_VALUES)),
    _replaced(rb"(?<== )[^\n]+", _deep),
    _replaced(rb"(?m)^[a-z_]+(?= =)", lambda chance: chance.choice(("x", "name", '""', "a.b"))),
    _headed,
    _crowd,
)
_OF_CSV: tuple[Mutator, ...] = (
    _replaced(rb"(?<=,)[^,\n]*", text),
    _replaced(rb"(?<=,)[^,\n]*", _quantity),
    _replaced(rb"(?m)^[^,\n]*", lambda chance: chance.choice(WORDS)),
    _cells,
    _cells,
)
_OF_JSON: tuple[Mutator, ...] = (
    _replaced(rb'"[^"\n]*"', lambda chance: json.dumps(text(chance))),
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
_OWN = {"toml": _OF_TOML, "csv": _OF_CSV, "json": _OF_JSON}


def mutated(chance: random.Random, data: bytes, ending: str) -> bytes:
    """Bytes changed once or a few times, mostly as befits the ending of the file."""
    for _ in range(chance.choice((1, 1, 1, 2, 5))):
        data = chance.choice(_OWN[ending] if chance.random() < 0.6 else _ANY)(chance, data)
        data = data[:_LARGEST]
    return data


def changes(chance: random.Random) -> list[str]:
    """Words of ``--set``, mostly none."""
    return [f"{chance.choice(KEYS)}={text(chance)}"] if chance.random() < 0.1 else []
