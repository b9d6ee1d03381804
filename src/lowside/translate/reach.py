"""Which of the core's values a script needs, and how often their code mentions each."""

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


def reached(core: Core, asked: Collection[Value]) -> Counter[Value]:
    """How often each value is mentioned, in all that is asked for and in what that needs."""
    found: Counter[Value] = Counter()
    left = list(asked)
    while left:
        path, name = left.pop()
        module = core.module(path)
        if name not in module.defined:
            raise TranslationError(f"{path}.py:1: `{name}` is needed, and is not defined there")
        for each in uses(module, name):
            if each not in found and each not in asked:
                left.append(each)
            found[each] += 1
    return found


def in_order(core: Core, entries: Iterable[str]) -> list[Module]:
    """These modules of the core and all they need, each after what it needs.

    Raises
        TranslationError: they need each other, or one that is not there.
    """
    done: dict[str, Module] = {}

    def visit(path: str, above: tuple[str, ...]) -> None:
        if path in above:
            raise TranslationError(f"{path}.py:1: these import each other: {' → '.join(above)}")
        if path in done:
            return
        module = core.module(path)
        mentioned = (use for name in module.defined for use in uses(module, name))
        for needed in sorted({where for where, _ in mentioned} - {path}):
            visit(needed, (*above, path))
        done[path] = module

    for entry in entries:
        visit(entry, ())
    return list(done.values())
