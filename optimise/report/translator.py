"""Python to JavaScript: the source of the model as a script that works out one machine.

The page computes with the formulas of the model and of no other: this module reads their source and
writes the same functions and classes in JavaScript. It knows a subset of Python, that of the
model. Whatever is outside it stops the translation with file and line, so that the page cannot
drift from the model in silence.

A column is one number there: numpy's functions and the helpers of ``columns`` have counterparts for
one lane (``assets/scripts/lane.js``), and every operator goes through one that refuses what is no
number.
"""

from __future__ import annotations

import ast
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from optimise.report.translated_code import Code, literal, local
from optimise.report.translated_names import (
    DATACLASS,
    RUN_TIME,
    Counterparts,
    Names,
    Scope,
    Source,
    UntranslatableError,
    fault,
    is_text,
)

_IMPLIED = ("__init__", "__add__")
"""Methods that are called without being named; no other of that kind has a counterpart."""
_CACHED = "functools.cached_property"


@dataclass
class _Class:
    """A class as far as it is translated: members by name."""

    source: Source
    node: ast.ClassDef
    constructor: str = ""
    fields: list[str] = field(default_factory=list)
    members: dict[str, str] = field(default_factory=dict)


class _Translation:
    """Definitions that were asked for and all that they need, each translated once."""

    def __init__(self, packages: Collection[str], counterparts: Counterparts) -> None:
        self.names = Names(packages, counterparts)
        self.code = Code(self.names)
        self.classes: dict[str, _Class] = {}
        self.functions: dict[str, str] = {}
        self.constants: dict[str, str] = {}
        self.computed: dict[str, str] = {}

    def run(self, entries: Sequence[str]) -> str:
        for entry in entries:
            if self.names.definition(entry) is None:
                raise UntranslatableError(f"{entry}: no such definition")
            self.names.need(entry)
        while self.names.waiting or self._missing_members():
            while self.names.waiting:
                self._define(self.names.waiting.pop(0))
            for name, member in self._missing_members():
                self._member(self.classes[name], member)
        self._refuse_unknown()
        return self._joined()

    def _refuse_unknown(self) -> None:
        """Refuse attributes that no class has: on arrays, lists and texts they mean more."""
        known: set[str] = set()
        for one in self.classes.values():
            known |= {*one.fields, *one.members}
            known |= {
                part.attr
                for part in ast.walk(one.node)
                if isinstance(part, ast.Attribute) and isinstance(part.ctx, ast.Store)
            }
        for attribute, (node, scope) in self.names.mentioned.items():
            if attribute not in known:
                raise fault(node, scope, f"the attribute {attribute} is of no translated class")

    def _missing_members(self) -> list[tuple[str, ast.FunctionDef]]:
        return [
            (name, node)
            for name, known in self.classes.items()
            for node in known.node.body
            if isinstance(node, ast.FunctionDef)
            and (node.name in self.names.mentioned or node.name in _IMPLIED)
            and node.name not in known.members
        ]

    def _define(self, dotted: str) -> None:
        found = self.names.definition(dotted)
        assert found is not None
        source, node = found
        scope = Scope(source)
        if isinstance(node, ast.FunctionDef):
            if node.decorator_list:
                raise fault(node, scope, f"the decorator of {node.name} is not in the subset")
            head = f"function {self.names.needed[dotted]}"
            self.functions[dotted] = (
                f"{head}({self.code.head(node, scope)}) {self.code.body(node, scope)}"
            )
        elif isinstance(node, ast.ClassDef):
            self._class(dotted, source, node)
        else:
            self._global(dotted, source, node)

    def _global(self, dotted: str, source: Source, node: ast.stmt) -> None:
        """A constant: its value where that is plain data, else what it is made by."""
        value = getattr(source.module, dotted.rpartition(".")[2])
        plain = self.code.plain(value)
        if plain is not None:
            self.constants[dotted] = plain
            return
        assert isinstance(node, (ast.Assign, ast.AnnAssign))
        simple = isinstance(node, ast.AnnAssign) or (
            len(node.targets) == 1 and isinstance(node.targets[0], ast.Name)
        )
        if not simple or node.value is None:
            raise fault(node, Scope(source), "a constant is one name and what it is made by")
        self.computed[dotted] = self.code.expression(node.value, Scope(source))

    def _class(self, dotted: str, source: Source, node: ast.ClassDef) -> None:
        scope = Scope(source)
        known = self.classes[dotted] = _Class(source, node)
        decorators = self.names.decorators(node, scope)
        for part in node.body:
            name = part.name if isinstance(part, ast.FunctionDef) else ""
            if name in self.names.counterparts.methods:
                raise fault(part, scope, f"a method called {name} would hide that of arrays")
            unknown = name.startswith("__") and name not in _IMPLIED
            if unknown or (name == "__init__" and decorators):
                raise fault(part, scope, f"{name} of class {node.name} has no counterpart")
        if [one for one in decorators if one != DATACLASS]:
            raise fault(node, scope, f"a decorator of class {node.name} is not in the subset")
        if decorators:
            self._dataclass(known)
            return
        if node.bases:
            raise fault(node, scope, f"class {node.name} has a base class")
        for part in node.body:
            if not isinstance(part, ast.FunctionDef) and not is_text(part):
                raise fault(part, scope, f"class {node.name} holds more than methods")

    def _dataclass(self, known: _Class) -> None:
        heads: list[str] = []
        lines: list[str] = []
        for name, (scope, part) in self.names.fields(known.source, known.node).items():
            stated = self.names.default_of(part.value, scope)
            default = None if stated is None else self.code.expression(stated, scope)
            place = literal(f"{known.node.name}.{name}")
            heads.append(local(name) if default is None else f"{local(name)} = {default}")
            given = local(name) if default else f"{RUN_TIME}.given({local(name)}, {place})"
            lines.append(f"this.{name} = {given};")
            known.fields.append(name)
        known.constructor = f"constructor({', '.join(heads)}) {{\n" + "\n".join(lines) + "\n}"

    def _member(self, known: _Class, node: ast.FunctionDef) -> None:
        scope = Scope(known.source)
        kinds = self.names.decorators(node, scope)
        if not node.args.args:
            raise fault(node, scope, f"{node.name} has no self")
        own = node.args.args[0].arg
        body = self.code.body(node, scope, f"const {own} = this;\n")
        if kinds == [_CACHED]:
            kept = f"this.${node.name}"
            text = (
                f"get {node.name}() {{\nif ({kept} === undefined) {kept} = (() => {body})();\n"
                f"return {kept};\n}}"
            )
        elif kinds == ["builtins.property"]:
            text = f"get {node.name}() {body}"
        elif kinds:
            raise fault(node, scope, f"the decorator of {node.name} is not in the subset")
        elif node.name == "__init__":
            text = f"constructor({self.code.head(node, scope, 1)}) {body}"
        else:
            text = f"{node.name}({self.code.head(node, scope, 1)}) {body}"
        known.members[node.name] = text

    def _joined(self) -> str:
        def where(dotted: str) -> tuple[str, int]:
            found = self.names.definition(dotted)
            assert found is not None
            return found[0].name, found[1].lineno

        parts: list[str] = []
        for dotted in sorted(self.classes, key=where):
            known, name = self.classes[dotted], self.names.needed[dotted]
            members = [known.constructor, *(known.members[key] for key in sorted(known.members))]
            inside = "\n".join(member for member in members if member)
            parts.append(f"class {name} {{\n{inside}\n}}")
            if known.constructor:
                fields = ", ".join(literal(one) for one in known.fields)
                parts.append(f"{name}.fields = [{fields}];")
                parts.append(f"{RUN_TIME}.classes.{name} = {name};")
        parts += [self.functions[dotted] for dotted in sorted(self.functions, key=where)]
        for group in (self.constants, self.computed):
            parts += [
                f"const {self.names.needed[dotted]} = {group[dotted]};"
                for dotted in sorted(group, key=where)
            ]
        return "\n".join(parts) + "\n"


def translate(entries: Sequence[str], packages: Collection[str], counterparts: Counterparts) -> str:
    """Write definitions, and all that they need, in JavaScript.

    A definition gets the name ``module$name``. Of a class only those members are written whose
    names occur in what is written. A constant is its value where that is plain data.

    Parameters
    ----------
    entries
        Dotted names of what is asked for.
    packages
        Modules and packages whose definitions may be translated.
    counterparts
        What stands in for everything from outside.

    Raises
    ------
    UntranslatableError
        Something that is needed is outside the subset.
    """
    return _Translation(packages, counterparts).run(entries)
