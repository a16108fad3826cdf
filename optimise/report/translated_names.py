"""Names of the Python source that is translated, and what each stands for in JavaScript."""

from __future__ import annotations

import ast
import importlib
import inspect
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from types import ModuleType

Function = ast.FunctionDef | ast.Lambda

RUN_TIME = "lane"
"""JavaScript object that holds operators and counterparts."""
DATACLASS = "dataclasses.dataclass"


class UntranslatableError(Exception):
    """Source outside the subset; the message begins with file and line."""


@dataclass(frozen=True)
class Counterparts:
    """What stands in for names from outside the sources that are translated.

    Attributes
    ----------
    names
        JavaScript for dotted Python names: functions, and constants.
    arguments
        How many arguments each of these functions takes, at least and at most, keywords left out.
    methods
        Methods of arrays, lists, dicts and texts by how many arguments they take; each becomes a
        function of the run-time with the object as its first argument. No class that is translated
        may have one of that name.
    ignored
        Keywords of such functions that mean nothing for one machine.
    keywords
        Functions that take any keywords, as one object at the end.
    fields
        Functions that make the field of a dataclass; their keyword ``default`` is its default.
    contexts
        Context managers that mean nothing for one machine.
    """

    names: Mapping[str, str]
    arguments: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    methods: Mapping[str, int] = field(default_factory=dict)
    ignored: frozenset[str] = frozenset()
    keywords: frozenset[str] = frozenset()
    fields: frozenset[str] = frozenset()
    contexts: frozenset[str] = frozenset()


@dataclass
class Source:
    """A module: its definitions, and what its names of other modules stand for (dotted)."""

    name: str
    path: str
    module: ModuleType
    definitions: dict[str, ast.stmt] = field(default_factory=dict)
    imports: dict[str, str] = field(default_factory=dict)


@dataclass
class Scope:
    """Where an expression stands: its module, and names of functions around it."""

    source: Source
    locals: set[str] = field(default_factory=set)

    def within(self, names: Iterable[str]) -> Scope:
        """Scope of a function inside, with more names."""
        return Scope(self.source, self.locals | set(names))


def _read(name: str) -> Source:
    module = importlib.import_module(name)
    source = Source(name, inspect.getsourcefile(module) or name, module)
    for node in ast.parse(inspect.getsource(module)).body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            source.definitions[node.name] = node
        elif isinstance(node, ast.Assign):
            for target in node.targets:
                for part in ast.walk(target):
                    if isinstance(part, ast.Name):
                        source.definitions[part.id] = node
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            source.definitions[node.target.id] = node
        elif isinstance(node, ast.Import):
            for alias in node.names:
                source.imports[alias.asname or alias.name] = alias.name
        elif isinstance(node, ast.ImportFrom):
            for alias in node.names:
                source.imports[alias.asname or alias.name] = f"{node.module}.{alias.name}"
    return source


def dotted_name(kind: type) -> str:
    """Dotted name of a class."""
    return f"{kind.__module__}.{kind.__qualname__}"


def script_name(dotted: str) -> str:
    """Name of a definition in JavaScript: ``module$name``."""
    module, _, name = dotted.rpartition(".")
    return f"{module.rsplit('.', 1)[-1]}${name}"


def parameters(node: Function) -> list[ast.arg]:
    """All parameters, those that are given by keyword only at the end."""
    return [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]


def defaults_of(node: Function) -> dict[str, ast.expr]:
    """Defaults by the name of the parameter."""
    plain = [*node.args.posonlyargs, *node.args.args]
    last = plain[len(plain) - len(node.args.defaults) :]
    found = {arg.arg: value for arg, value in zip(last, node.args.defaults, strict=True)}
    for arg, value in zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True):
        if value is not None:
            found[arg.arg] = value
    return found


def is_text(node: ast.stmt) -> bool:
    """Whether a statement is a docstring."""
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def fault(node: ast.AST, scope: Scope, what: str) -> UntranslatableError:
    """What stops the translation, with its place."""
    line = getattr(node, "lineno", 0)
    return UntranslatableError(f"{scope.source.path}:{line}: {what}")


class Names:
    """Definitions that are needed so far, by dotted name, and attributes that are mentioned."""

    def __init__(self, packages: Collection[str], counterparts: Counterparts) -> None:
        self.packages = packages
        self.counterparts = counterparts
        self.sources: dict[str, Source] = {}
        self.needed: dict[str, str] = {}
        self.waiting: list[str] = []
        self.mentioned: dict[str, tuple[ast.AST, Scope]] = {}

    def mention(self, attribute: str, node: ast.AST, scope: Scope) -> None:
        """Note that an attribute is read, and where first."""
        self.mentioned.setdefault(attribute, (node, scope))

    def source(self, name: str) -> Source:
        """Source of a module; no two may have the same last name."""
        if name not in self.sources:
            short = name.rsplit(".", 1)[-1]
            same = [other for other in self.sources if other.rsplit(".", 1)[-1] == short]
            if same:
                raise UntranslatableError(f"{name}: a module called {short} is in use: {same[0]}")
            self.sources[name] = _read(name)
        return self.sources[name]

    def is_own(self, dotted: str) -> bool:
        """Whether a module is one that may be translated."""
        return any(dotted == own or dotted.startswith(f"{own}.") for own in self.packages)

    def dotted(self, node: ast.expr, scope: Scope) -> str | None:
        """What a name or a name within a module stands for; None for anything else."""
        if isinstance(node, ast.Name):
            if node.id in scope.locals:
                return None
            if node.id in scope.source.definitions:
                return f"{scope.source.name}.{node.id}"
            if node.id in scope.source.imports:
                return scope.source.imports[node.id]
            return f"builtins.{node.id}"
        if isinstance(node, ast.Attribute):
            owner = self.dotted(node.value, scope)
            if owner is not None and self._is_module(owner):
                return f"{owner}.{node.attr}"
        return None

    @staticmethod
    def _is_module(dotted: str) -> bool:
        head, _, tail = dotted.rpartition(".")
        if not head:
            return True
        return head != "builtins" and inspect.ismodule(
            getattr(importlib.import_module(head), tail, None)
        )

    def definition(self, dotted: str) -> tuple[Source, ast.stmt] | None:
        """A definition that is to be translated; None where the name is from outside."""
        module, _, name = dotted.rpartition(".")
        if dotted in self.counterparts.names or not self.is_own(module):
            return None
        source = self.source(module)
        if name in source.definitions:
            return source, source.definitions[name]
        if name in source.imports:
            return self.definition(source.imports[name])
        return None

    def resolved(self, node: ast.expr, dotted: str, scope: Scope) -> str:
        """JavaScript for a dotted name; what it stands for is translated too."""
        if dotted in self.counterparts.names:
            return self.counterparts.names[dotted]
        if self.definition(dotted) is None:
            known = dotted.removeprefix("builtins.")
            raise fault(node, scope, f"{known} has no counterpart in JavaScript")
        return self.need(dotted)

    def need(self, dotted: str) -> str:
        """Name in JavaScript of a definition, which is translated in its turn."""
        if dotted not in self.needed:
            self.needed[dotted] = script_name(dotted)
            self.waiting.append(dotted)
        return self.needed[dotted]

    def fields(self, source: Source, node: ast.ClassDef) -> dict[str, tuple[Scope, ast.AnnAssign]]:
        """Fields of a dataclass, those of its bases first."""
        scope = Scope(source)
        found: dict[str, tuple[Scope, ast.AnnAssign]] = {}
        for base in node.bases:
            dotted = self.dotted(base, scope)
            known = self.definition(dotted) if dotted is not None else None
            if known is None or not isinstance(known[1], ast.ClassDef):
                raise fault(base, scope, f"a base of {node.name} cannot be translated")
            if any(isinstance(part, ast.FunctionDef) for part in known[1].body):
                raise fault(base, scope, f"a base of {node.name} has methods")
            found |= self.fields(known[0], known[1])
        for part in node.body:
            if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name):
                found[part.target.id] = (scope, part)
            elif not isinstance(part, ast.FunctionDef) and not is_text(part):
                raise fault(part, scope, f"dataclass {node.name} holds more than fields")
        return found

    def default_of(self, node: ast.expr | None, scope: Scope) -> ast.expr | None:
        """Default of a field; one that comes from a factory has to be given."""
        if isinstance(node, ast.Call) and self.dotted(node.func, scope) in self.counterparts.fields:
            stated = [word.value for word in node.keywords if word.arg == "default"]
            return stated[0] if stated else None
        return node

    def decorators(self, node: ast.FunctionDef | ast.ClassDef, scope: Scope) -> list[str | None]:
        """Dotted names of decorators, called or not."""
        return [
            self.dotted(one.func if isinstance(one, ast.Call) else one, scope)
            for one in node.decorator_list
        ]

    def made_with(self, source: Source, node: ast.ClassDef) -> tuple[list[str], set[str]]:
        """Arguments of a class's constructor, and which of them must be given."""
        if node.decorator_list:
            fields = self.fields(source, node)
            needed = {
                name
                for name, (scope, part) in fields.items()
                if self.default_of(part.value, scope) is None
            }
            return list(fields), needed
        for part in node.body:
            if isinstance(part, ast.FunctionDef) and part.name == "__init__":
                names = [arg.arg for arg in parameters(part)[1:]]
                return names, set(names) - set(defaults_of(part))
        return [], set()
