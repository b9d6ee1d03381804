"""The phone's program: the core as JavaScript and the worker's own modules, in one script.

`modules` writes readable ES modules, each function with the line of Python it comes from. `bundle`
joins the same modules into the classic script that every browser runs as a service worker.
"""

import ast
import hashlib
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
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
_DEFINED = re.compile(r"^export function (\w+)", re.M)
_EXPORT = re.compile(r"^export (\{[^}]*\};)?", re.M)
_IMPORT = re.compile(r"^import \{(?P<names>[^}]*)\} from \"(?P<source>[^\"]+)\";\n", re.M)


def phone_program() -> str:
    """The worker's script without its data: made when any of its sources changed, else cached.

    Defines `render(template, context)` and `start(made)`; see `static/js/sw/made.js`.

    Raises
        TranslationError, TemplateBuildError: a source uses what cannot be translated.
        OSError: the cache folder cannot be written.
    """
    kept = cache_folder() / f"phone-{program_key()}.js"
    if not kept.is_file():
        program = bundle(read_core(), SCRIPTS, ENTRY, compile_templates(short=True))
        write_whole(kept, shortened(program).encode())
    return kept.read_text(encoding="utf-8")


def program_key() -> str:
    """Changes with everything the program is made of."""
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
    _, asked = joined(SCRIPTS, ENTRY)
    made = modules(read_core(core_folder), _of_core(asked))
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
    names of its own. Its fields and methods have them too: two kilobytes less to download. A number
    or text that is short or used once is written where it is used: a kilobyte and a half less. What
    nobody needs is left out.

    Raises
        TranslationError: an import that is not known here, or one of `modules`.
    """
    modules_of_ours, asked = joined(scripts, entry)
    texts = [_code(text) for text in modules_of_ours]
    runtime = _RUNTIME.read_text(encoding="utf-8")
    exported = _DEFINED.findall(runtime)
    refuse_unknown(core, scripts, entry, asked)
    of_core = {each for each in asked.values() if each[0] != RUNTIME}
    needed = reached(core, of_core)
    values = {
        each: text
        for each, count in needed.items()
        if each not in of_core and (text := _literal(core, *each))
        if count == 1 or len(text) <= _SHORT
    }
    shared = _shared_names(core, texts, values, of_core)
    py = ", ".join(f"{there}: {shared.of(RUNTIME, there)}" for there in exported)
    wanted = {*of_core, *needed} - values.keys()
    lines = [
        line
        for module in in_order(core, _of_core(asked))
        for line in written(core, module, shared, wanted)
    ]
    imported = [
        Line(0, f"{here} = {shared.of(*each)}", "let")
        for here, each in asked.items()
        if shared.of(*each) != here
    ]
    made = (text if text.endswith("}") else text + "\n" for text in _rows([*lines, *imported]))
    return "".join(
        (
            _scope(py, _code(runtime), exported),
            *made,
            _scope("render", _code(templates), ["render"]),
            *texts,
        )
    )


def _literal(core: Core, path: str, name: str) -> str:
    """A constant's text or number as it is written, "" for anything else."""
    module = core.modules[path]
    value = module.constants[name].value if name in module.constants else None
    if isinstance(value, ast.Constant) and type(value.value) in (str, int, float):
        return Atoms(core, module).value(value)
    return ""


def _shared_names(
    core: Core, texts: Iterable[str], values: Mapping[Value, str], of_core: Collection[Value]
) -> SharedNames:
    """Short names that no class and no hand-written module has. Classes keep theirs: errors show
    them. The classes that hand-written modules ask for keep their fields’ names: what the phone
    stores and sends is made of these. Templates read Maps alone."""
    classes = {
        (path, name): one
        for path, module in core.modules.items()
        for name, one in module.classes.items()
    }
    names = {where: safe(where[1]) for where in classes}
    words = set(re.findall(r"[\w$]+", "".join(texts)))
    asked = [classes[where] for where in classes.keys() & set(of_core)]
    stored = {name for one in asked for name in (*one.maker, *one.methods)}
    return SharedNames({*names.values(), *words}, {**names, **values}, words | stored)


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


def _of_core(asked: Mapping[str, Value]) -> list[str]:
    """The modules of the core among these, each once."""
    return list(dict.fromkeys(source for source, _ in asked.values() if source != RUNTIME))


def _scope(names: str, code: str, exported: Iterable[str]) -> str:
    """Code with names of its own: a function that runs once and gives what others use."""
    return f"let {{ {names} }} = (() => {{\n{code}return {{ {', '.join(exported)} }};\n}})();\n"


def joined(scripts: Path, entry: Path) -> tuple[list[str], dict[str, Value]]:
    """The hand-written modules without their imports and exports, each after what it needs, and
    what their names of the core mean.

    Raises
        TranslationError: an import that is not known here.
    """
    texts: list[str] = []
    seen: set[Path] = set()
    asked: dict[str, Value] = {}
    folder = scripts.resolve()

    def visit(path: Path) -> None:
        if path in seen:
            return
        seen.add(path)
        source = path.read_text(encoding="utf-8")
        for one in _imports(folder, path, source):
            for here, meant in one.of_core().items():
                if asked.setdefault(here, meant) != meant:
                    raise one.error(f"`{here}` means something else in another script: rename it")
            if one.is_script(folder):
                visit(folder / one.target)
        rest = _IMPORT.sub("", source)
        texts.append(_EXPORT.sub("", rest))

    visit(entry.resolve())
    return texts, asked


@dataclass(frozen=True)
class _Import:
    """An import of a hand-written module."""

    at: str
    """File, line and what is written there."""
    target: Path
    """Below the folder of the scripts."""
    names: list[list[str]]
    """`[there]`, or `[there, "as", here]`."""

    def of_core(self) -> dict[str, Value]:
        """What its names mean when they are the core's."""
        if self.target.parts[0] != "core":
            return {}
        where = PurePosixPath(*self.target.with_suffix("").parts[1:]).as_posix()
        return {name[-1]: (where, name[0]) for name in self.names}

    def is_script(self, folder: Path) -> bool:
        """Whether it is of another hand-written module, and one that can be joined."""
        if self.target.parts[0] == "core":
            return False
        if not (folder / self.target).is_file():
            raise self.error("there is no such script: import one that is there")
        if any(len(name) > 1 for name in self.names):
            raise self.error("import names of another script as they are, without `as`")
        return True

    def error(self, advice: str) -> TranslationError:
        return TranslationError(f"{self.at}: {advice}")


def _imports(folder: Path, path: Path, source: str) -> Iterator[_Import]:
    """What a hand-written module imports, in order."""
    for found in re.finditer(r"^import\b.*", source, re.M):
        match = _IMPORT.match(source, found.start())
        line = source.count("\n", 0, found.start()) + 1
        said = " ".join((match or found)[0].split())
        at = f"{path.relative_to(folder).as_posix()}:{line}: `{said}`"
        if match is None:
            raise TranslationError(f'{at}: write `import {{ names }} from "./file.js";`')
        target = (path.parent / match["source"]).resolve()
        if folder not in target.parents:
            raise TranslationError(f"{at}: import what is below {folder.name}/")
        names = [name for part in match["names"].split(",") if (name := part.split())]
        yield _Import(at, target.relative_to(folder), names)


def refuse_unknown(core: Core, scripts: Path, entry: Path, asked: Mapping[str, Value]) -> None:
    """Check what the joined scripts ask of the core.

    Raises
        TranslationError: it is not defined there; script, line and what to write.
    """
    known = {path: set(module.defined) for path, module in core.modules.items()}
    known[RUNTIME] = set(_DEFINED.findall(_RUNTIME.read_text(encoding="utf-8")))
    for path, name in asked.values():
        if name not in known.get(path, ()):
            what = f"core/{path} does not define `{name}`" if path in known else "no such module"
            asking = _asking(scripts.resolve(), entry.resolve(), (path, name))
            raise asking.error(f"{what}: import what the core defines")


def _asking(folder: Path, entry: Path, wanted: Value) -> _Import:
    """The import of a joined script that asks for this."""
    paths = [entry]
    for path in paths:
        for one in _imports(folder, path, path.read_text(encoding="utf-8")):
            if wanted in one.of_core().values():
                return one
            if one.is_script(folder) and folder / one.target not in paths:
                paths.append(folder / one.target)
    raise ValueError(wanted)


def _code(source: str) -> str:
    """What a module does, without its comments and without `export`."""
    return str(rjsmin.jsmin(_EXPORT.sub("", source))) + "\n"


def in_ascii(script: str) -> bytes:
    """The same script with every other character escaped: browsers read it at every start, and one
    typographic quote doubles what they hold.

    Raises
        TranslationError: a character beyond U+FFFF, which has no such escape.
    """
    if max(script) > "\uffff":
        raise TranslationError(f"the worker cannot have “{max(script)}” in it")
    return script.encode("ascii", "backslashreplace")
