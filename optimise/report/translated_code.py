"""Statements and expressions of Python in JavaScript."""

from __future__ import annotations

import ast
import json
import math
from collections.abc import Callable, Iterable

import numpy as np

from optimise.report.translated_names import (
    RUN_TIME,
    Function,
    Names,
    Scope,
    defaults_of,
    dotted_name,
    fault,
    is_text,
    parameters,
)

MANY = 1000
"""Most arguments of a function that takes any number."""

_BINARY: dict[type[ast.operator], str] = {
    ast.Add: "add",
    ast.Sub: "sub",
    ast.Mult: "mul",
    ast.Div: "div",
    ast.Pow: "pow",
    ast.BitAnd: "both",
    ast.BitOr: "either",
}
_UNARY: dict[type[ast.unaryop], str] = {ast.USub: "negative", ast.Invert: "opposite"}
_COMPARED: dict[type[ast.cmpop], str] = {
    ast.Lt: "below",
    ast.LtE: "at_most",
    ast.Gt: "above",
    ast.GtE: "at_least",
    ast.Eq: "same",
    ast.NotEq: "other",
}
_TAKEN = frozenset(
    (
        *("arguments", "case", "catch", "const", "debugger", "default", "delete", "do", "enum"),
        *("eval", "export", "extends", "function", "implements", "in", "instanceof", "interface"),
        *("let", "new", "null", "package", "private", "protected", "public", "static", "super"),
        *("switch", "this", "throw", "true", "false", "typeof", "undefined", "var", "void"),
        *("Error", "Infinity", "Map", "NaN", RUN_TIME),
    )
)
"""Words that a local name may not be in JavaScript, or that the script uses itself."""


def literal(text: str) -> str:
    """Text in JavaScript."""
    return json.dumps(text)


def _number(value: float) -> str:
    if math.isnan(value):
        return "NaN"
    if math.isinf(value):
        return "Infinity" if value > 0 else "-Infinity"
    return repr(value)


def local(name: str) -> str:
    """Name of a parameter or a local variable in JavaScript."""
    return f"{name}$" if name in _TAKEN else name


def _stored(body: Iterable[ast.stmt]) -> set[str]:
    """Names that a function body assigns, those of functions inside it left out."""
    found: set[str] = set()
    waiting: list[ast.AST] = list(body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.FunctionDef):
            found.add(node.name)
            continue
        if isinstance(node, (ast.Lambda, ast.ListComp, ast.GeneratorExp, ast.DictComp)):
            continue
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            found.add(node.id)
        waiting.extend(ast.iter_child_nodes(node))
    return found


def _nonlocal(body: Iterable[ast.stmt]) -> set[str]:
    return {name for node in body if isinstance(node, ast.Nonlocal) for name in node.names}


class Code:
    """Writes statements and expressions; what they need is noted in the names."""

    def __init__(self, names: Names) -> None:
        self.names = names
        self.statements: dict[type[ast.stmt], Callable[..., str]] = {
            ast.Return: self._return,
            ast.Assign: self._assign,
            ast.AnnAssign: self._annotated,
            ast.If: self._if,
            ast.For: self._for,
            ast.While: self._while,
            ast.Expr: self._bare,
            ast.FunctionDef: self._inner_function,
            ast.With: self._with,
            ast.Assert: self._assert,
            ast.Raise: self._raise,
            ast.Nonlocal: lambda node, scope: "",
            ast.Pass: lambda node, scope: "",
            ast.Break: lambda node, scope: "break;",
            ast.Continue: lambda node, scope: "continue;",
        }
        self.expressions: dict[type[ast.expr], Callable[..., str]] = {
            ast.Constant: self._constant,
            ast.Name: self._name,
            ast.Attribute: self._attribute,
            ast.Call: self._call,
            ast.BinOp: self._binary,
            ast.UnaryOp: self._unary,
            ast.BoolOp: self._boolean,
            ast.Compare: self._compare,
            ast.IfExp: self._choice,
            ast.Lambda: self._lambda,
            ast.Tuple: self._sequence,
            ast.List: self._sequence,
            ast.Starred: self._starred,
            ast.ListComp: self._comprehension,
            ast.GeneratorExp: self._comprehension,
            ast.DictComp: self._mapping,
            ast.Subscript: self._subscript,
            ast.JoinedStr: self._formatted,
        }

    def plain(self, value: object) -> str | None:
        """JavaScript of plain data; None for anything else."""
        text: str | None = None
        if value is None:
            text = "null"
        elif isinstance(value, (bool, np.bool_)):
            text = "true" if value else "false"
        elif isinstance(value, (int, float, np.floating)):
            text = _number(float(value))
        elif isinstance(value, str):
            text = literal(value)
        elif isinstance(value, type) and self.names.is_own(value.__module__):
            text = self.names.need(dotted_name(value))
        elif isinstance(value, (tuple, list)):
            parts = [self.plain(part) for part in value]
            text = None if None in parts else f"[{', '.join(part or '' for part in parts)}]"
        elif isinstance(value, dict):
            pairs = self.plain([list(pair) for pair in value.items()])
            text = None if pairs is None else f"new Map({pairs})"
        return text

    def head(self, node: Function, scope: Scope, skipped: int = 0) -> str:
        """Parameters of a function in JavaScript, those by keyword at the end."""
        if node.args.vararg or node.args.kwarg:
            raise fault(node, scope, "a function with any number of arguments")
        defaults = defaults_of(node)
        names = [arg.arg for arg in parameters(node)[skipped:]]
        return ", ".join(
            f"{local(name)} = {self.expression(defaults[name], scope)}"
            if name in defaults
            else local(name)
            for name in names
        )

    def body(self, node: ast.FunctionDef, scope: Scope, first: str = "") -> str:
        """Body of a function, which gives None where it ends without an answer."""
        arguments = {arg.arg for arg in parameters(node)}
        outer = _nonlocal(node.body)
        stored = _stored(node.body)
        inner = {part.name for part in node.body if isinstance(part, ast.FunctionDef)}
        declared = sorted(stored - arguments - outer - inner)
        within = scope.within(arguments | stored)
        let = f"let {', '.join(local(name) for name in declared)};\n" if declared else ""
        last = "" if isinstance(node.body[-1], ast.Return) else "\nreturn null;"
        return f"{{\n{first}{let}{self._block(node.body, within)}{last}\n}}"

    # --- statements --------------------------------------------------------------------------

    def _block(self, body: Iterable[ast.stmt], scope: Scope) -> str:
        lines = [self.statement(node, scope) for node in body]
        return "\n".join(line for line in lines if line)

    def statement(self, node: ast.stmt, scope: Scope) -> str:
        """A statement, ended; nothing for what means nothing there."""
        write = self.statements.get(type(node))
        if write is None:
            raise fault(node, scope, f"a statement outside the subset: {_kind(node)}")
        return write(node, scope)

    def _return(self, node: ast.Return, scope: Scope) -> str:
        return f"return {'null' if node.value is None else self.expression(node.value, scope)};"

    def _target(self, node: ast.expr, scope: Scope) -> str:
        if isinstance(node, ast.Name):
            return local(node.id)
        if isinstance(node, ast.Attribute):
            return f"{self.expression(node.value, scope)}.{node.attr}"
        if isinstance(node, ast.Tuple):
            return f"[{', '.join(self._target(part, scope) for part in node.elts)}]"
        raise fault(node, scope, f"assignment to what is outside the subset: {_kind(node)}")

    def _assign(self, node: ast.Assign, scope: Scope) -> str:
        if len(node.targets) != 1:
            raise fault(node, scope, "one value assigned to several names")
        return f"{self._target(node.targets[0], scope)} = {self.expression(node.value, scope)};"

    def _annotated(self, node: ast.AnnAssign, scope: Scope) -> str:
        if node.value is None:
            return ""
        return f"{self._target(node.target, scope)} = {self.expression(node.value, scope)};"

    def _if(self, node: ast.If, scope: Scope) -> str:
        text = f"if ({self._truth(node.test, scope)}) {{\n{self._block(node.body, scope)}\n}}"
        if node.orelse:
            text += f" else {{\n{self._block(node.orelse, scope)}\n}}"
        return text

    def _for(self, node: ast.For, scope: Scope) -> str:
        if node.orelse:
            raise fault(node, scope, "a loop with else")
        each = self._run_time("each", self.expression(node.iter, scope))
        head = f"for ({self._target(node.target, scope)} of {each})"
        return f"{head} {{\n{self._block(node.body, scope)}\n}}"

    def _while(self, node: ast.While, scope: Scope) -> str:
        if node.orelse:
            raise fault(node, scope, "a loop with else")
        return f"while ({self._truth(node.test, scope)}) {{\n{self._block(node.body, scope)}\n}}"

    def _bare(self, node: ast.Expr, scope: Scope) -> str:
        return "" if is_text(node) else f"{self.expression(node.value, scope)};"

    def _inner_function(self, node: ast.FunctionDef, scope: Scope) -> str:
        if node.decorator_list:
            raise fault(node, scope, f"the decorator of {node.name} is not in the subset")
        head = f"function {local(node.name)}({self.head(node, scope)})"
        return f"{head} {self.body(node, scope)}"

    def _with(self, node: ast.With, scope: Scope) -> str:
        for item in node.items:
            opened = item.context_expr
            name = self.names.dotted(opened.func, scope) if isinstance(opened, ast.Call) else None
            if name not in self.names.counterparts.contexts or item.optional_vars is not None:
                raise fault(node, scope, "a with statement outside the subset")
        return self._block(node.body, scope)

    def _assert(self, node: ast.Assert, scope: Scope) -> str:
        return f"if (!{self._truth(node.test, scope)}) throw new Error('assertion');"

    def _raise(self, node: ast.Raise, scope: Scope) -> str:
        if not isinstance(node.exc, ast.Call):
            raise fault(node, scope, "raise without a new exception")
        words = [self.expression(part, scope) for part in node.exc.args]
        return f"throw new Error({' + '.join(words)});"

    # --- expressions -------------------------------------------------------------------------

    def expression(self, node: ast.expr, scope: Scope) -> str:
        """An expression that may stand in any place, but not be called."""
        write = self.expressions.get(type(node))
        if write is None:
            raise fault(node, scope, f"an expression outside the subset: {_kind(node)}")
        return write(node, scope)

    def _run_time(self, name: str, *arguments: str) -> str:
        return f"{RUN_TIME}.{name}({', '.join(arguments)})"

    def _truth(self, node: ast.expr, scope: Scope) -> str:
        return self._run_time("truth", self.expression(node, scope))

    def _constant(self, node: ast.Constant, scope: Scope) -> str:
        plain = None if node.value is Ellipsis else self.plain(node.value)
        if plain is None:
            raise fault(node, scope, f"a constant outside the subset: {node.value!r}")
        return plain

    def _name(self, node: ast.Name, scope: Scope) -> str:
        dotted = self.names.dotted(node, scope)
        return local(node.id) if dotted is None else self.names.resolved(node, dotted, scope)

    def _attribute(self, node: ast.Attribute, scope: Scope) -> str:
        dotted = self.names.dotted(node, scope)
        if dotted is not None:
            return self.names.resolved(node, dotted, scope)
        if node.attr in self.names.counterparts.methods:
            raise fault(node, scope, f"the method {node.attr} is not called")
        self.names.mention(node.attr, node, scope)
        return self._run_time("known", f"{self.expression(node.value, scope)}.{node.attr}")

    def _arguments(self, node: ast.Call, scope: Scope) -> list[str]:
        return [self.expression(argument, scope) for argument in node.args]

    def _call(self, node: ast.Call, scope: Scope) -> str:
        dotted = self.names.dotted(node.func, scope)
        if dotted is not None:
            return self._call_of(node, dotted, scope)
        words = [
            word.arg for word in node.keywords if word.arg not in self.names.counterparts.ignored
        ]
        if isinstance(node.func, ast.Attribute):
            owner, name = self.expression(node.func.value, scope), node.func.attr
            if name in self.names.counterparts.methods and not words:
                most = self.names.counterparts.methods[name]
                self._count(node, (most, most), scope)
                return self._run_time(name, owner, *self._arguments(node, scope))
            self.names.mention(name, node, scope)
            called = f"{owner}.{name}"
        elif isinstance(node.func, ast.Name):
            called = self.expression(node.func, scope)
        else:
            raise fault(node, scope, f"a call outside the subset: of {_kind(node.func)}")
        if node.keywords:
            raise fault(node, scope, "keywords in a call of a method or of a variable")
        return f"{called}({', '.join(self._arguments(node, scope))})"

    @staticmethod
    def _count(node: ast.Call, allowed: tuple[int, int], scope: Scope) -> None:
        """Refuse arguments that a counterpart does not have: JavaScript would pass over them."""
        if any(isinstance(argument, ast.Starred) for argument in node.args):
            if allowed[1] < MANY:
                raise fault(node, scope, "a starred argument of a function from outside")
        elif not allowed[0] <= len(node.args) <= allowed[1]:
            raise fault(node, scope, f"{len(node.args)} arguments, a counterpart has {allowed[1]}")

    def _call_of(self, node: ast.Call, dotted: str, scope: Scope) -> str:
        """Call of a definition, or of a function from outside that has a counterpart."""
        called = self.names.resolved(node, dotted, scope)
        found = self.names.definition(dotted)
        if found is None:
            return self._call_outside(node, dotted, called, scope)
        source, target = found
        if isinstance(target, ast.FunctionDef):
            names = [arg.arg for arg in parameters(target)]
            needed = set(names) - set(defaults_of(target))
        elif isinstance(target, ast.ClassDef):
            called = f"new {called}"
            names, needed = self.names.made_with(source, target)
        else:
            raise fault(node, scope, f"{dotted} is called and is no function")
        return f"{called}({', '.join(self._ordered(node, names, needed, scope))})"

    def _ordered(
        self, node: ast.Call, names: list[str], needed: set[str], scope: Scope
    ) -> list[str]:
        """Arguments in the order of the parameters; what is left to its default is undefined."""
        given = self._arguments(node, scope)
        if any(isinstance(argument, ast.Starred) for argument in node.args):
            if node.keywords:
                raise fault(node, scope, "keywords after a starred argument")
            return given
        if len(given) > len(names):
            raise fault(node, scope, "more arguments than parameters")
        placed = dict(zip(names, given, strict=False))
        for word in node.keywords:
            if word.arg is None or word.arg not in names or word.arg in placed:
                raise fault(node, scope, f"no parameter for the keyword {word.arg}")
            placed[word.arg] = self.expression(word.value, scope)
        left = needed - set(placed)
        if left:
            raise fault(node, scope, f"no argument for {', '.join(sorted(left))}")
        last = max((names.index(name) for name in placed), default=-1)
        return [placed.get(name, "undefined") for name in names[: last + 1]]

    def _call_outside(self, node: ast.Call, dotted: str, called: str, scope: Scope) -> str:
        if dotted not in self.names.counterparts.arguments:
            raise fault(node, scope, f"{dotted} is called and is no function")
        self._count(node, self.names.counterparts.arguments[dotted], scope)
        given = self._arguments(node, scope)
        words = [word for word in node.keywords if word.arg not in self.names.counterparts.ignored]
        if words and dotted not in self.names.counterparts.keywords:
            raise fault(node, scope, f"the keyword {words[0].arg} of {dotted}")
        if words:
            if any(word.arg is None for word in words):
                raise fault(node, scope, "keywords out of a dict")
            pairs = [f"{word.arg}: {self.expression(word.value, scope)}" for word in words]
            given.append(f"{{ {', '.join(pairs)} }}")
        return f"{called}({', '.join(given)})"

    def _binary(self, node: ast.BinOp, scope: Scope) -> str:
        name = _BINARY.get(type(node.op))
        if name is None:
            raise fault(node, scope, f"an operator outside the subset: {_kind(node.op)}")
        return self._run_time(
            name, self.expression(node.left, scope), self.expression(node.right, scope)
        )

    def _unary(self, node: ast.UnaryOp, scope: Scope) -> str:
        if isinstance(node.op, ast.Not):
            return f"!{self._truth(node.operand, scope)}"
        name = _UNARY.get(type(node.op))
        if name is None:
            raise fault(node, scope, f"an operator outside the subset: {_kind(node.op)}")
        return self._run_time(name, self.expression(node.operand, scope))

    def _boolean(self, node: ast.BoolOp, scope: Scope) -> str:
        name = "and" if isinstance(node.op, ast.And) else "or"
        text = self.expression(node.values[-1], scope)
        for value in reversed(node.values[:-1]):
            text = self._run_time(name, self.expression(value, scope), f"() => {text}")
        return text

    def _compare(self, node: ast.Compare, scope: Scope) -> str:
        if len(node.ops) != 1:
            raise fault(node, scope, "a chain of comparisons")
        here, other = self.expression(node.left, scope), self.expression(node.comparators[0], scope)
        if isinstance(node.ops[0], ast.Is):
            return f"({here} === {other})"
        if isinstance(node.ops[0], ast.IsNot):
            return f"({here} !== {other})"
        name = _COMPARED.get(type(node.ops[0]))
        if name is None:
            raise fault(node, scope, f"a comparison outside the subset: {_kind(node.ops[0])}")
        return self._run_time(name, here, other)

    def _choice(self, node: ast.IfExp, scope: Scope) -> str:
        yes, no = self.expression(node.body, scope), self.expression(node.orelse, scope)
        return f"({self._truth(node.test, scope)} ? {yes} : {no})"

    def _lambda(self, node: ast.Lambda, scope: Scope) -> str:
        within = scope.within(arg.arg for arg in parameters(node))
        return f"({self.head(node, scope)}) => {self.expression(node.body, within)}"

    def _sequence(self, node: ast.Tuple | ast.List, scope: Scope) -> str:
        return f"[{', '.join(self.expression(part, scope) for part in node.elts)}]"

    def _starred(self, node: ast.Starred, scope: Scope) -> str:
        return f"...{self.expression(node.value, scope)}"

    def _comprehension(self, node: ast.ListComp | ast.GeneratorExp, scope: Scope) -> str:
        text, head, within = self._generator(node, scope)
        return f"{text}.map({head} => {self.expression(node.elt, within)})"

    def _mapping(self, node: ast.DictComp, scope: Scope) -> str:
        text, head, within = self._generator(node, scope)
        pair = f"[{self.expression(node.key, within)}, {self.expression(node.value, within)}]"
        return f"new Map({text}.map({head} => {pair}))"

    def _generator(
        self, node: ast.ListComp | ast.GeneratorExp | ast.DictComp, scope: Scope
    ) -> tuple[str, str, Scope]:
        """What a comprehension goes over, its parameters, and where its result stands."""
        if len(node.generators) != 1 or node.generators[0].is_async:
            raise fault(node, scope, "a comprehension over more than one thing")
        over = node.generators[0]
        names = {part.id for part in ast.walk(over.target) if isinstance(part, ast.Name)}
        within = scope.within(names)
        head = f"({self._target(over.target, within)})"
        text = self._run_time("each", self.expression(over.iter, scope))
        for test in over.ifs:
            text += f".filter({head} => {self._truth(test, within)})"
        return text, head, within

    def _subscript(self, node: ast.Subscript, scope: Scope) -> str:
        owner = self.expression(node.value, scope)
        if isinstance(node.slice, ast.Slice):
            if node.slice.step is not None:
                raise fault(node, scope, "a slice with a step")
            ends = [
                "undefined" if end is None else self.expression(end, scope)
                for end in (node.slice.lower, node.slice.upper)
            ]
            return self._run_time("slice", owner, *ends)
        return self._run_time("item", owner, self.expression(node.slice, scope))

    def _formatted(self, node: ast.JoinedStr, scope: Scope) -> str:
        pieces: list[str] = []
        for part in node.values:
            if isinstance(part, ast.FormattedValue):
                if part.format_spec is not None or part.conversion != -1:
                    raise fault(node, scope, "a text with a format")
                pieces.append(self._run_time("text", self.expression(part.value, scope)))
            else:
                pieces.append(self.expression(part, scope))
        return f"({' + '.join(pieces)})" if pieces else literal("")


def _kind(node: ast.AST) -> str:
    return type(node).__name__
