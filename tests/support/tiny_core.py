"""A core as small as one construct: translated for Node, run by Python, compared bit for bit.

Node runs it as modules that can be read, and as the one script that phones run.
"""

import copy
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from textwrap import dedent
from types import ModuleType, NoneType, UnionType
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest
from hypothesis import find, given, settings
from hypothesis import strategies as st
from hypothesis.errors import NoSuchExample
from phone_core import SCRIPTS, Node, bits, differences, exactly, running_node

from lowside.translate.kinds import TranslationError
from lowside.translate.names import safe
from lowside.translate.phone import bundle, modules, read_core, shortened

ROOM = "room"
BATCH = 40
EXAMPLES = 6
"""Batches for each construct: with `BATCH`, some hundred calls."""
LOOKED_FOR = 5_000
"""Calls made up until one has an answer."""

SIGNS = st.sampled_from("aabbA,. -0{}$`\\\"'\t\n\x1c\x85\xa0\ufeff\u2028éßΣ\ud7ff\ue000\uffff🔧𝒳😀")
TEXTS = st.text(SIGNS, max_size=6) | st.text(max_size=5)
TEXTS |= st.sampled_from(("", "a", "b", "10", "2", "constructor", "__proto__", "😀a", "\uffffa"))
SMALL = st.integers(-4, 4) | st.integers(-(2**26), 2**26)
"""Whole numbers whose products are exact in JavaScript."""
WHOLE = SMALL | st.integers(-(2**53), 2**53) | st.sampled_from((2**53, -(2**53), 2**53 - 1))
NUMBERS = st.sampled_from((0.0, -0.0, 1.0, -1.5, 0.1, 5e-324, 1e300))
NUMBERS |= st.floats(-1e6, 1e6) | st.floats(allow_nan=False, allow_infinity=False)


def values_of(annotation: Any) -> st.SearchStrategy[Any]:
    """Values that a parameter annotated so may get."""
    simple = {int: SMALL, float: NUMBERS, str: TEXTS, bool: st.booleans(), NoneType: st.none()}
    if annotation in simple:
        return simple[annotation]
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return st.sampled_from(parts)
    if origin is UnionType:
        return st.one_of(*map(values_of, parts))
    if origin in (dict, Mapping):
        return st.dictionaries(*map(values_of, parts), max_size=5)
    if origin is tuple and parts[-1] is not Ellipsis:
        return st.tuples(*map(values_of, parts))
    rows = st.lists(values_of(parts[0]), max_size=5)
    return rows.map(tuple) if origin is tuple else rows


class Tiny:
    """One small core in both languages."""

    def __init__(self, node: Node, folder: Path, sources: Mapping[str, str]) -> None:
        self._node = node
        (folder / "py" / ROOM).mkdir(parents=True)
        for name, source in sources.items():
            (folder / "py" / ROOM / f"{name}.py").write_text(dedent(source), encoding="utf-8")
        core = read_core(folder / "py")
        made = modules(core, [f"{ROOM}/{name}" for name in sources])
        for name, text in made.items():
            path = folder / "js" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        (folder / "js" / "package.json").write_text('{"type": "module"}', encoding="utf-8")
        last = f"{ROOM}/{list(sources)[-1]}"
        self._modules = folder / "js" / f"{last}.js"
        self._script = folder / "script.mjs"
        names = ", ".join(name for name in core.module(last).functions if safe(name) == name)
        main = folder / "main.js"
        main.write_text(f'import {{ {names} }} from "./core/{last}.js";\n', "utf-8")
        script = shortened(bundle(core, folder, main, "function render() {}\n"))
        self._script.write_text(f"{script}export {{ {names} }};\n", "utf-8")
        self.python = _run(sources)

    def answers(self, name: str, batch: list[tuple[Any, ...]]) -> tuple[list[Any], ...]:
        """What each call gives or raises: in Python, in the modules and in the script."""
        sent = [[_sent(one) for one in args] for args in batch]
        question = {"name": name, "batch": sent}
        ours = [_called(getattr(self.python, name), args) for args in batch]
        paths = (self._modules, self._script)
        return ours, *(self._node.ask("tiny", {"path": str(path), **question}) for path in paths)

    def differs(self, name: str, batch: list[tuple[Any, ...]]) -> list[str]:
        """Calls for which both languages do not give the same."""
        ours, *both = self.answers(name, batch)
        found = []
        for where, theirs in zip(("modules", "script"), both, strict=True):
            for args, one, other in zip(batch, ours, theirs, strict=True):
                if other.keys() != one.keys():
                    found.append(f"{name}{args}: Python {one}, JavaScript's {where} {other}")
                elif "given" in one:
                    found += [f"{where}: {name}{args}{text}" for text in differences(one, other)]
        return found

    def check(self, name: str = "f", *strategies: st.SearchStrategy[Any]) -> None:
        """The function gives the same for values made up for its annotations, or of these."""
        function = getattr(self.python, name)
        hints = get_type_hints(function)
        hints.pop("return")
        made = strategies or tuple(map(values_of, hints.values()))
        answered = False

        @settings(max_examples=EXAMPLES)
        @given(st.lists(st.tuples(*made), min_size=BATCH // 2, max_size=BATCH))
        def run(batch: list[tuple[Any, ...]]) -> None:
            nonlocal answered
            found = self.differs(name, batch)
            assert not found, "\n".join(found[:5])
            answered = answered or any("given" in _called(function, args) for args in batch)

        run()
        if not answered:  # left to chance so far, as whether a name made up is in a dict made up
            try:
                find(
                    st.tuples(*made),
                    lambda args: "given" in _called(function, args),
                    settings=settings(max_examples=LOOKED_FOR),
                )
            except NoSuchExample as error:
                raise AssertionError("every call was an error") from error


class Cores:
    """Makes small cores, all run by one Node."""

    def __init__(self, node: Node, folder: Path) -> None:
        self._node, self._folder = node, folder
        self._numbers = count()

    def core(self, **sources: str) -> Tiny:
        """Modules of one room by name; the last is the one to call."""
        return Tiny(self._node, self._folder / str(next(self._numbers)), sources)

    def check(self, source: str, *strategies: st.SearchStrategy[Any]) -> None:
        """A module whose function `f` is called, or `parameters -> result: expression`."""
        if "\n" not in source:
            head, _, body = source.partition(": return ")
            source = f"def f{head}:\n    return {body}\n"
        self.core(tiny=source).check("f", *strategies)


@contextmanager
def running_cores(folder: Path) -> Iterator[Cores]:
    """A Node for small cores below a folder."""
    with running_node() as node:
        node.load("tiny", SCRIPTS / "tiny.mjs")
        yield Cores(node, folder)


def refusal(folder: Path, source: str) -> str:
    """What the translator says of a module it refuses."""
    (folder / ROOM).mkdir(parents=True, exist_ok=True)
    (folder / ROOM / "tiny.py").write_text(dedent(source), encoding="utf-8")
    with pytest.raises(TranslationError) as refused:
        modules(read_core(folder), [f"{ROOM}/tiny"])
    return str(refused.value)


def _run(sources: Mapping[str, str]) -> ModuleType:
    """The last of these modules, run by Python."""
    package = "lowside.core." + ROOM
    room = ModuleType(package)
    made = {package: room}
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, package, room)
        for name, source in sources.items():
            module = ModuleType(f"{package}.{name}")
            made[module.__name__] = module
            patch.setitem(sys.modules, module.__name__, module)
            setattr(room, name, module)
            exec(compile(dedent(source), f"{name}.py", "exec", dont_inherit=True), module.__dict__)
    return module


def _called(function: Any, args: tuple[Any, ...]) -> dict[str, Any]:
    try:
        given = function(*copy.deepcopy(args))
    except (ArithmeticError, LookupError, TypeError, ValueError) as error:
        return {"raised": repr(error)}
    return {"given": exactly(given)}


def _sent(value: Any) -> Any:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return {"bits": bits(float(value))}
    if isinstance(value, dict):
        return {"map": [[_sent(key), _sent(one)] for key, one in value.items()]}
    return [_sent(one) for one in value] if isinstance(value, list | tuple) else value
