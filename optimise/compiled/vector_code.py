"""A graph of operations on unknown numbers as LLVM's intermediate code, eight lanes at a time.

No operation may be reordered, contracted or left out for the sake of speed: every lane gets the
bits that numpy would give it.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Iterable, Sequence

from optimise.compiled.traced import Constant, Detour, Known, Loop, Region, Round, Trace, Traced

LANES = 8
NUMBERS, MASKS, WHOLES = (f"<{LANES} x {kind}>" for kind in ("double", "i1", "i64"))

_ARITHMETIC = {"add": "fadd", "subtract": "fsub", "multiply": "fmul", "divide": "fdiv"}
_COMPARED = {
    "less": "olt",
    "less_equal": "ole",
    "greater": "ogt",
    "greater_equal": "oge",
    "equal": "oeq",
}
_LOGICAL = {"both": "and", "either": "or"}
_INTRINSIC = {"sqrt": "sqrt", "floor": "floor", "absolute": "fabs"}
_HALF_BITS, _MANTISSA_BITS = 1022 << 52, (1 << 52) - 1


def _bits(value: float) -> str:
    return f"0x{struct.unpack('>Q', struct.pack('>d', value))[0]:016X}"


def _constant(value: Constant) -> str:
    if isinstance(value, bool):
        return f"<{', '.join([f'i1 {str(value).lower()}'] * LANES)}>"
    return f"<{', '.join([f'double {_bits(value)}'] * LANES)}>"


def _whole(value: int) -> str:
    return f"<{', '.join([f'i64 {value}'] * LANES)}>"


def _needed(outputs: Iterable[Known]) -> set[int]:
    """Identities of all operations and loops on which the outputs depend."""
    found: set[int] = set()
    waiting: list[object] = list(outputs)
    while waiting:
        one = waiting.pop()
        if not isinstance(one, (Traced, Loop, Detour, Round)) or id(one) in found:
            continue
        found.add(id(one))
        if isinstance(one, Loop):
            waiting += [*one.starts, *one.nexts, one.open]
        elif isinstance(one, Detour):
            waiting += [one.mask, *one.answers, *one.others]
        elif isinstance(one, Round):
            waiting += [number for _, numbers in one.params for number in numbers]
            waiting += [answer for answer, _ in one.answers]
        else:
            waiting += one.args
    return found


class _Writer:
    """Lines of a function; the names of what is worked out already."""

    def __init__(
        self, trace: Trace, outputs: Sequence[Known], called: dict[str, str] | None = None
    ) -> None:
        self.is_inner = called is not None
        self.called: dict[str, str] = {} if called is None else called
        self.lines: list[str] = []
        self.names: dict[int, str] = {}
        self.labels = 0
        self.piles: list[str] = []
        self.block = "lanes"
        self.needed = _needed(outputs)
        self.functions: set[str] = set()
        self._region(trace.root)

    def name(self, value: Known) -> str:
        """A number or mask as an operand."""
        return self.names[id(value)] if isinstance(value, Traced) else _constant(value)

    def _new(self, code: str) -> str:
        name = f"%v{len(self.lines)}"
        self.lines.append(f"  {name} = {code}")
        return name

    def _region(self, region: Region) -> None:
        for item in region.items:
            if id(item) not in self.needed:
                continue
            if isinstance(item, Loop):
                self._loop(item)
            elif isinstance(item, Detour):
                self._detour(item)
            elif isinstance(item, Round):
                self._round(item)
            elif item.op != "param":
                self.names[id(item)] = self._operation(item)

    def _call(self, function: str, *operands: str) -> str:
        given = ", ".join([NUMBERS] * len(operands))
        self.functions.add(f"declare {NUMBERS} @llvm.{function}.v{LANES}f64({given})")
        listed = ", ".join(f"{NUMBERS} {operand}" for operand in operands)
        return self._new(f"call {NUMBERS} @llvm.{function}.v{LANES}f64({listed})")

    def _compare(self, how: str, one: str, other: str) -> str:
        return self._new(f"fcmp {how} {NUMBERS} {one}, {other}")

    def _select(self, mask: str, yes: str, no: str, *, kind: str = NUMBERS) -> str:
        return self._new(f"select {MASKS} {mask}, {kind} {yes}, {kind} {no}")

    def _operation(self, item: Traced) -> str:
        if item.op == "call":
            return self._called(item)
        given = [self.name(one) for one in item.args] if item.op != "input" else []
        if item.op in _ARITHMETIC:
            return self._new(f"{_ARITHMETIC[item.op]} {NUMBERS} {given[0]}, {given[1]}")
        if item.op in _COMPARED:
            return self._compare(_COMPARED[item.op], given[0], given[1])
        if item.op in _LOGICAL:
            return self._new(f"{_LOGICAL[item.op]} {MASKS} {given[0]}, {given[1]}")
        if item.op in _INTRINSIC:
            return self._call(_INTRINSIC[item.op], given[0])
        special: Callable[[Traced, list[str]], str] = getattr(self, f"_{item.op}")
        return special(item, given)

    def _called(self, item: Traced) -> str:
        function = item.args[0]
        name = f"function{id(function)}"
        if name not in self.called:
            self.called[name] = ""
            inner = _Writer(function.trace, (function.answer,), self.called)
            self.functions |= inner.functions
            parameters = ", ".join(f"{NUMBERS} %given{nth}" for nth in range(len(item.args) - 1))
            self.called[name] = "\n".join(
                [
                    f"define internal {NUMBERS} @{name}({parameters}) alwaysinline {{",
                    "lanes:",
                    *inner.lines,
                    f"  ret {NUMBERS} {inner.name(function.answer)}",
                    "}",
                ]
            )
        listed = ", ".join(f"{NUMBERS} {self.name(one)}" for one in item.args[1:])
        return self._new(f"call {NUMBERS} @{name}({listed})")

    def _input(self, item: Traced, _: list[str]) -> str:
        if self.is_inner:
            return f"%given{item.args[0]}"
        place = self._new(f"getelementptr ptr, ptr %inputs, i64 {item.args[0]}")
        column = self._new(f"load ptr, ptr {place}")
        step = self._new(f"getelementptr i64, ptr %strides, i64 {item.args[0]}")
        stride = self._new(f"load i64, ptr {step}")
        at = self._new(f"mul i64 %first, {stride}")
        first = self._new(f"getelementptr double, ptr {column}, i64 {at}")
        return self._new(f"load {NUMBERS}, ptr {first}, align 8")

    def _where(self, item: Traced, given: list[str]) -> str:
        return self._select(*given, kind=MASKS if item.is_mask else NUMBERS)

    def _opposite(self, _: Traced, given: list[str]) -> str:
        return self._new(f"xor {MASKS} {given[0]}, {_constant(True)}")

    def _negative(self, _: Traced, given: list[str]) -> str:
        return self._new(f"fneg {NUMBERS} {given[0]}")

    def _isnan(self, _: Traced, given: list[str]) -> str:
        return self._compare("uno", given[0], given[0])

    def _isfinite(self, _: Traced, given: list[str]) -> str:
        return self._compare("olt", self._call("fabs", given[0]), _constant(math.inf))

    def _maximum(self, item: Traced, given: list[str]) -> str:
        return self._extreme("ogt", item.args, given)

    def _minimum(self, item: Traced, given: list[str]) -> str:
        return self._extreme("olt", item.args, given)

    def _fmin(self, _: Traced, given: list[str]) -> str:
        """The second where it is smaller, or where the first is unknown."""
        smaller = self._compare("ugt", given[0], given[1])
        known = self._compare("ord", given[1], given[1])
        chosen = self._new(f"and {MASKS} {smaller}, {known}")
        return self._select(chosen, given[1], given[0])

    def _extreme(self, how: str, args: Sequence[Known], given: list[str]) -> str:
        """Larger or smaller of two; unknown where one of them is."""
        one, other = given
        if isinstance(args[1], float):
            one, other = other, one
        beyond = self._compare(how, one, other)
        chosen = self._select(beyond, one, other)
        if any(isinstance(arg, float) and not math.isnan(arg) for arg in args):
            return chosen
        unknown = self._compare("uno", one, one)
        return self._select(unknown, one, chosen)

    def _two_to(self, _: Traced, given: list[str]) -> str:
        whole = self._new(f"fptosi {NUMBERS} {given[0]} to {WHOLES}")
        raised = self._new(f"add {WHOLES} {whole}, {_whole(1023)}")
        bits = self._new(f"shl {WHOLES} {raised}, {_whole(52)}")
        return self._new(f"bitcast {WHOLES} {bits} to {NUMBERS}")

    def _mantissa(self, _: Traced, given: list[str]) -> str:
        bits = self._new(f"bitcast {NUMBERS} {given[0]} to {WHOLES}")
        low = self._new(f"and {WHOLES} {bits}, {_whole(_MANTISSA_BITS)}")
        half = self._new(f"or {WHOLES} {low}, {_whole(_HALF_BITS)}")
        return self._new(f"bitcast {WHOLES} {half} to {NUMBERS}")

    def _exponent(self, _: Traced, given: list[str]) -> str:
        bits = self._new(f"bitcast {NUMBERS} {given[0]} to {WHOLES}")
        shifted = self._new(f"lshr {WHOLES} {bits}, {_whole(52)}")
        biased = self._new(f"and {WHOLES} {shifted}, {_whole(2047)}")
        whole = self._new(f"sub {WHOLES} {biased}, {_whole(1022)}")
        return self._new(f"sitofp {WHOLES} {whole} to {NUMBERS}")

    def _any(self, mask: str) -> str:
        bits = self._new(f"bitcast {MASKS} {mask} to i{LANES}")
        return self._new(f"icmp ne i{LANES} {bits}, 0")

    def _detour(self, item: Detour) -> None:
        self.labels += 1
        label = f"detour{self.labels}"
        some, before = self._any(self.name(item.mask)), self.block
        self.lines.append(f"  br i1 {some}, label %{label}, label %{label}.end")
        self.lines.append(f"{label}:")
        self.block = label
        self._region(item.region)
        last, self.block = self.block, f"{label}.end"
        self.lines += [f"  br label %{self.block}", f"{self.block}:"]
        for final, answer, other in zip(item.finals, item.answers, item.others, strict=True):
            kind = MASKS if final.is_mask else NUMBERS
            self.names[id(final)] = self._new(
                f"phi {kind} [ {self.name(answer)}, %{last} ], [ {self.name(other)}, %{before} ]"
            )

    def _place(self, pile: str, nth: int | str) -> str:
        return self._new(f"getelementptr {NUMBERS}, ptr {pile}, i64 {nth}")

    def _pile(self, numbers: int) -> str:
        """Room for that many numbers of every lane."""
        name = f"%pile{len(self.piles)}"
        self.piles.append(f"  {name} = alloca {NUMBERS}, i64 {numbers}")
        return name

    def _round(self, item: Round) -> None:
        """Numbers of the cases lie in piles."""
        self.labels += 1
        label = f"round{self.labels}"
        params = [(param, many) for param, many in item.params if id(param) in self.needed]
        piles = [self._pile(item.cases) for _ in params]
        for pile, (_, numbers) in zip(piles, params, strict=True):
            for nth, number in enumerate(numbers):
                self._store(self.name(number), self._place(pile, nth))
        before = self.block
        self.lines += [f"  br label %{label}", f"{label}:"]
        head = len(self.lines)
        self.lines.append("")
        self.block = label
        for pile, (param, _) in zip(piles, params, strict=True):
            place = self._place(pile, f"%{label}.nth")
            self.names[id(param)] = self._new(f"load {NUMBERS}, ptr {place}")
        self._region(item.region)
        answers = [
            (self._pile(item.cases), answer, finals)
            for answer, finals in item.answers
            if any(id(final) in self.needed for final in finals)
        ]
        for pile, answer, _ in answers:
            self._store(self.name(answer), self._place(pile, f"%{label}.nth"))
        count = self._new(f"add i64 %{label}.nth, 1")
        self.lines[head] = f"  %{label}.nth = phi i64 [ 0, %{before} ], [ {count}, %{self.block} ]"
        more = self._new(f"icmp ult i64 {count}, {item.cases}")
        self.block = f"{label}.end"
        self.lines += [f"  br i1 {more}, label %{label}, label %{self.block}", f"{self.block}:"]
        for pile, _, finals in answers:
            for nth, final in enumerate(finals):
                if id(final) in self.needed:
                    place = self._place(pile, nth)
                    self.names[id(final)] = self._new(f"load {NUMBERS}, ptr {place}")

    def _store(self, value: str, place: str) -> None:
        self.lines.append(f"  store {NUMBERS} {value}, ptr {place}")

    def _loop(self, item: Loop) -> None:
        """Phi nodes first, whose later values are known when the body is written."""
        self.labels += 1
        label = f"loop{self.labels}"
        before = self.block
        starts = [self.name(one) for one in item.starts]
        self.lines.append(f"  br label %{label}")
        self.lines.append(f"{label}:")
        heads = len(self.lines)
        kept = [nth for nth, one in enumerate(item.params) if self._counts(item, nth)]
        for nth in kept:
            self.names[id(item.params[nth])] = f"%{label}.{nth}"
        self.lines += [""] * (len(kept) + 1)
        self.block = label
        self._region(item.region)
        some = self._any(self.name(item.open))
        count = self._new(f"add i64 %{label}.count, 1")
        room = self._new(f"icmp ult i64 {count}, {item.most}")
        again = self._new(f"and i1 {some}, {room}")
        self.lines[heads] = (
            f"  %{label}.count = phi i64 [ 0, %{before} ], [ {count}, %{self.block} ]"
        )
        for at, nth in enumerate(kept, heads + 1):
            kind = MASKS if item.params[nth].is_mask else NUMBERS
            self.lines[at] = (
                f"  %{label}.{nth} = phi {kind} [ {starts[nth]}, %{before} ], "
                f"[ {self.name(item.nexts[nth])}, %{self.block} ]"
            )
        self.lines.append(f"  br i1 {again}, label %{label}, label %{label}.end")
        self.lines.append(f"{label}.end:")
        self.block = f"{label}.end"
        for final, following in zip(item.finals, item.nexts, strict=True):
            if not isinstance(following, Traced) or id(following) in self.names:
                self.names[id(final)] = self.name(following)

    def _counts(self, item: Loop, nth: int) -> bool:
        following = item.nexts[nth]
        return id(item.params[nth]) in self.needed and (
            not isinstance(following, Traced) or id(following) in self.needed
        )


def vector_code(trace: Trace, outputs: Sequence[Known], name: str) -> str:
    """Function ``void name(i64 blocks, ptr inputs, ptr strides, ptr outputs)`` as text.

    ``inputs`` and ``outputs`` point to pointers to columns of ``blocks`` times :data:`LANES`
    numbers of 64 bits; an input of stride 0 instead of 1 has :data:`LANES` numbers for all blocks.
    """
    writer = _Writer(trace, outputs)
    stores: list[str] = []
    for nth, output in enumerate(outputs):
        stores += [
            f"  %place{nth} = getelementptr ptr, ptr %outputs, i64 {nth}",
            f"  %column{nth} = load ptr, ptr %place{nth}",
            f"  %at{nth} = getelementptr double, ptr %column{nth}, i64 %first",
        ]
        value = writer.name(output)
        if (isinstance(output, Traced) and output.is_mask) or isinstance(output, bool):
            stores.append(f"  %number{nth} = uitofp {MASKS} {value} to {NUMBERS}")
            value = f"%number{nth}"
        stores.append(f"  store {NUMBERS} {value}, ptr %at{nth}, align 8")
    return "\n".join(
        [
            *sorted(writer.functions),
            *writer.called.values(),
            f"define void @{name}(i64 %blocks, ptr %inputs, ptr %strides, ptr noalias %outputs) {{",
            "enter:",
            *writer.piles,
            "  %some = icmp ugt i64 %blocks, 0",
            "  br i1 %some, label %lanes, label %leave",
            "lanes:",
            f"  %block = phi i64 [ 0, %enter ], [ %following, %{writer.block} ]",
            f"  %first = mul i64 %block, {LANES}",
            *writer.lines,
            *stores,
            "  %following = add i64 %block, 1",
            "  %more = icmp ult i64 %following, %blocks",
            "  br i1 %more, label %lanes, label %leave",
            "leave:",
            "  ret void",
            "}",
        ]
    )
