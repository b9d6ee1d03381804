"""What kind of value an expression of the core has, as far as a translation must know it.

JavaScript writes one operation in several ways: `len` of a text, a list and a dict differ. Their
truth and their equality differ too. The kinds come from the core's own annotations; nothing runs.
A value may be of several kinds (`float | None`), so each answer is a set of `Kind`.
"""

import ast
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

Name = Literal["str", "int", "float", "bool", "None", "list", "tuple", "dict", "set", "Any"]
"""Python's own kinds, and what is not known."""
KindName = Name | Literal["object", "class", "function", "module"]

PLAIN: frozenset[KindName] = frozenset({"str", "int", "float", "bool", "None"})
"""Kinds that JavaScript compares with `===` as Python does with `==`."""
ROWS: frozenset[KindName] = frozenset({"list", "tuple"})
NUMBERS: frozenset[KindName] = frozenset({"int", "float"})
ENDLESS = "..."
"""What a tuple of any length is `of`."""


@dataclass(frozen=True)
class Kind:
    """One kind of value: `parts` are what a container holds or a function gives back."""

    name: KindName
    of: str = ""
    """The class, function or module it is, `session/fold.Folding`; for a row, see `ENDLESS`."""
    parts: tuple["Kinds", ...] = ()


Kinds = frozenset[Kind]

UNKNOWN: Kinds = frozenset({Kind("Any")})


def one(name: KindName, *parts: Kinds, of: str = "") -> Kinds:
    """The set of a single kind."""
    return frozenset({Kind(name, of, parts)})


def names(kinds: Kinds) -> frozenset[KindName]:
    """The names of the kinds, `None` left out: mypy has seen to it that it is not there."""
    return frozenset(kind.name for kind in kinds) - {"None"}


def values(kinds: Kinds) -> frozenset[KindName]:
    """The names of the kinds that an operator takes: mypy has seen to it that neither `None` nor
    one of the core's objects is there."""
    return names(kinds) - {"object"}


def every(kinds: Kinds) -> frozenset[KindName]:
    """The names of the kinds, `None` among them."""
    return frozenset(kind.name for kind in kinds)


def union(many: Iterable[Kinds]) -> Kinds:
    """Every kind of any of these."""
    return frozenset().union(*many)


def element(kinds: Kinds) -> Kinds:
    """What a loop over such a value yields: a dict yields its keys."""
    found: list[Kinds] = []
    for kind in kinds:
        if kind.name in ("list", "set", "dict"):
            found.append(kind.parts[0] if kind.parts else UNKNOWN)
        elif kind.name == "tuple":
            found.extend(kind.parts)
        elif kind.name == "str":
            found.append(one("str"))
        elif kind.name == "Any":
            found.append(UNKNOWN)
    return union(found)


def held(kinds: Kinds) -> Kinds:
    """What `d[key]` of such a value is."""
    return union(
        kind.parts[1] if kind.name == "dict" and len(kind.parts) > 1 else UNKNOWN
        for kind in kinds
        if kind.name in ("dict", "Any")
    )


def at(kinds: Kinds, i: int) -> Kinds:
    """What `row[i]` of such a value is."""
    found = []
    for kind in kinds:
        fixed = kind.name == "tuple" and kind.of != ENDLESS and -len(kind.parts) <= i
        if fixed and i < len(kind.parts):
            found.append(kind.parts[i])
        else:
            found.append(element(frozenset({kind})))
    return union(found)


class TranslationError(Exception):
    """The core uses what the translator does not know; the message starts with file:line."""


@dataclass
class Class:
    """A class: what it is made from and what it can be asked."""

    node: ast.ClassDef
    path: str

    @cached_property
    def fields(self) -> list[ast.AnnAssign]:
        return [part for part in self.node.body if isinstance(part, ast.AnnAssign)]

    @cached_property
    def methods(self) -> Mapping[str, ast.FunctionDef]:
        return {part.name: part for part in self.node.body if isinstance(part, ast.FunctionDef)}

    @property
    def is_dataclass(self) -> bool:
        return bool(self.node.decorator_list)

    @property
    def maker(self) -> list[str]:
        """Names of what it is made from, in order."""
        if "__init__" in self.methods:
            return [arg.arg for arg in self.methods["__init__"].args.args[1:]]
        return [defined_by(part) for part in self.fields]

    def is_property(self, name: str) -> bool:
        decorators = self.methods[name].decorator_list if name in self.methods else []
        return any(isinstance(one, ast.Name) and one.id == "property" for one in decorators)


@dataclass
class Module:
    """One file of the core: what it defines and what its imports mean."""

    path: str
    """Below the core, without its ending: `session/fold`."""
    tree: ast.Module
    functions: dict[str, ast.FunctionDef] = field(default_factory=dict)
    classes: dict[str, Class] = field(default_factory=dict)
    constants: dict[str, ast.Assign | ast.AnnAssign] = field(default_factory=dict)
    aliases: dict[str, ast.expr] = field(default_factory=dict)
    """Names of types: `Problems = dict[str, str]`."""
    spaces: dict[str, str] = field(default_factory=dict)
    """Local name -> module."""
    imported: dict[str, tuple[str, str]] = field(default_factory=dict)
    """Local name -> module and the name it has there."""
    defined: dict[str, ast.stmt] = field(default_factory=dict)
    """What is defined here and exists when the program runs, in order."""
    uses: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    """See `reach.uses`; filled when it is asked for."""

    def error(self, node: ast.AST, advice: str) -> TranslationError:
        line = getattr(node, "lineno", 1)
        said = ast.unparse(node).split("\n", 1)[0][:70]
        return TranslationError(f"{self.path}.py:{line}: `{said}`: {advice}")


TYPE_NAMES = {"dict", "list", "tuple", "set", "Mapping", "Sequence", "Iterable", "Callable"}
TYPE_NAMES |= {"Literal"}
_ROW_NAMES = {"list", "Sequence", "Iterable"}


def parse(path: str, source: str, package: str) -> Module:
    """A module of the core from its text; `package` is `lowside.core`."""
    module = Module(path, ast.parse(source, filename=f"{path}.py"))
    seen: set[str] = set()
    for node in module.tree.body:
        if isinstance(node, ast.ImportFrom):
            _note_imports(module, node, package)
        elif isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Assign | ast.AnnAssign):
            name = defined_by(node)
            if name in seen:
                raise module.error(node, f"a module gives `{name}` one meaning; use another name")
            seen.add(name)
            if isinstance(node, ast.FunctionDef):
                module.functions[name] = node
            elif isinstance(node, ast.ClassDef):
                module.classes[name] = Class(node, path)
            elif isinstance(node, ast.Assign) and _is_type(node.value):
                module.aliases[name] = node.value
            else:
                module.constants[name] = node
            if name not in module.aliases:
                module.defined[name] = node
    return module


def _note_imports(module: Module, node: ast.ImportFrom, package: str) -> None:
    if not f"{node.module}.".startswith(f"{package}."):
        return
    where = (node.module or "").removeprefix(package).strip(".").replace(".", "/")
    for alias in node.names:
        local = alias.asname or alias.name
        if local == "*":
            raise module.error(node, "import each name by itself")
        if "/" in where:
            module.imported[local] = (where, alias.name)
        else:
            module.spaces[local] = f"{where}/{alias.name}".strip("/")


def _is_type(value: ast.expr) -> bool:
    if isinstance(value, ast.BinOp) and isinstance(value.op, ast.BitOr):
        return all(
            isinstance(side, ast.Name) or _is_none(side) or _is_type(side)
            for side in (value.left, value.right)
        )
    return (
        isinstance(value, ast.Subscript)
        and isinstance(value.value, ast.Name)
        and value.value.id in TYPE_NAMES
    )


def _is_none(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


_SIMPLE: Mapping[str, KindName] = {
    **{"str": "str", "int": "int", "float": "float", "bool": "bool", "Any": "Any"},
    **{"object": "Any", "NoneType": "None"},
}
"""Type -> kind."""


def name_of(node: ast.Constant) -> KindName:
    """The kind of a constant."""
    return _SIMPLE.get(type(node.value).__name__, "Any")


def defined_by(node: ast.stmt) -> str:
    """The name that a statement gives a meaning, "" when it gives none or several."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return node.name
    if not isinstance(node, ast.Assign | ast.AnnAssign):
        return ""
    target = node.target if isinstance(node, ast.AnnAssign) else node.targets[0]
    return target.id if isinstance(target, ast.Name) else ""


class Core:
    """Every module of the core, and what a name in one of them means."""

    def __init__(self, modules: Mapping[str, Module]) -> None:
        self.modules = modules
        self.found: dict[tuple[str, str], Kinds] = {}
        """What a module or a class has by a name: see `Inference`, which fills it when it asks."""
        self._annotated: dict[ast.expr, Kinds] = {}

    def module(self, path: str) -> Module:
        if path not in self.modules:
            raise TranslationError(f"there is no {path}.py in the core: import what is there")
        return self.modules[path]

    def class_of(self, module: Module, name: str) -> Class | None:
        if name in module.classes:
            return module.classes[name]
        if name in module.imported:
            where, original = module.imported[name]
            return self.modules[where].classes.get(original) if where in self.modules else None
        return None

    def named(self, of: str) -> Class:
        """The class a kind speaks of."""
        path, _, name = of.rpartition(".")
        return self.modules[path].classes[name]

    def classes_of(self, kinds: Kinds) -> Iterator[Class]:
        for kind in kinds:
            if kind.name == "object" and kind.of:
                yield self.named(kind.of)

    def annotated(self, module: Module, node: ast.expr | None) -> Kinds:
        """The kinds an annotation names; looked for once."""
        if node is None:
            return UNKNOWN
        if node not in self._annotated:
            self._annotated[node] = self._named_by(module, node)
        return self._annotated[node]

    def _named_by(self, module: Module, node: ast.expr) -> Kinds:
        if isinstance(node, ast.Constant):
            if isinstance(node.value, str):
                return self.annotated(module, ast.parse(node.value, mode="eval").body)
            return one("None")
        if isinstance(node, ast.BinOp):
            return self.annotated(module, node.left) | self.annotated(module, node.right)
        if isinstance(node, ast.Subscript):
            return self._generic(module, node)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            space = self.modules.get(module.spaces.get(node.value.id, ""))
            if space is not None:
                return self._name(space, node.attr, node)
        if isinstance(node, ast.Name):
            return self._name(module, node.id, node)
        raise module.error(node, "not an annotation the translator knows")

    def _name(self, module: Module, name: str, node: ast.expr) -> Kinds:
        if name in _SIMPLE:
            return one(_SIMPLE[name])
        if name in TYPE_NAMES:
            return self._generic(module, ast.Subscript(node, ast.Tuple([])))
        if name in module.aliases:
            return self.annotated(module, module.aliases[name])
        found = self.class_of(module, name)
        if found is not None:
            return one("object", of=f"{found.path}.{found.node.name}")
        if name in module.imported:
            where, original = module.imported[name]
            if where in self.modules and original in self.modules[where].aliases:
                return self._name(self.modules[where], original, node)
        raise module.error(node, "a type that is not defined in the core")

    def _generic(self, module: Module, node: ast.Subscript) -> Kinds:
        base = node.value.id if isinstance(node.value, ast.Name) else ""
        inside = list(node.slice.elts) if isinstance(node.slice, ast.Tuple) else [node.slice]
        if base == "Literal":
            return union(one(name_of(part)) for part in inside if isinstance(part, ast.Constant))
        if base == "Callable":
            given = inside[0].elts if inside and isinstance(inside[0], ast.List) else []
            result = self.annotated(module, inside[-1]) if inside else UNKNOWN
            return one("function", result, *(self.annotated(module, part) for part in given))
        parts = [
            UNKNOWN
            if isinstance(part, ast.Constant) and part.value is Ellipsis
            else self.annotated(module, part)
            for part in inside
        ]
        if base in _ROW_NAMES:
            return one("list", *parts[:1])
        if base == "tuple":
            endless = len(inside) == 2 and isinstance(inside[1], ast.Constant)
            return one("tuple", parts[0], of=ENDLESS) if endless else one("tuple", *parts)
        if base in ("dict", "Mapping"):
            return one("dict", *parts)
        if base == "set":
            return one("set", *parts)
        raise module.error(node, "not an annotation the translator knows")
