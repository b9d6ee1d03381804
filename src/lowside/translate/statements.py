"""The core's statements, functions and classes as JavaScript, one module at a time.

Python's local names belong to the function, JavaScript's to the block, so each name is declared
where its first value is given, or above everything that mentions it.
"""

import ast
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from string import ascii_lowercase

from lowside.translate.calls import Calls
from lowside.translate.inference import whole_number
from lowside.translate.kinds import (
    ENDLESS,
    Class,
    Core,
    Kinds,
    Module,
    defined_by,
    element,
    every,
    names,
    one,
)
from lowside.translate.names import SharedNames, ShortNames, safe
from lowside.translate.scopes import Homes, homes, stored_in

_ADVICE = {
    ast.Try: "ask beforehand, and return None or a value that says what is wrong",
    ast.With: "the core opens nothing",
    ast.Match: "write if and elif",
    ast.FunctionDef: "write the function in the module and give it what it needs",
    ast.ClassDef: "write the class in the module",
    ast.Global: "return the value",
    ast.Nonlocal: "return the value",
    ast.Delete: "use .pop(key), or build the list again without it",
    ast.Assert: "raise ValueError",
    ast.Import: "import at the top",
    ast.ImportFrom: "import at the top",
}
_LEAVING = (ast.Return, ast.Raise, ast.Continue, ast.Break)
_CHANGING = (ast.Call, ast.List, ast.Dict, ast.Set, ast.ListComp, ast.DictComp, ast.SetComp)


@dataclass(frozen=True)
class Line:
    """A line of JavaScript."""

    depth: int
    text: str
    word: str = ""
    """`const` or `let` when it makes names; the text is then `name = value`, or the name alone."""

    def __str__(self) -> str:
        return f"{self.word} {self.text};" if self.word else self.text


def written(
    core: Core,
    module: Module,
    shared: SharedNames | None = None,
    wanted: Collection[tuple[str, str]] = (),
) -> list[Line]:
    """Translate one module, or what is wanted of it for a script of many modules.

    Args:
        shared: the names of that script.
        wanted: module and name of each value that the script defines.

    Raises
        TranslationError: something the translator does not know, with file, line and what to write.
    """
    writer = _Writer(core, module, shared)
    for node in module.tree.body:
        name = defined_by(node)
        if shared is None or name not in module.defined or (module.path, name) in wanted:
            writer.top(node)
    return writer.lines


class _Writer(Calls):
    def __init__(self, core: Core, module: Module, shared: SharedNames | None) -> None:
        super().__init__(core, module, shared)
        self.lines: list[Line] = []
        self.depth = 0
        self.homes: Homes = {}
        self.returns: Kinds = frozenset()
        """What the function that is being written gives back."""

    def line(self, text: str, word: str = "") -> None:
        self.lines.append(Line(self.depth, text, word))

    def trace(self, node: ast.FunctionDef | ast.ClassDef) -> None:
        if not self.shared:
            self.line(f"// {self.module.path}.py:{node.lineno}")

    def optional(self, node: ast.FunctionDef) -> None:
        """For the scripts that call it: a parameter that may be left out takes more than `null`."""
        args = node.args.args[len(node.args.args) - len(node.args.defaults) :]
        if args and not self.shared:
            # One comment: of several only the last counts.
            tags = " ".join(f"@param {{any}} [{safe(arg.arg)}]" for arg in args)
            self.line(f"/** {tags} */")

    def top(self, node: ast.stmt) -> None:
        """A statement of the module itself."""
        self.inner_names = ShortNames(ascii_lowercase)
        if isinstance(node, ast.FunctionDef):
            self.trace(node)
            self.optional(node)
            self.function(node, "function " + self.outer(node.name), None)
        elif isinstance(node, ast.ClassDef):
            self.trace(node)
            self.class_(self.module.classes[node.name])
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            name = defined_by(node)
            if name in self.module.aliases:
                return
            if name == "" or node.value is None:
                raise self.error(node, "a module gives one name one value")
            self.line(f"{self.outer(name)} = {self.value(node.value)}", "const")
        elif not (isinstance(node, ast.Import | ast.ImportFrom) or _is_text(node)):
            raise self.error(node, "a module defines functions, classes and constants only")

    # Classes and functions.

    def class_(self, owner: Class) -> None:
        node = owner.node
        if node.bases or node.keywords:
            raise self.error(node, "classes inherit nothing")
        self._check_class(owner)
        self.line(f"class {safe(node.name)} {{")
        self.depth += 1
        if "__init__" not in owner.methods:
            self._maker(owner)
        for method in owner.methods.values():
            self.inner_names = ShortNames(ascii_lowercase)
            self.trace(method)
            getter = "get " if owner.is_property(method.name) else ""
            name = "constructor" if method.name == "__init__" else self.member(method.name)
            self.function(method, getter + name, owner)
        self.depth -= 1
        self.line("}")

    def _check_class(self, owner: Class) -> None:
        for decorator in owner.node.decorator_list:
            if ast.unparse(decorator) not in ("dataclass", "dataclass(frozen=True)"):
                raise self.error(decorator, "a class is a @dataclass, or @dataclass(frozen=True)")
        if owner.is_dataclass == ("__init__" in owner.methods):
            raise self.error(owner.node, "a class is a dataclass or has an __init__")
        for part in owner.node.body:
            if not isinstance(part, ast.AnnAssign | ast.FunctionDef | ast.Pass | ast.Expr):
                raise self.error(part, "a class has annotated fields and methods only")
        for name in [*map(stored_in, (part.target for part in owner.fields)), list(owner.methods)]:
            for each in name:
                special = each.startswith("__") and each != "__init__"
                if special or each == "constructor":
                    raise self.error(owner.node, f"`{each}` means something of its own: rename it")

    def _maker(self, owner: Class) -> None:
        takes = []
        for part, name in zip(owner.fields, owner.maker, strict=True):
            default = part.value
            if isinstance(default, ast.Call):
                if [each.arg for each in default.keywords] != ["default_factory"]:
                    raise self.error(default, "use field(default_factory=dict) or a plain default")
                made = ast.Call(default.keywords[0].value, [], [])
                default = ast.copy_location(made, default)
            wanted = self.core.annotated(self.module, part.annotation)
            value = f" = {self.fitting(default, wanted)}" if default else ""
            takes.append(self.local(name) + value)
        self.line(f"constructor({', '.join(takes)}) {{")
        self.depth += 1
        for name in owner.maker:
            self.line(f"this.{self.member(name)} = {self.local(name)};")
        self.depth -= 1
        self.line("}")

    def function(self, node: ast.FunctionDef, head: str, owner: Class | None) -> None:
        """A function or method; `head` is what comes before its parameters."""
        args = node.args
        if args.vararg or args.kwarg or args.kwonlyargs or args.posonlyargs:
            raise self.error(node, "parameters are plain: no * and no **")
        for decorator in node.decorator_list:
            if not (owner and owner.is_property(node.name)):
                raise self.error(decorator, "the only decorator of a function is @property")
        takes = args.args[1:] if owner else args.args
        if [arg.arg for arg in args.args].count("self") != (1 if owner else 0):
            raise self.error(node, "`self` is the first parameter of a method and of nothing else")
        for arg in takes:
            if arg.annotation is None:
                raise self.error(node, f"annotate the parameter `{arg.arg}`")
        for default in args.defaults:
            if any(isinstance(part, _CHANGING) for part in ast.walk(default)):
                raise self.error(default, "Python makes a default once: use None or a constant")
        self._check_end(node)
        plain = len(takes) - len(args.defaults)
        texts = [self.local(arg.arg) for arg in takes]
        for i, default in enumerate(args.defaults, plain):
            wanted = self.core.annotated(self.module, takes[i].annotation)
            texts[i] += f" = {self.fitting(default, wanted)}"
        self.line(f"{head}({', '.join(texts)}) {{")
        self.kinds.enter(node, owner)
        self.homes = homes(node)
        self.block(node.body)
        self.kinds.leave()
        self.line("}")

    def _check_end(self, node: ast.FunctionDef) -> None:
        """JavaScript gives `undefined` where a function ends without `return`."""
        if node.returns is None and node.name != "__init__":
            raise self.error(node, "annotate what it returns")
        self.returns = self.core.annotated(self.module, node.returns)
        gives = node.name != "__init__" and every(self.returns) != {"None"}
        if gives and not _ends(node.body):
            raise self.error(node, "end it with `return` or `raise`, on each way through")

    def block(self, body: Sequence[ast.stmt]) -> None:
        self.depth += 1
        for node in body:
            for name, word in self.homes.get(id(node), {}).items():
                if word == "above":
                    self.line(self.local(name), "let")
            self.statement(node)
        self.depth -= 1

    # Statements.

    def statement(self, node: ast.stmt) -> None:
        if isinstance(node, ast.Pass) or _is_text(node):
            return
        name = f"_do_{type(node).__name__.lower()}"
        method = getattr(self, name, None)
        if method is None:
            advice = _ADVICE.get(type(node), "a statement the translator does not know")
            raise self.error(node, advice)
        method(node)

    def _do_expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Call):
            raise self.error(node, f"`{self.value(node.value)}` does nothing: leave it out")
        self.line(self.called(node.value) + ";")

    def _do_return(self, node: ast.Return) -> None:
        text = self.fitting(node.value, self.returns) if node.value else "null"
        self.line(f"return {text};")

    def _do_continue(self, _node: ast.Continue) -> None:
        self.line("continue;")

    def _do_break(self, _node: ast.Break) -> None:
        self.line("break;")

    def _do_raise(self, node: ast.Raise) -> None:
        made = node.exc if isinstance(node.exc, ast.Call) else None
        if node.cause or made is None or ast.unparse(made.func) != "ValueError":
            raise self.error(node, "raise ValueError with one sentence")
        if len(made.args) != 1 or made.keywords or not self.kinds.only(made.args[0], "str"):
            raise self.error(node, "raise ValueError with one sentence")
        self.line(f"throw new Error({self.value(made.args[0])});")

    def _do_assign(self, node: ast.Assign) -> None:
        if len(node.targets) != 1:
            raise self.error(node, "assign to one name at a time")
        kinds = self.kinds.of(node.value)
        self.assign(node, node.targets[0], self.value(node.value), kinds)

    def _do_annassign(self, node: ast.AnnAssign) -> None:
        if node.value is None:
            raise self.error(node, "give the name its value where it is annotated")
        wanted = self.core.annotated(self.module, node.annotation)
        self.assign(node, node.target, self.fitting(node.value, wanted))

    def _do_augassign(self, node: ast.AugAssign) -> None:
        if names(self.kinds.of(node.target)) & {"list", "dict"}:
            raise self.error(node, "extend a list with .extend; merge dicts into a new name")
        if any(isinstance(part, ast.Call) for part in ast.walk(node.target)):
            raise self.error(node, "what is called there is called twice; give it a name")
        value = ast.copy_location(ast.BinOp(node.target, node.op, node.value), node)
        self.assign(node, node.target, self.value(value))

    def assign(
        self, node: ast.stmt, target: ast.expr, value: str, kinds: Kinds | None = None
    ) -> None:
        if isinstance(target, ast.Subscript):
            self._put(node, target, value)
            return
        if isinstance(target, ast.Attribute):
            self.line(f"{self.value(target)} = {value};")
            return
        kinds = kinds or frozenset()
        count = len(target.elts) if isinstance(target, ast.Tuple) else 0
        if count and (names(kinds) == {"list"} or {kind.of for kind in kinds} == {ENDLESS}):
            value = f"{self.py['parts']}({value}, {count})"
            kinds = one("tuple", *[element(kinds)] * count)
        self.unpacked(target, kinds)
        here = self.homes.get(id(node), {})
        words = {here.get(name, "above") for name in stored_in(target)}
        if words <= {"const", "let"}:
            self.line(f"{self.value(target)} = {value}", max(words))
            return
        self._declare_apart(node, target)
        self.line(f"{self.value(target)} = {value};")

    def _declare_apart(self, node: ast.stmt, target: ast.expr) -> None:
        """Names of a target whose other names are declared elsewhere."""
        here = self.homes.get(id(node), {})
        for name in stored_in(target):
            if here.get(name) in ("const", "let"):
                self.line(self.local(name), "let")

    def _put(self, node: ast.stmt, target: ast.Subscript, value: str) -> None:
        owner, place = self.inner(target.value), target.slice
        if names(self.kinds.of(target.value)) == {"dict"}:
            self.plain_key(place)
            self.line(f"{owner}.set({self.value(place)}, {value});")
        elif self.kinds.only(target.value, "list") and self.kinds.only(place, "int"):
            self.line(f"{self.py['put']}({owner}, {self.value(place)}, {value});")
        else:
            raise self.error(node, "assign to a place in a list or a dict: annotate it so")

    def _do_if(self, node: ast.If, word: str = "if") -> None:
        head = f"{word} ({self.test(node.test)})"
        if word == "if" and not node.orelse and isinstance(node.body[0], _LEAVING):
            self.statement(node.body[0])
            self.lines[-1] = Line(self.depth, f"{head} {self.lines[-1].text}")
            return
        self.line(head + " {")
        self.block(node.body)
        last = node.orelse[0] if len(node.orelse) == 1 else None
        if isinstance(last, ast.If) and id(last) not in self.homes:
            self._do_if(last, "} else if")
            return
        if node.orelse:
            self.line("} else {")
            self.block(node.orelse)
        self.line("}")

    def _do_while(self, node: ast.While) -> None:
        if node.orelse:
            raise self.error(node, "loops have no else")
        self.line(f"while ({self.test(node.test)}) {{")
        self.block(node.body)
        self.line("}")

    def _do_for(self, node: ast.For) -> None:
        if node.orelse:
            raise self.error(node, "loops have no else")
        if _is_range(node.iter) and isinstance(node.target, ast.Name):
            self._counting(node, self.value(node.target))
            return
        self.unpacked(node.target, element(self.kinds.of(node.iter)))
        here = self.homes.get(id(node), {})
        words = {here.get(name, "above") for name in stored_in(node.target)}
        head = self.value(node.target)
        if words <= {"const", "let"}:
            head = f"{'let' if self.shared else max(words)} {head}"
        else:
            self._declare_apart(node, node.target)
        self.line(f"for ({head} of {self.iterated(node.iter)}) {{")
        self.block(node.body)
        self.line("}")

    def _counting(self, node: ast.For, name: str) -> None:
        """`for i in range(…)`, without an array of the numbers."""
        assert isinstance(node.iter, ast.Call)
        args = node.iter.args
        if self.homes.get(id(node), {}).get(stored_in(node.target)[0]) not in ("let", "const"):
            raise self.error(node, "a counter belongs to its loop; keep its last value elsewhere")
        if any(stored_in(node.target)[0] in stored_in(part) for part in node.body):
            raise self.error(node, "a loop's counter is not assigned to in it")
        self._checked(node.iter, [frozenset({"int"})] * min(max(len(args), 1), 3))
        start = self.value(args[0]) if len(args) > 1 else "0"
        end = args[0] if len(args) == 1 else args[1]
        step = whole_number(args[2]) if len(args) == 3 else 1
        if not step:
            raise self.error(node, "a step is a whole number written out")
        limit = self.value(end)
        first = f"let {name} = {start}"
        if whole_number(end) is None:
            limit = f"{name}$end"
            first += f", {limit} = {self.value(end)}"
        sign, move = ("<", f"+= {step}") if step > 0 else (">", f"-= {-step}")
        self.line(f"for ({first}; {name} {sign} {limit}; {name} {move}) {{")
        self.block(node.body)
        self.line("}")


def _ends(block: Sequence[ast.stmt]) -> bool:
    """Whether a block never runs on behind itself."""
    last = block[-1] if block else None
    if isinstance(last, ast.If):
        return _ends(last.body) and _ends(last.orelse)
    return isinstance(last, ast.Return | ast.Raise)


def _is_text(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _is_range(node: ast.expr) -> bool:
    return (
        isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "range"
    )
