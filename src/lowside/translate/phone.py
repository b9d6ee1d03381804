"""The phone's program: the core as JavaScript and the worker's own modules, in one script.

`modules` writes readable ES modules, each function with the line of Python it comes from. `bundle`
joins the same modules into the classic script that every browser runs as a service worker.
"""

import hashlib
import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from string import ascii_letters

import rjsmin

from lowside.cache import cache_folder, write_whole
from lowside.rendering import STATIC, TEMPLATES
from lowside.translate.kinds import Core, TranslationError, parse
from lowside.translate.names import SharedNames, ShortNames, safe
from lowside.translate.statements import Line, Written, written
from lowside.translate.templates import compile_templates

CORE = Path(__file__).parents[1] / "core"
RUNTIME = Path(__file__).with_name("runtime.js")
PACKAGE = "lowside.core"
SCRIPTS = STATIC / "js"
ENTRY = SCRIPTS / "sw" / "main.js"

_TEXT = r'"(?:[^"\\]|\\.)*"'
_WORD = re.compile(rf"{_TEXT}|`(?:[^`\\]|\\.)*`|(?<![\w$.])[\w$]+")
"""A text, or a name that is not asked of an object."""
_FILLED_IN = re.compile(r"(?<=\$\{)[^{}]*(?=\})")
"""What a text in backticks has of the code."""
_CONSTANT = re.compile(rf"const (?P<name>[A-Z]\w*) = (?P<value>{_TEXT}|[\d.]+(?:e[-+]?\d+)?);")
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
    kept = cache_folder() / f"phone-{program_key()}.js"
    if not kept.is_file():
        program = bundle(read_core(), SCRIPTS, ENTRY, compile_templates())
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


def write_modules(out: Path, short: bool = False, core_folder: Path = CORE) -> None:
    """The same program as readable ES modules below a folder: `core/`, `sw/` and `templates.js`.

    Args:
        out: where they go; made when it is missing.
        short: with the short names that the worker's script has.
        core_folder: the core that is translated.

    Raises
        TranslationError, TemplateBuildError: a source uses what cannot be translated.
        OSError: the folder cannot be written.
    """
    core = read_core(core_folder)
    texts, imports = _joined(SCRIPTS, ENTRY)
    shared = _shared_names(core, texts) if short else None
    made = modules(core, _wanted(imports), shared)
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


def translated(
    core: Core, entries: Iterable[str], shared: SharedNames | None = None
) -> list[Written]:
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
        module = written(core, core.module(path), shared)
        for needed in _needs(module):
            visit(needed, (*above, path))
        done[path] = module

    for entry in entries:
        visit(entry, ())
    return list(done.values())


def _needs(module: Written) -> list[str]:
    return [*module.spaces.values(), *(where for where, _ in module.imported.values())]


# Readable modules.


def modules(
    core: Core, entries: Iterable[str], shared: SharedNames | None = None
) -> dict[str, str]:
    """File name below a `core/` folder -> text of an ES module."""
    files = {f"{one.path}.js": es_module(one) for one in translated(core, entries, shared)}
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
    for each in module.definitions:
        lines.extend("  " * line.depth + line.text for line in each.lines)
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

    Everything shares one scope. What the hand-written modules import of each other is simply there,
    and a name that two of them define is an error of the script. What the core defines has short
    names of its own, and what nobody needs is left out.

    Raises
        TranslationError: an import that is not known here, or one of `translated`.
    """
    texts, imports = _joined(scripts, entry)
    for one in imports:
        lost = [there for there, _ in one.names if there not in _defined(core, one.source)]
        if lost:
            raise TranslationError(
                f"{one.source}.py:1: a script imports {lost[0]}, not defined there"
            )
    shared = _shared_names(core, texts)
    made = translated(core, _wanted(imports), shared)
    asked = {(one.source, there) for one in imports for there, _ in one.names}
    rendering = _short_in_templates("\n".join(_without_comments(templates.splitlines())))
    called = {(one.path, name): here for one in made for name, here in one.values.items()}
    kept = {here for defined, here in called.items() if defined in asked}
    lines = _in_place(list(needed_lines(made, asked)), kept)
    known = {}
    for one in imports:
        for there, here in one.names:
            name = f"py.{there}" if one.source == "python" else called[one.source, there]
            if name != here:
                known[here] = f"const {here} = {name};\n"
    runtime, exported = _runtime()
    short = dict(zip(exported, ascii_letters, strict=False))
    parts = [
        _all_let([_scope("py", runtime, [f"{here}: {there}" for there, here in short.items()])]),
        *(text if text.endswith("}") else text + "\n" for text in _with_let(lines)),
        *known.values(),
    ]
    program = re.sub(r"\bpy\.(\w+)", lambda call: f"py.{short[call[1]]}", "".join(parts))
    return program + _all_let([_scope("{ render }", [rendering], ["render"]), *texts])


def shortened(script: str) -> str:
    """The same without the spaces, line ends and semicolons it does not need.

    What does it does not know a template in a template, nor a text with `;}`: the core and the
    field templates have none, and the tests compare the parsed trees.
    """
    return str(rjsmin.jsmin(script)).replace(";}", "}") + "\n"


def _shared_names(core: Core, texts: Iterable[str]) -> SharedNames:
    """Names for the whole core, none that the classes or the hand-written modules have."""
    classes = (name for module in core.modules.values() for name in module.classes)
    return SharedNames({*classes, *re.findall(r"[\w$]+", "".join(texts)), *_runtime()[1]})


def needed_lines(made: Sequence[Written], asked: Collection[tuple[str, str]]) -> Iterator[Line]:
    """The lines of all that is asked for and of what that needs, in their order."""
    known = {(module.path, safe(one.name)): one for module in made for one in module.definitions}
    found: set[tuple[str, str]] = set()
    left = [each for each in asked if each in known]
    while left:
        each = left.pop()
        if each not in found:
            found.add(each)
            left.extend((path, safe(name)) for path, name in known[each].needs)
    for each, definition in known.items():
        if each in found:
            yield from (line for line in definition.lines if not line.comment)


def _in_place(lines: Sequence[Line], kept: Collection[str]) -> Iterator[Line]:
    """A number or text that is short, or used once, is written where it is used: a kilobyte and a
    half less to download. The `kept` ones are asked for by name."""
    uses = Counter(word for line in lines for word in _words(line.text))
    values: dict[str, str] = {}
    for line in lines:
        constant = _CONSTANT.fullmatch(line.text) if line.depth == 0 else None
        name = constant["name"] if constant else ""
        if constant and name not in kept and (uses[name] == 2 or len(constant["value"]) <= _SHORT):
            values[name] = constant["value"]
        else:
            yield Line(line.depth, _with_values(line.text, values))


def _words(code: str) -> Iterator[str]:
    for word in _WORD.findall(code):
        if word.startswith("`"):
            for part in _FILLED_IN.findall(word):
                yield from _words(part)
        else:
            yield word


def _with_values(code: str, values: Mapping[str, str]) -> str:
    """These names as values, but never a word that a text in backticks says."""

    def put(word: re.Match[str]) -> str:
        if word[0].startswith("`"):
            return _FILLED_IN.sub(lambda part: _with_values(part[0], values), word[0])
        return values.get(word[0], word[0])

    return _WORD.sub(put, code)


def _short_in_templates(rendering: str) -> str:
    """The templates' functions and variables by short names: half a kilobyte less to download."""
    short = ShortNames("$")
    return re.sub(r"\b(?:(?:macro|page)_field|v)_\w+", lambda name: short.of(name[0]), rendering)


def _all_let(texts: Iterable[str]) -> str:
    """Hand-written code with the same short word. The tests compare what it defines."""
    return re.sub(r"(?m)^const |(?<=[(\s])const (?=[\w\[{])", "let ", "".join(texts))


def _with_let(lines: Iterable[Line]) -> Iterator[str]:
    """One short word makes every name, once for those in a row: nearly a kilobyte less to download.
    The modules that the tests read keep `const`."""
    row = ""
    for line in lines:
        text = re.sub(r"^const |(?<=^for \()const ", "let ", line.text)
        made = text.startswith("let ")
        if row and made:
            row = row.removesuffix(";") + ", " + text.removeprefix("let ")
        elif made:
            row = text
        else:
            yield from filter(None, (row, text))
            row = ""
    yield from filter(None, (row,))


def _defined(core: Core, path: str) -> Sequence[str]:
    if path == "python":
        return _runtime()[1]
    return core.modules[path].values if path in core.modules else ()


def _wanted(imports: Iterable[_Import]) -> list[str]:
    return list(dict.fromkeys(one.source for one in imports if one.source != "python"))


def _runtime() -> tuple[list[str], list[str]]:
    """The runtime's lines, and the names it exports."""
    lines = RUNTIME.read_text(encoding="utf-8").splitlines()
    exported = [line.split()[2].split("(")[0] for line in lines if line.startswith("export ")]
    return list(_without_comments(lines)), exported


def _scope(name: str, lines: Iterable[str], exported: Iterable[str]) -> str:
    """Lines with names of their own: a function that runs once and gives what others use."""
    body = "\n".join(lines)
    return f"const {name} = (() => {{\n{body}\nreturn {{ {', '.join(exported)} }};\n}})();\n"


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
