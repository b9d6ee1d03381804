"""The phone's program: the core as JavaScript and the worker's own modules, in one script.

`modules` writes readable ES modules, each function with the line of Python it comes from. `bundle`
joins the same modules into the classic script that every browser runs as a service worker.
"""

import ast
import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path, PurePosixPath

import rjsmin

from lowside.cache import cache_folder, write_whole
from lowside.rendering import STATIC, TEMPLATES
from lowside.translate.atoms import Atoms
from lowside.translate.kinds import Core, Module, TranslationError, parse
from lowside.translate.names import RUNTIME, SharedNames, safe
from lowside.translate.reach import Value, in_order, reached
from lowside.translate.scopes import read_in
from lowside.translate.statements import Line, written
from lowside.translate.templates import compile_templates

CORE = Path(__file__).parents[1] / "core"
_RUNTIME = Path(__file__).with_name("runtime.js")
PACKAGE = "lowside.core"
SCRIPTS = STATIC / "js"
ENTRY = SCRIPTS / "sw" / "main.js"

_SHORT = 12
"""Up to so many characters a constant packs better where it is used than its name does: tried."""
_IMPORT = re.compile(r"^import \{(?P<names>[^}]*)\} from \"(?P<source>[^\"]+)\";\n", re.M)


@dataclass(frozen=True)
class _Import:
    """An import of a hand-written module: names as (there, here)."""

    source: str
    names: Sequence[tuple[str, str]]


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
        write_whole(kept, shortened(program).encode())
    return kept.read_text(encoding="utf-8")


def _key() -> str:
    digest = hashlib.sha256()
    for folder in (CORE, Path(__file__).parent, SCRIPTS, TEMPLATES):
        for file in sorted(folder.rglob("*.*")):
            if file.suffix in (".py", ".js", ".html"):
                digest.update(str(file.relative_to(folder)).encode())
                digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


def write_modules(out: Path, core_folder: Path = CORE) -> None:
    """The same program as readable ES modules below a folder: `core/`, `sw/` and `templates.js`.

    Args:
        out: where they go; made when it is missing.
        core_folder: the core that is translated.

    Raises
        TranslationError, TemplateBuildError: a source uses what cannot be translated.
        OSError: the folder cannot be written.
    """
    _, imports = _joined(SCRIPTS, ENTRY)
    made = modules(read_core(core_folder), _wanted(imports))
    files = {f"core/{name}": text for name, text in made.items()}
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


# Readable modules.


def modules(core: Core, entries: Iterable[str]) -> dict[str, str]:
    """File name below a `core/` folder -> text of an ES module: these and all they need.

    Raises
        TranslationError: the core uses what is not known here; file, line and what to write.
    """
    files = {f"{one.path}.js": es_module(core, one) for one in in_order(core, entries)}
    return {f"{RUNTIME}.js": _RUNTIME.read_text(encoding="utf-8"), **files}


def es_module(core: Core, module: Module) -> str:
    """One module of the core, as it can be read and imported."""
    up = "../" * module.path.count("/") or "./"
    body = ["  " * line.depth + str(line) for line in written(core, module)]
    used = {name for node in module.defined.values() for name in read_in(node)}
    lines = [f"// Made from src/lowside/core/{module.path}.py. Change that, not this."]
    lines.append("// @ts-nocheck: its types are checked where it is written.")
    lines.append(f'import * as py from "{up}{RUNTIME}.js";')
    for name, where in module.spaces.items():
        if name in used:
            lines.append(f'import * as {safe(name)} from "{up}{where}.js";')
    by_module: dict[str, list[str]] = {}
    for name, (where, original) in module.imported.items():
        if name in used:
            same = safe(original) == safe(name)
            text = safe(name) if same else f"{safe(original)} as {safe(name)}"
            by_module.setdefault(where, []).append(text)
    for where, names in by_module.items():
        lines.append(f'import {{ {", ".join(names)} }} from "{up}{where}.js";')
    lines += ["", *body, f"\nexport {{ {', '.join(map(safe, module.defined))} }};\n"]
    return "\n".join(lines)


# The one script.


def bundle(core: Core, scripts: Path, entry: Path, templates: str) -> str:
    """The worker as one classic script.

    Args:
        core: what `read_core` gives.
        scripts: the folder of the hand-written modules; `core/` is imagined inside it.
        entry: the module that starts the worker.
        templates: the module that defines `render`.

    Everything shares one scope. What the hand-written modules import of each other is simply there,
    and a name that two of them define is an error of the script. What the core defines has short
    names of its own. A number or text that is short or used once is written where it is used: a
    kilobyte and a half less to download. What nobody needs is left out.

    Raises
        TranslationError: an import that is not known here, or one of `modules`.
    """
    texts, imports = _joined(scripts, entry)
    runtime, exported = _runtime()
    asked = {(one.source, there): here for one in imports for there, here in one.names}
    of_core = {each: here for each, here in asked.items() if each[0] != RUNTIME}
    for source, there in asked:
        known = exported if source == RUNTIME else core.module(source).defined
        if there not in known:
            raise TranslationError(f"{source}.py:1: a script imports {there}, not defined there")
    needed = reached(core, of_core)
    values = {
        each: text
        for each, count in needed.items()
        if each not in asked and (text := _literal(core, *each))
        if count == 1 or len(text) <= _SHORT
    }
    shared = _shared_names(core, texts, values)
    py = [f"{there}: {shared.of(RUNTIME, there)}" for there in exported]
    wanted = {*of_core, *needed} - values.keys()
    lines = [
        line
        for module in in_order(core, _wanted(imports))
        for line in written(core, module, shared, wanted)
    ]
    imported = [
        Line(0, f"{here} = {shared.of(*each)}", "let")
        for each, here in asked.items()
        if shared.of(*each) != here
    ]
    return "".join(
        (
            _all_let([_scope(py, runtime, exported)]),
            *(text if text.endswith("}") else text + "\n" for text in _rows([*lines, *imported])),
            _scope(["render"], _without_comments(templates.splitlines()), ["render"]),
            _all_let(texts),
        )
    )


def _literal(core: Core, path: str, name: str) -> str:
    """A constant's text or number as it is written, "" for anything else."""
    module = core.modules[path]
    value = module.constants[name].value if name in module.constants else None
    if isinstance(value, ast.Constant) and type(value.value) in (str, int, float):
        return Atoms(core, module).value(value)
    return ""


def _shared_names(core: Core, texts: Iterable[str], values: Mapping[Value, str]) -> SharedNames:
    """Short names that no class and no hand-written module has. Classes keep theirs: errors show
    them."""
    classes = {
        (path, name): safe(name) for path, module in core.modules.items() for name in module.classes
    }
    words = re.findall(r"[\w$]+", "".join(texts))
    return SharedNames({*classes.values(), *words}, {**classes, **values})


def _rows(lines: Iterable[Line]) -> Iterator[str]:
    """One short word makes every name, once for those in a row: nearly a kilobyte less to download.
    The readable modules keep `const`."""
    for makes_names, row in groupby(lines, key=lambda line: line.word != ""):
        texts = [line.text for line in row]
        yield from [f"let {', '.join(texts)};"] if makes_names else texts


def shortened(script: str) -> str:
    """The same without the spaces, line ends and semicolons it does not need.

    What does it does not know a template in a template, nor a text with `;}`: the core and the
    field templates have none, and the tests compare the parsed trees.
    """
    return str(rjsmin.jsmin(script)).replace(";}", "}") + "\n"


def _all_let(texts: Iterable[str]) -> str:
    """Hand-written code with the same short word. The tests compare what it defines."""
    return re.sub(r"(?m)^const |(?<=[(\s])const (?=[\w\[{])", "let ", "".join(texts))


def _wanted(imports: Iterable[_Import]) -> list[str]:
    return list(dict.fromkeys(one.source for one in imports if one.source != RUNTIME))


def _runtime() -> tuple[list[str], list[str]]:
    """The runtime's lines, and the names it exports."""
    lines = _RUNTIME.read_text(encoding="utf-8").splitlines()
    exported = [line.split()[2].split("(")[0] for line in lines if line.startswith("export ")]
    return list(_without_comments(lines)), exported


def _scope(names: Iterable[str], lines: Iterable[str], exported: Iterable[str]) -> str:
    """Lines with names of their own: a function that runs once and gives what others use."""
    body = "\n".join(lines)
    given = f"return {{ {', '.join(exported)} }};"
    return f"let {{ {', '.join(names)} }} = (() => {{\n{body}\n{given}\n}})();\n"


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
                names = [name.strip() for name in match["names"].split(",")]
                pairs = [(name.split()[0], name.split()[-1]) for name in names if name]
                where = PurePosixPath(*below.parts[1:]).as_posix()
                imports.append(_Import(where, pairs))
            elif " as " in match["names"]:
                raise TranslationError(
                    f"{path.name}: import names of {match['source']} as they are"
                )
            else:
                visit(target)
        rest = _IMPORT.sub("", source)
        unknown = re.search(r"^import\b.*", rest, re.M)
        if unknown:
            raise TranslationError(f"{path.name}: `{unknown[0]}`: import names, in braces")
        lines = _without_comments(rest.splitlines())
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
        if inside or text == "" or text.startswith("//") or line.startswith("export {"):
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
