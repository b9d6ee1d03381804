"""ES modules joined into one classic script: browsers run service workers as such everywhere.

Each module becomes a function that runs once and returns its exports; an import becomes a
destructured constant. Known are exactly the forms this project's modules use:

    import { a, b as c } from "./x.js";      import * as x from "./x.js";
    export const/let/function/class NAME     export async function NAME     export { a, b };

with nothing else on their lines, and each import may run over several lines. Anything else that
begins a line with `import` or `export`, a text in backticks over several lines, and a circle of
imports is an error that names file and line, never a guess. Comments that stand alone on their
lines, types and indentation are left out: a phone downloads this.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

_IMPORT = re.compile(
    r"import\s+(?:\*\s+as\s+(?P<all>\w+)|\{(?P<names>[^}]*)\})\s+from\s+\"(?P<source>[^\"]+)\";\n"
)
_EXPORTED = re.compile(r"export\s+(?P<kind>const|(?:async\s+)?function\*?|class)\s+(?P<name>\w+)")
_EXPORT_LIST = re.compile(r"export\s+\{(?P<names>[^}]*)\};\n")
_NAME = re.compile(r"(?P<name>\w+)(?:\s+as\s+(?P<alias>\w+))?")
_BLOCK_COMMENT = re.compile(r"^[ \t]*/\*(?:[^*]|\*(?!/))*\*/[ \t]*\n", re.MULTILINE)
_TYPE = re.compile(r"/\*\* ?@(?:[^*]|\*(?!/))*\*/ ?")
_INDENT = re.compile(r"^[ \t]+|^\n", re.MULTILINE)
_LINE_COMMENT = re.compile(r"^[ \t]*//[^\n]*\n", re.MULTILINE)


class BundleError(Exception):
    """A module uses a form that is not known here; the message starts with file:line."""


@dataclass(frozen=True)
class _Module:
    body: str
    needs: tuple[str, ...]
    exports: tuple[str, ...]


def bundle(root: Path, entries: Mapping[str, Path], made: Mapping[str, str]) -> str:
    """The script text that defines each entry, in an order in which it can run.

    Args:
        root: folder all modules are in.
        entries: the constant's name in the script -> the module it stands for.
        made: the constant's name -> text of a module that is in no file and imports nothing.

    Raises
        BundleError: a form not known here.
    """
    modules: dict[Path, _Module] = {}
    order: list[Path] = []
    for path in entries.values():
        _visit(root, path.resolve(), modules, order, ())
    parts = [_defined(_variable(root, path), modules[path]) for path in order]
    parts += [_defined(name, _read(name, text, root)) for name, text in made.items()]
    parts += [f"const {name} = {_variable(root, path)};\n" for name, path in entries.items()]
    return "".join(parts)


def in_ascii(script: str) -> bytes:
    """The same script with every other character escaped: browsers read it at every start, and one
    typographic quote doubles what they hold.

    Raises
        BundleError: a character beyond U+FFFF, which has no such escape.
    """
    if max(script) > "\uffff":
        raise BundleError(f"The worker cannot have “{max(script)}” in it.")
    return script.encode("ascii", "backslashreplace")


def _visit(
    root: Path,
    path: Path,
    modules: dict[Path, _Module],
    order: list[Path],
    above: tuple[Path, ...],
) -> None:
    if path in above:
        circle = " → ".join(one.name for one in (*above[above.index(path) :], path))
        raise BundleError(f"{path.name}:1: these modules import each other in a circle: {circle}")
    if path in modules:
        return
    module = _read(path.name, path.read_text(encoding="utf-8"), root, path)
    for source in module.needs:
        _visit(root, Path(source), modules, order, (*above, path))
    modules[path] = module
    order.append(path)


def _read(name: str, text: str, root: Path, path: Path | None = None) -> _Module:
    needs: list[str] = []
    exports: list[str] = []

    def imported(match: re.Match[str]) -> str:
        source = match["source"]
        if path is None or not source.startswith("."):
            raise _error(name, text, match.start(), "an import of a module that is not in a file")
        target = (path.parent / source).resolve()
        needs.append(str(target))
        variable = _variable(root, target)
        if match["all"]:
            return f"const {match['all']} = {variable};\n"
        pairs = [_NAME.fullmatch(one) for one in _listed(match["names"])]
        names = [f"{p['name']}: {p['alias']}" if p["alias"] else p["name"] for p in pairs if p]
        return f"const {{ {', '.join(names)} }} = {variable};\n"

    def exported(match: re.Match[str]) -> str:
        exports.append(match["name"])
        return f"{match['kind']} {match['name']}"

    def export_list(match: re.Match[str]) -> str:
        exports.extend(_listed(match["names"]))
        return ""

    body = re.sub(_at_line_start(_IMPORT), imported, text)
    body = re.sub(_at_line_start(_EXPORT_LIST), export_list, body)
    body = re.sub(_at_line_start(_EXPORTED), exported, body)
    left = re.search(r"^(?:import|export)\b", body, re.MULTILINE)
    if left is not None:
        line = body[left.start() :].split("\n", 1)[0]
        raise _error(name, text, text.find(line), f"“{line}”")
    for left_out in (_BLOCK_COMMENT, _LINE_COMMENT, _TYPE):
        body = left_out.sub("", body)
    for line in body.split("\n"):
        if line.count("`") % 2 == 1:
            raise _error(name, text, text.find(line), "a text in backticks over several lines")
    body = _INDENT.sub("", body)
    return _Module(body, tuple(needs), tuple(exports))


def _at_line_start(pattern: re.Pattern[str]) -> re.Pattern[str]:
    return re.compile("^" + pattern.pattern, re.MULTILINE)


def _listed(names: str) -> list[str]:
    return [name.strip() for name in names.split(",") if name.strip()]


def _defined(variable: str, module: _Module) -> str:
    exports = ", ".join(module.exports)
    return f"const {variable} = (() => {{\n{module.body}return {{ {exports} }};\n}})();\n"


def _variable(root: Path, path: Path) -> str:
    plain = path.relative_to(root.resolve()).with_suffix("").as_posix()
    return "m_" + re.sub(r"\W", "_", plain)


def _error(name: str, text: str, at: int, what: str) -> BundleError:
    return BundleError(f"{name}:{text.count(chr(10), 0, max(at, 0)) + 1}: {what} cannot be bundled")
