"""The phone's program: the core as JavaScript and the worker's own modules, in one script.

`modules` writes readable ES modules, each function with the line of Python it comes from. `bundle`
joins the same modules into the classic script that every browser runs as a service worker.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from lowside.cache import cache_folder, write_whole
from lowside.rendering import STATIC, TEMPLATES
from lowside.translate.kinds import Core, TranslationError, parse
from lowside.translate.statements import Written, written
from lowside.translate.templates import compile_templates

CORE = Path(__file__).parents[1] / "core"
RUNTIME = Path(__file__).with_name("runtime.js")
PACKAGE = "lowside.core"
SCRIPTS = STATIC / "js"
ENTRY = SCRIPTS / "sw" / "main.js"

_IMPORT = re.compile(
    r"import (?:\* as (?P<all>\w+)|\{(?P<names>[^}]*)\}) from \"(?P<source>[^\"]+)\";\n", re.M
)


@dataclass(frozen=True)
class _Import:
    """An import of a hand-written module: names as (there, here); `all` is the whole module."""

    source: str
    names: Sequence[tuple[str, str]]
    all: str


def phone_program() -> str:
    """The worker's script without its data: made when any of its sources changed, else cached.

    Defines `render(template, context)` and `start(made)`; see `static/js/sw/made.js`.

    Raises
        TranslationError, TemplateBuildError: a source uses what cannot be translated.
        OSError: the cache folder cannot be written.
    """
    kept = cache_folder() / f"phone-{_key()}.js"
    if not kept.is_file():
        program = bundle(read_core(), SCRIPTS, ENTRY, compile_templates())
        write_whole(kept, program.encode())
    return kept.read_text(encoding="utf-8")


def _key() -> str:
    digest = hashlib.sha256()
    for folder in (CORE, Path(__file__).parent, SCRIPTS, TEMPLATES):
        for file in sorted(folder.rglob("*.*")):
            if file.suffix in (".py", ".js", ".html"):
                digest.update(str(file.relative_to(folder)).encode())
                digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


def write_modules(out: Path, short: bool = False, core_folder: Path = CORE) -> None:
    """The same program as readable ES modules below a folder: `core/`, `sw/` and `templates.js`.

    Args:
        out: where they go; made when it is missing.
        short: with the short local names that the worker's script has.
        core_folder: the core that is translated.

    Raises
        TranslationError, TemplateBuildError: a source uses what cannot be translated.
        OSError: the folder cannot be written.
    """
    core = read_core(core_folder)
    _, imports = _joined(SCRIPTS, ENTRY)
    files = {f"core/{name}": text for name, text in modules(core, _wanted(imports), short).items()}
    files["templates.js"] = compile_templates()
    for file in sorted(SCRIPTS.rglob("*.js")):
        files[file.relative_to(SCRIPTS).as_posix()] = file.read_text(encoding="utf-8")
    files["package.json"] = '{"type": "module"}\n'
    for name, text in files.items():
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


def read_core(folder: Path = CORE) -> Core:
    """Every module of the core, parsed."""
    modules = {}
    for file in sorted(folder.rglob("*.py")):
        path = file.relative_to(folder).with_suffix("").as_posix()
        if file.stem != "__init__":
            modules[path] = parse(path, file.read_text(encoding="utf-8"), PACKAGE)
    return Core(modules)


def translated(core: Core, entries: Iterable[str], short: bool = False) -> list[Written]:
    """These modules of the core and all they need, each after what it needs.

    Raises
        TranslationError: the core uses what is not known here; file, line and what to write.
    """
    done: dict[str, Written] = {}

    def visit(path: str, above: tuple[str, ...]) -> None:
        if path in above:
            raise TranslationError(f"{path}.py:1: these import each other: {' → '.join(above)}")
        if path in done:
            return
        module = written(core, core.module(path), short)
        for needed in _needs(module):
            visit(needed, (*above, path))
        done[path] = module

    for entry in entries:
        visit(entry, ())
    return list(done.values())


def _needs(module: Written) -> list[str]:
    return [*module.spaces.values(), *(where for where, _ in module.imported.values())]


# Readable modules.


def modules(core: Core, entries: Iterable[str], short: bool = False) -> dict[str, str]:
    """File name below a `core/` folder -> text of an ES module."""
    files = {f"{one.path}.js": es_module(one) for one in translated(core, entries, short)}
    return {"python.js": RUNTIME.read_text(encoding="utf-8"), **files}


def es_module(module: Written) -> str:
    """One module of the core, as it can be read and imported."""
    up = "../" * module.path.count("/") or "./"
    lines = [f"// Made from src/lowside/core/{module.path}.py. Change that, not this."]
    lines.append("// @ts-nocheck: its types are checked where it is written.")
    lines.append(f'import * as py from "{up}python.js";')
    for name, where in module.spaces.items():
        lines.append(f'import * as {name} from "{up}{where}.js";')
    for where, pairs in _by_module(module.imported).items():
        lines.append(f'import {{ {_renamed(pairs, " as ")} }} from "{up}{where}.js";')
    lines.append("")
    lines.extend("  " * line.depth + line.text for line in module.lines)
    pairs = [(here, there) for there, here in module.values.items()]
    lines.append(f"\nexport {{ {_renamed(pairs, ' as ')} }};\n")
    return "\n".join(lines)


def _by_module(imported: Mapping[str, tuple[str, str]]) -> dict[str, list[tuple[str, str]]]:
    found: dict[str, list[tuple[str, str]]] = {}
    for local, (where, original) in imported.items():
        found.setdefault(where, []).append((original, local))
    return found


def _renamed(pairs: Iterable[tuple[str, str]], sign: str) -> str:
    return ", ".join(there if there == here else there + sign + here for there, here in pairs)


# The one script.


def bundle(core: Core, scripts: Path, entry: Path, templates: str) -> str:
    """The worker as one classic script.

    Args:
        core: what `read_core` gives.
        scripts: the folder of the hand-written modules; `core/` is imagined inside it.
        entry: the module that starts the worker.
        templates: the module that defines `render`.

    The hand-written modules share one scope: what they import of each other is simply there, and a
    name that two of them define is an error of the script. A module of the core keeps its own.

    Raises
        TranslationError: an import that is not known here, or one of `translated`.
    """
    texts, imports = _joined(scripts, entry)
    wanted: dict[str, set[str]] = {}
    for one in imports:
        names = wanted.setdefault(one.source, set())
        names.update(there for there, _ in one.names)
        names.update(core.modules[one.source].values if one.all and one.source != "python" else ())
    for one in imports:
        lost = [there for there, _ in one.names if there not in _defined(core, one.source)]
        if lost:
            raise TranslationError(
                f"{one.source}.py:1: a script imports {lost[0]}, not defined there"
            )
    parts = [_runtime_scope()]
    made = translated(core, _wanted(imports), short=True)
    for module in made:
        for where, pairs in _by_module(module.imported).items():
            wanted.setdefault(where, set()).update(there for there, _ in pairs)
        for where in module.spaces.values():
            wanted.setdefault(where, set()).update(core.modules[where].values)
    for module in made:
        parts.append(_core_scope(module, wanted.get(module.path, set())))
    known: dict[str, str] = {}
    for one in imports:
        for there, here in one.names:
            known[here] = f"const {here} = {_variable(one.source)}.{there};\n"
        if one.all:
            known[one.all] = f"const {one.all} = {_variable(one.source)};\n"
    rendering = "\n".join(_without_comments(templates.splitlines()))
    parts.append(f"const {{ render }} = (() => {{\n{rendering}\nreturn {{ render }};\n}})();\n")
    return "".join([*parts, *known.values(), *texts])


def _defined(core: Core, path: str) -> Sequence[str]:
    if path == "python":
        return _exported(RUNTIME.read_text(encoding="utf-8").splitlines())
    return core.modules[path].values if path in core.modules else ()


def _wanted(imports: Iterable[_Import]) -> list[str]:
    return list(dict.fromkeys(one.source for one in imports if one.source != "python"))


def _core_scope(module: Written, exported: set[str]) -> str:
    lines = [f"const py = {_variable('python')};"]
    lines += [f"const {name} = {_variable(where)};" for name, where in module.spaces.items()]
    for where, pairs in _by_module(module.imported).items():
        lines.append(f"const {{ {_renamed(pairs, ': ')} }} = {_variable(where)};")
    lines += [line.text for line in module.lines if not line.comment]
    given = [(there, here) for there, here in module.values.items() if there in exported]
    return _scope(module.path, lines, _renamed(given, ": "))


def _runtime_scope() -> str:
    lines = RUNTIME.read_text(encoding="utf-8").splitlines()
    return _scope("python", _without_comments(lines), ", ".join(_exported(lines)))


def _exported(lines: Sequence[str]) -> list[str]:
    return [line.split()[2].split("(")[0] for line in lines if line.startswith("export ")]


def _scope(path: str, lines: Iterable[str], exported: str) -> str:
    """A module as a function that runs once and gives back what others use."""
    body = "\n".join(lines)
    return f"const {_variable(path)} = (() => {{\n{body}\nreturn {{ {exported} }};\n}})();\n"


def _variable(path: str) -> str:
    return "m$" + path.replace("/", "$")


def _joined(scripts: Path, entry: Path) -> tuple[list[str], list[_Import]]:
    """The hand-written modules, each after what it needs, and what they want of the core."""
    texts: list[str] = []
    seen: set[Path] = set()
    imports: list[_Import] = []

    def visit(path: Path) -> None:
        if path in seen:
            return
        seen.add(path)
        source = path.read_text(encoding="utf-8")
        for match in _IMPORT.finditer(source):
            target = (path.parent / match["source"]).resolve()
            below = target.relative_to(scripts.resolve()).with_suffix("")
            if below.parts[0] == "core":
                names = [name.strip() for name in (match["names"] or "").split(",")]
                pairs = [(name.split()[0], name.split()[-1]) for name in names if name]
                where = PurePosixPath(*below.parts[1:]).as_posix()
                imports.append(_Import(where, pairs, match["all"] or ""))
            elif match["names"] is None or " as " in match["names"]:
                raise TranslationError(
                    f"{path.name}: import names of {match['source']} as they are"
                )
            else:
                visit(target)
        lines = _without_comments(_IMPORT.sub("", source).splitlines())
        texts.append("".join(line + "\n" for line in lines))

    visit(entry.resolve())
    return texts, imports


def _without_comments(lines: Iterable[str]) -> Iterator[str]:
    """Lines that do something, without indentation: a phone downloads this."""
    inside = False
    for line in lines:
        text = line.strip().removeprefix("export ")
        inside = inside or text.startswith("/*")
        if inside and "*/" in text:
            inside = False
            text = text.split("*/", 1)[1].strip()
        if inside or text == "" or text.startswith("//"):
            continue
        if text.count("`") % 2:
            raise TranslationError(f"a text in backticks over several lines: {text}")
        yield text


def in_ascii(script: str) -> bytes:
    """The same script with every other character escaped: browsers read it at every start, and one
    typographic quote doubles what they hold.

    Raises
        TranslationError: a character beyond U+FFFF, which has no such escape.
    """
    if max(script) > "\uffff":
        raise TranslationError(f"the worker cannot have “{max(script)}” in it")
    return script.encode("ascii", "backslashreplace")
