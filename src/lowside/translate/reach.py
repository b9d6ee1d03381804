"""Which of the core's values a script needs, and how often their code mentions each."""

import ast
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence

from lowside.translate.kinds import Core, Module, TranslationError
from lowside.translate.scopes import read_in

Value = tuple[str, str]
"""Module and name of what it defines."""


def uses(module: Module, name: str) -> Sequence[Value]:
    """Each value of the core that what a module defines mentions, once for each time."""
    if name not in module.uses:
        module.uses[name] = list(_meant(module, read_in(module.defined[name])))
    return module.uses[name]


def _meant(module: Module, names: Iterable[str]) -> Iterator[Value]:
    for name in names:
        space, _, there = name.partition(".")
        if there and space in module.spaces:
            yield module.spaces[space], there
        elif name in module.imported:
            yield module.imported[name]
        elif name in module.defined:
            yield module.path, name


def _error(module: Module, path: str, name: str, advice: str) -> TranslationError:
    """Said of the place where a module mentions what another defines; any name of it when `name`
    is empty."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Name | ast.Attribute):
            for where, there in _meant(module, read_in(node)):
                if where == path and name in ("", there):
                    return module.error(node, advice)
    return module.error(module.tree, advice)


def reached(core: Core, asked: Collection[Value]) -> Counter[Value]:
    """How often each value is mentioned, in all that is asked for and in what that needs.

    Raises
        TranslationError: a module of the core mentions what another does not define.
    """
    found: Counter[Value] = Counter()
    left = list(asked)
    for path, name in asked:
        if name not in core.module(path).defined:
            raise TranslationError(f"{path}.py does not define `{name}`: import what it defines")
    while left:
        path, name = left.pop()
        module = core.modules[path]
        for each in uses(module, name):
            if each not in found and each not in asked:
                _check(core, module, *each)
                left.append(each)
            found[each] += 1
    return found


def _check(core: Core, module: Module, path: str, name: str) -> None:
    if path not in core.modules:
        raise _error(module, path, name, f"there is no {path}.py in the core: import what is there")
    if name not in core.modules[path].defined:
        raise _error(module, path, name, f"{path}.py does not define it: import what it defines")


def in_order(core: Core, entries: Iterable[str]) -> list[Module]:
    """These modules of the core and all they need, each after what it needs.

    Raises
        TranslationError: they need each other, or one that is not there.
    """
    done: dict[str, Module] = {}

    def visit(path: str, above: tuple[str, ...]) -> None:
        if path in above:
            said = f"these import each other: {' → '.join(above)}: move what both need to a third"
            raise _error(core.modules[above[-1]], path, "", said)
        if path in done:
            return
        module = core.module(path)
        mentioned = {use for name in module.defined for use in uses(module, name)}
        for where, name in sorted(mentioned):
            if where not in core.modules:
                _check(core, module, where, name)
        for needed in sorted({where for where, _ in mentioned} - {path}):
            visit(needed, (*above, path))
        done[path] = module

    for entry in entries:
        visit(entry, ())
    return list(done.values())
