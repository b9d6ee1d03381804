"""One long-lived Node that runs the browser's half, and the exact form in which both are compared.

Both sides dump a value to the same JSON: every number as the 16 hex digits of its double, so that
equal means equal to the last bit; texts as `'` + text; mappings as ordered pairs; dataclasses as
their name and their fields' values in order. In the one script the fields have other names.
"""

import atexit
import fcntl
import json
import os
import shutil
import struct
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

import engines
import pytest
from hypothesis import Phase
from workers import shared_by_workers

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event
from lowside.translate.phone import (
    CORE,
    ENTRY,
    bundle,
    in_ascii,
    read_core,
    shortened,
    write_modules,
)
from lowside.translate.templates import compile_templates
from lowside.web.phone.handbook import for_phone, phone_handbook

ROOT = Path(__file__).parents[2]
SCRIPT = "script.cjs"
RUN = "PYTEST_XDIST_TESTRUNUID"
"""The variable in which each worker has the name of the run."""
SCRIPTS = ROOT / "tests" / "js"
DRIVER = SCRIPTS / "driver.mjs"
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)
"""Without shrinking, which takes minutes on whole sessions: `assert_same` names the field that
differs, and that finds the line."""


class PhoneCoreError(Exception):
    """The JavaScript side threw; the message is its own."""


class Node:
    """A Node process that answers one question at a time."""

    every = 1
    """Of so many questions it is asked one."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self._process = process

    def load(self, name: str, path: Path) -> None:
        """Import an ES module under a name."""
        self._ask({"op": "load", "name": name, "path": str(path)})

    def render(self, module: str, name: str, context: Mapping[str, Any]) -> str:
        """What a compiled templates module makes of a context."""
        page = self._ask({"op": "render", "module": module, "name": name, "context": context})
        assert isinstance(page, str)
        return page

    def ask(self, module: str, question: Mapping[str, Any]) -> Any:
        """What a module's own `answer` says."""
        return self._ask({"op": "ask", "module": module, "question": question})

    def _ask(self, request: Mapping[str, Any]) -> Any:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(request) + "\n")
        self._process.stdin.flush()
        line = self._process.stdout.readline()
        if line == "":
            raise PhoneCoreError("Node ended without an answer")
        reply = json.loads(line)
        if "error" in reply:
            raise PhoneCoreError(f"{reply['error']}\n{reply['stack']}")
        return reply["ok"]


@contextmanager
def running_node() -> Iterator[Node]:
    """A Node for the length of a `with`; without Node the test fails, it is never skipped."""
    program = shutil.which("node")
    if program is None:
        pytest.fail("There is no Node on the PATH; the phone's tests need Node 20 or newer.")
    with subprocess.Popen(
        [program, str(DRIVER)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    ) as process:
        yield Node(process)
        assert process.stdin is not None
        process.stdin.close()


@cache
def phone_modules() -> Path:
    """A folder with the phone's modules as `lowside worker --out` writes them, and in its `tests`
    what answers the tests' questions. Nobody writes there."""
    return _made_once("modules", write_modules)


def _made_once(name: str, make: Callable[[Path], object]) -> Path:
    """A folder with what answers the tests' questions and what `make` adds: made by the first of a
    run's workers that needs it, for all of them. It goes when the tests end."""
    run = os.environ.get(RUN)
    if run is None:
        folder = Path(tempfile.mkdtemp(prefix="lowside-phone-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        _fill_with_tests(folder)
        make(folder)
        return folder
    shared = shared_by_workers(run)
    shared.mkdir(exist_ok=True)
    with (shared / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        folder = shared / name
        if not folder.exists():
            fresh = Path(tempfile.mkdtemp(dir=shared))
            _fill_with_tests(fresh)
            make(fresh)
            fresh.rename(folder)
    return folder


def _fill_with_tests(folder: Path) -> None:
    (folder / "tests").mkdir()
    for script in [*SCRIPTS.glob("*.mjs"), *SCRIPTS.glob("tsconfig*.json")]:
        shutil.copy(script, folder / "tests")
    (folder / "tests" / "node_modules").symlink_to(SCRIPTS / "node_modules")


def answering(name: str) -> Path:
    """A script of `tests/js` beside the modules it asks."""
    return phone_modules() / "tests" / f"{name}.mjs"


BESIDE = """\
import { start } from "../sw/main.js";
import { answer } from "./answers.mjs";
globalThis.start = start;
globalThis.answer = answer;
"""
"""What the phone's script starts from, and what answers beside it."""


@cache
def phone_script() -> Path:
    """The one script that phones run, with what answers the tests' questions as one more of its
    modules; without the data, so that no worker starts."""
    return _made_once("script", write_script) / SCRIPT


def write_script(folder: Path, core_folder: Path = CORE) -> None:
    """The same into a folder with what answers the tests' questions, made from this core."""
    shutil.copytree(ENTRY.parent, folder / "sw")
    (folder / "templates.js").write_text("// The script has `render` already.\n", "utf-8")
    entry = folder / "tests" / "beside.mjs"
    entry.write_text(BESIDE, "utf-8")
    text = bundle(read_core(core_folder), folder, entry, compile_templates(short=True))
    script = folder / SCRIPT
    script.write_bytes(in_ascii(f'"use strict";\n{{\n{shortened(text)}}}\n'))
    asked = 'import "./script.cjs";\nexport const answer = globalThis.answer;\n'
    script.with_suffix(".mjs").write_text(asked, "utf-8")


def script_of(core_folder: Path, folder: Path) -> Path:
    """The phone's script made from another core, into a new folder."""
    folder.mkdir()
    _fill_with_tests(folder)
    write_script(folder, core_folder)
    return folder / SCRIPT


class InBrowser:
    """The same questions put to the script in a page of a browser."""

    every = 10

    def __init__(self, browser: engines.Browser) -> None:
        self._browser = browser

    def ask(self, _module: str, question: Mapping[str, Any]) -> Any:
        """What the script's own `answer` says."""
        return self._browser.evaluate("question => answer(question)", question)


Core = Node | InBrowser
"""Whatever runs the phone's core and answers for it."""

NODE = "node"
READABLE = "readable modules in node"
ENGINES = [
    pytest.param(NODE),
    pytest.param(READABLE),
    *(
        pytest.param(name, marks=pytest.mark.xdist_group("browser"))
        for name in engines.asked_for()
        if name != "chromium"  # Node's engine is Chromium's
    ),
]


@contextmanager
def core_in(engine: str, handbook: Handbook, profile: Path) -> Iterator[Core]:
    """The phone's script in Node or a browser, or its readable modules in Node, with this handbook,
    checked to be the same to the last bit."""
    if engine in (NODE, READABLE):
        script = phone_script().with_suffix(".mjs") if engine == NODE else answering("answers")
        with running_core(script, handbook, 1 if engine == NODE else 10) as node:
            yield node
        return
    files = {
        "/index.html": b'<!doctype html><script src="/script.js"></script>',
        "/script.js": phone_script().read_bytes(),
    }
    with engines.served(files) as site, ExitStack() as running:
        try:
            browser = running.enter_context(engines.opened(engine, profile))
        except engines.NoEngineError as error:
            pytest.fail(f"{error} To test without it: make test ENGINES=chromium", pytrace=False)
        browser.open(site)
        core = InBrowser(browser)
        assert_same(core.ask("core", _handbook_question(handbook)), for_phone(handbook))
        yield core


def _handbook_question(handbook: Handbook) -> dict[str, str]:
    return {"ask": "handbook", "text": phone_handbook(handbook).decode()}


def share(core: Core, sessions: int) -> int:
    """How many of so many sessions are asked for: all of the script in Node, a tenth of a browser
    and of the readable modules."""
    return sessions // core.every


@contextmanager
def running_core(script: Path, handbook: Handbook, every: int = 1) -> Iterator[Node]:
    """A Node with what answers for the core and this handbook, checked to be the same to the last
    bit."""
    with running_node() as node:
        node.every = every
        node.load("core", script)
        assert_same(node.ask("core", _handbook_question(handbook)), for_phone(handbook))
        yield node


def sent(events: list[Event]) -> list[dict[str, Any]]:
    """Events as Node reads them; the data as pairs, because their order counts."""
    return [asdict(event) | {"data": pairs(event.data)} for event in events]


def pairs(data: Mapping[str, str]) -> list[tuple[str, str]]:
    """A mapping in the order it has."""
    return list(data.items())


def exactly(value: Any) -> Any:
    """`dump`, to compare with what Node answers: JSON changes nothing about it."""
    return dump(value)


def differences(
    ours: Any, theirs: Any, where: str = "", names: Sequence[str] = ()
) -> Iterator[str]:
    """Where two dumps differ: a path, Python's value, JavaScript's. `names` are of the values
    when they are a dataclass's."""
    if isinstance(ours, dict) and isinstance(theirs, dict) and ours.keys() == theirs.keys():
        for key in ours:
            yield from differences(ours[key], theirs[key], f"{where}/{key}", _FIELDS.get(key, ()))
    elif isinstance(ours, list) and isinstance(theirs, list) and len(ours) == len(theirs):
        for i, (one, other) in enumerate(zip(ours, theirs, strict=True)):
            named = isinstance(one, list) and len(one) == 2 and isinstance(one[0], str)
            name = names[i] if len(names) == len(ours) else one[0] if named else i
            yield from differences(one, other, f"{where}/{name}")
    elif ours != theirs:
        yield f"{where}: Python {str(ours)[:200]}, JavaScript {str(theirs)[:200]}"


def assert_same(theirs: Any, ours: Any) -> None:
    """`theirs` from Node against `ours` as Python has it, to the last bit."""
    wanted = exactly(ours)
    if theirs != wanted:
        pytest.fail("\n".join(list(differences(wanted, theirs))[:8]))


def bits(value: float) -> str:
    """A double's 64 bits as hex digits."""
    return struct.pack(">d", value).hex()


def dump(value: Any) -> Any:
    """A value of the core in the exact form `dump` in `answers.mjs` gives its other half."""
    kind = type(value)
    # The two commonest first: whole sessions are thousands of them.
    if kind is str:
        return "'" + value
    if kind is float:
        return bits(value)
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return "'" + value
    if isinstance(value, int | float):
        return bits(float(value))
    if isinstance(value, list | tuple):
        return [dump(item) for item in value]
    if isinstance(value, Mapping):
        return {"map": [[dump(key), dump(item)] for key, item in value.items()]}
    if is_dataclass(value) and not isinstance(value, type):
        return {kind.__name__: [dump(getattr(value, name)) for name in _names(kind)]}
    raise TypeError(f"no exact form for {value!r}")


_FIELDS: dict[str, tuple[str, ...]] = {}
"""Dataclasses that were dumped, by name: what `differences` calls their values."""


@cache
def _names(kind: type) -> tuple[str, ...]:
    """A dataclass's fields, in order."""
    _FIELDS[kind.__name__] = tuple(field.name for field in fields(kind))
    return _FIELDS[kind.__name__]
