"""Where a function's names get their values, and where JavaScript is to declare them.

Python's local names belong to the function, JavaScript's to the block, so each name is declared
where its first value is given, or above everything that mentions it.
"""

import ast
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

Homes = Mapping[int, Mapping[str, str]]
"""Statement -> local name declared there -> `const`, `let`, or `above` for a line of its own."""


def homes(function: ast.FunctionDef) -> Homes:
    """Where each local name of a function is declared."""
    found: dict[int, dict[str, str]] = {}
    parameters = {arg.arg for arg in function.args.args}
    for name in dict.fromkeys(stored_in(*function.body)):
        if name in parameters:
            continue
        places = _places(name, function.body)
        if places is None:
            first = next(node for node in function.body if name in mentioned(node))
            places = {id(first): "above"}
        for place, word in places.items():
            found.setdefault(place, {})[name] = word
    return found


def _places(name: str, block: Sequence[ast.stmt]) -> dict[int, str] | None:
    """Statements of a block that can each declare the name, if none needs what another gave it."""
    found: dict[int, str] = {}
    for i, node in enumerate(block):
        if name not in mentioned(node):
            continue
        if isinstance(node, ast.Assign | ast.AnnAssign):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            read = node.value is not None and name in mentioned(node.value)
            if found or read or name not in stored_in(target):
                return None
            word = "const" if stored_in(*block[i:]).count(name) == 1 else "let"
            return {id(node): word}
        if isinstance(node, ast.For) and name in stored_in(node.target):
            if name in mentioned(node.iter):
                return None
            word = "const" if name not in stored_in(*node.body) else "let"
            found[id(node)] = word
            continue
        head = node.iter if isinstance(node, ast.For) else getattr(node, "test", None)
        if not isinstance(node, ast.If | ast.For | ast.While) or head is None:
            return None
        if name in mentioned(head):
            return None
        for part in (node.body, node.orelse):
            deeper = _places(name, part)
            if deeper is None:
                return None
            found.update(deeper)
    return found


@dataclass(frozen=True)
class _Uses:
    """Names of a node, in order, each once for each time; also `space.name` as one. Left out are
    annotations and what a function, a comprehension or a lambda has of its own."""

    found: tuple[tuple[str, bool], ...]
    """Each with whether it is stored."""
    read: tuple[str, ...]
    stored: tuple[str, ...]
    mentioned: frozenset[str]


_KEPT = "_lowside_uses"
"""Where a node keeps them: a function asks for every statement once for each of its names."""


def _uses(node: ast.AST) -> _Uses:
    """What a node reads and stores. It is looked for once, so a node must not change after that."""
    kept: _Uses | None = getattr(node, _KEPT, None)
    if kept is None:
        found: list[tuple[str, bool]] = []
        _collect(node, frozenset(), found)
        kept = _Uses(
            tuple(found),
            tuple(name for name, is_stored in found if not is_stored),
            tuple(name for name, is_stored in found if is_stored),
            frozenset(name for name, _ in found),
        )
        setattr(node, _KEPT, kept)
    return kept


def _collect(node: ast.AST, own: frozenset[str], found: list[tuple[str, bool]]) -> None:
    if isinstance(node, ast.Name):
        if node.id not in own:
            found.append((node.id, isinstance(node.ctx, ast.Store)))
        return
    parts = _parts(node)
    if isinstance(node, ast.FunctionDef):
        for default in node.args.defaults:
            _collect(default, own, found)
        own = own.union((arg.arg for arg in node.args.args), stored_in(*node.body))
        parts = iter(node.body)
    elif isinstance(node, ast.ListComp | ast.GeneratorExp | ast.DictComp | ast.SetComp):
        # What the first `for` runs over is asked outside.
        first = node.generators[0]
        _collect(first.iter, own, found)
        own = own | {name for part in node.generators for name in stored_in(part.target)}
        parts = chain((part for part in parts if part is not first), first.ifs)
    elif isinstance(node, ast.Lambda):
        own = own | {arg.arg for arg in node.args.args}
    elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        space = node.value.id
        found += [(f"{space}.{node.attr}", False)] if space not in own else []
    for part in parts:
        if isinstance(part, ast.stmt):
            # Asked for itself too, so it is looked through once for both.
            found += [each for each in _uses(part).found if each[0].partition(".")[0] not in own]
        elif part is not getattr(node, "annotation", None):
            _collect(part, own, found)


def _parts(node: ast.AST) -> Iterator[ast.AST]:
    """As `ast.iter_child_nodes`, without those that have no parts: four in ten."""
    for name in node._fields:
        value = getattr(node, name)
        for part in value if isinstance(value, list) else (value,):
            if isinstance(part, ast.AST) and part._fields and not isinstance(part, ast.Constant):
                yield part


def mentioned(node: ast.AST) -> frozenset[str]:
    """Every name a statement or expression reads or stores."""
    return _uses(node).mentioned


def read_in(node: ast.AST) -> tuple[str, ...]:
    """Every name and `space.name` that is read, once for each time."""
    return _uses(node).read


def stored_in(*block: ast.AST) -> list[str]:
    """Every name stored in these, once for each time."""
    return [name for node in block for name in _uses(node).stored]
