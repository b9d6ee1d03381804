"""The core's statements, functions and classes as JavaScript, one module at a time.

Python's local names belong to the function, JavaScript's to the block, so each name is declared
where its first value is given, or above everything that mentions it.
"""

import ast
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from lowside.translate.calls import Calls
from lowside.translate.expressions import safe
from lowside.translate.kinds import DICT, LIST, Class, Core, Module, names

Homes = Mapping[int, Mapping[str, str]]
"""Statement -> local name declared there -> `const`, `let`, or `above` for a line of its own."""

_LOOPS = (ast.For, ast.While)


@dataclass(frozen=True)
class Line:
    """A line of JavaScript; `comment` when it says where it comes from."""

    depth: int
    text: str
    comment: bool = False


@dataclass(frozen=True)
class Written:
    """A module in JavaScript, without its imports and exports."""

    path: str
    lines: Sequence[Line]
    spaces: Mapping[str, str]
    """Local name -> the module it stands for."""
    imported: Mapping[str, tuple[str, str]]
    """Local name -> module and the name it has there."""
    values: Sequence[str]
    """What it defines that others may import."""


def written(core: Core, module: Module) -> Written:
    """Translate one module.

    Raises
        TranslationError: something the translator does not know, with file, line and what to write.
    """
    writer = _Writer(core, module)
    for node in module.tree.body:
        writer.top(node)
    return Written(
        module.path,
        writer.lines,
        {name: where for name, where in module.spaces.items() if name in writer.used},
        {name: where for name, where in module.imported.items() if name in writer.used},
        module.values,
    )


class _Writer(Calls):
    def __init__(self, core: Core, module: Module) -> None:
        super().__init__(core, module)
        self.lines: list[Line] = []
        self.depth = 0
        self.homes: Homes = {}

    def line(self, text: str) -> None:
        self.lines.append(Line(self.depth, text))

    def trace(self, node: ast.FunctionDef | ast.ClassDef) -> None:
        self.lines.append(Line(self.depth, f"// {self.module.path}.py:{node.lineno}", True))

    def optional(self, node: ast.FunctionDef) -> None:
        """For the scripts that call it: a parameter that may be left out takes more than `null`."""
        args = node.args.args[len(node.args.args) - len(node.args.defaults) :]
        if args:
            # One comment: of several only the last counts.
            tags = " ".join(f"@param {{any}} [{safe(arg.arg)}]" for arg in args)
            self.lines.append(Line(self.depth, f"/** {tags} */", True))

    def top(self, node: ast.stmt) -> None:
        """A statement of the module itself."""
        if isinstance(node, ast.FunctionDef):
            self.trace(node)
            self.optional(node)
            self.function(node, "function " + safe(node.name), None)
        elif isinstance(node, ast.ClassDef):
            self.trace(node)
            self.class_(self.module.classes[node.name])
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            if isinstance(target, ast.Name) and target.id in self.module.aliases:
                return
            if not isinstance(target, ast.Name) or node.value is None:
                raise self.error(node, "a module gives one name one value")
            self.line(f"const {safe(target.id)} = {self.value(node.value)};")
        elif not (isinstance(node, ast.Import | ast.ImportFrom) or _is_text(node)):
            raise self.error(node, "a module defines functions, classes and constants only")

    # Classes and functions.

    def class_(self, owner: Class) -> None:
        if owner.node.bases:
            raise self.error(owner.node, "classes inherit nothing")
        self.line(f"class {owner.node.name} {{")
        self.depth += 1
        if "__init__" not in owner.methods:
            self._maker(owner)
        for method in owner.methods.values():
            self.trace(method)
            getter = "get " if owner.is_property(method.name) else ""
            name = "constructor" if method.name == "__init__" else method.name
            self.function(method, getter + name, owner)
        self.depth -= 1
        self.line("}")

    def _maker(self, owner: Class) -> None:
        takes = []
        for part, name in zip(owner.fields, owner.maker, strict=True):
            default = part.value
            if isinstance(default, ast.Call):
                made = [each.value for each in default.keywords if each.arg == "default_factory"]
                if len(made) != 1:
                    raise self.error(default, "use field(default_factory=dict) or a plain default")
                default = ast.Call(made[0], [], [])
            takes.append(safe(name) + (f" = {self.value(default)}" if default else ""))
        self.line(f"constructor({', '.join(takes)}) {{")
        self.depth += 1
        for name in owner.maker:
            self.line(f"this.{name} = {safe(name)};")
        self.depth -= 1
        self.line("}")

    def function(self, node: ast.FunctionDef, head: str, owner: Class | None) -> None:
        """A function or method; `head` is what stands before its parameters."""
        args = node.args
        if args.vararg or args.kwarg or args.kwonlyargs or args.posonlyargs:
            raise self.error(node, "parameters are plain: no * and no **")
        for decorator in node.decorator_list:
            if not (owner and owner.is_property(node.name)):
                raise self.error(decorator, "the only decorator of a function is @property")
        takes = args.args[1:] if owner else args.args
        for arg in takes:
            if arg.annotation is None:
                raise self.error(node, f"annotate the parameter `{arg.arg}`")
        plain = len(takes) - len(args.defaults)
        texts = [
            safe(arg.arg) + (f" = {self.value(args.defaults[i - plain])}" if i >= plain else "")
            for i, arg in enumerate(takes)
        ]
        self.line(f"{head}({', '.join(texts)}) {{")
        self.kinds.enter(node, owner)
        self.homes = homes(node)
        self.block(node.body)
        self.kinds.leave()
        self.line("}")

    def block(self, body: Sequence[ast.stmt]) -> None:
        self.depth += 1
        for node in body:
            for name, word in self.homes.get(id(node), {}).items():
                if word == "above":
                    self.line(f"let {safe(name)};")
            self.statement(node)
        self.depth -= 1

    # Statements.

    def statement(self, node: ast.stmt) -> None:
        if isinstance(node, ast.Pass) or _is_text(node):
            return
        name = f"_do_{type(node).__name__.lower()}"
        method = getattr(self, name, None)
        if method is None:
            raise self.error(node, "a statement the translator does not know")
        method(node)

    def _do_expr(self, node: ast.Expr) -> None:
        self.line(self.value(node.value) + ";")

    def _do_return(self, node: ast.Return) -> None:
        self.line(f"return {self.value(node.value) if node.value else 'null'};")

    def _do_continue(self, _node: ast.Continue) -> None:
        self.line("continue;")

    def _do_break(self, _node: ast.Break) -> None:
        self.line("break;")

    def _do_raise(self, node: ast.Raise) -> None:
        if not isinstance(node.exc, ast.Call) or len(node.exc.args) != 1:
            raise self.error(node, "raise ValueError with one sentence")
        self.line(f"throw new Error({self.value(node.exc.args[0])});")

    def _do_assign(self, node: ast.Assign) -> None:
        if len(node.targets) != 1:
            raise self.error(node, "assign to one name at a time")
        self.assign(node, node.targets[0], self.value(node.value))

    def _do_annassign(self, node: ast.AnnAssign) -> None:
        if node.value is None:
            raise self.error(node, "give the name its value where it is annotated")
        self.assign(node, node.target, self.value(node.value))

    def _do_augassign(self, node: ast.AugAssign) -> None:
        if names(self.kinds.of(node.target)) & {LIST}:
            raise self.error(node, "extend a list with .extend")
        value = ast.copy_location(ast.BinOp(node.target, node.op, node.value), node)
        self.assign(node, node.target, self.value(value))

    def assign(self, node: ast.stmt, target: ast.expr, value: str) -> None:
        if isinstance(target, ast.Subscript):
            if names(self.kinds.of(target.value)) == {DICT}:
                self.plain_key(target.slice)
                self.line(f"{self.inner(target.value)}.set({self.value(target.slice)}, {value});")
                return
            if not self.kinds.only(target.value, LIST) or isinstance(target.slice, ast.UnaryOp):
                if isinstance(target.slice, ast.UnaryOp):
                    owner = self.inner(target.value)
                    at = self.value(target.slice.operand)
                    self.line(f"{owner}[{owner}.length - {at}] = {value};")
                    return
                raise self.error(node, "assign to a place in a list or a dict: annotate it so")
        here = self.homes.get(id(node), {})
        words = {here.get(name) for name in stored(target)}
        if words <= {"const", "let"} and words:
            word = "let" if "let" in words else "const"
            self.line(f"{word} {self.value(target)} = {value};")
            return
        for name in stored(target):
            if here.get(name) in ("const", "let"):
                self.line(f"let {safe(name)};")
        self.line(f"{self.value(target)} = {value};")

    def _do_if(self, node: ast.If, word: str = "if") -> None:
        self.line(f"{word} ({self.test(node.test)}) {{")
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
        here = self.homes.get(id(node), {})
        words = [here.get(name, "") for name in stored(node.target)]
        target = self.value(node.target)
        if _is_range(node.iter) and isinstance(node.target, ast.Name):
            self._counting(node, target)
            return
        if any(word in ("", "above") for word in words):
            head = target
        else:
            head = ("let " if "let" in words else "const ") + target
        self.line(f"for ({head} of {self.iterated(node.iter)}) {{")
        self.block(node.body)
        self.line("}")

    def _counting(self, node: ast.For, name: str) -> None:
        """`for i in range(…)`, without an array of the numbers."""
        assert isinstance(node.iter, ast.Call)
        args = node.iter.args
        if self.homes.get(id(node), {}).get(stored(node.target)[0]) not in ("let", "const"):
            raise self.error(node, "a counter belongs to its loop; keep its last value elsewhere")
        if any(name in stored_in(part) for part in node.body) or not 0 < len(args) < 4:
            raise self.error(node, "a loop's counter is not assigned to in it")
        start = self.value(args[0]) if len(args) > 1 else "0"
        end = args[0] if len(args) == 1 else args[1]
        step = _whole(args[2]) if len(args) == 3 else 1
        if step == 0:
            raise self.error(node, "a step is a whole number written out")
        limit = self.value(end)
        first = f"let {name} = {start}"
        if not isinstance(end, ast.Constant):
            limit = f"end_{name}"
            first += f", {limit} = {self.value(end)}"
        sign, move = ("<", f"+= {step}") if step > 0 else (">", f"-= {-step}")
        self.line(f"for ({first}; {name} {sign} {limit}; {name} {move}) {{")
        self.block(node.body)
        self.line("}")


# Where local names are declared.


def homes(function: ast.FunctionDef) -> Homes:
    """Where each local name of a function is declared."""
    found: dict[int, dict[str, str]] = {}
    parameters = {arg.arg for arg in function.args.args}
    for name in dict.fromkeys(stored_in(*function.body)):
        if name in parameters:
            continue
        places = _places(name, function.body)
        if places is None:
            first = next(node for node in function.body if name in mentioned(node))
            places = {id(first): "above"}
        for place, word in places.items():
            found.setdefault(place, {})[name] = word
    return found


def _places(name: str, block: Sequence[ast.stmt]) -> dict[int, str] | None:
    """Statements of a block that can each declare the name, if none needs what another gave it."""
    found: dict[int, str] = {}
    for i, node in enumerate(block):
        if name not in mentioned(node):
            continue
        if isinstance(node, ast.Assign | ast.AnnAssign):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            read = node.value is not None and name in mentioned(node.value)
            if found or read or name not in stored(target):
                return None
            word = "const" if stored_in(*block[i:]).count(name) == 1 else "let"
            return {id(node): word}
        if isinstance(node, ast.For) and name in stored(node.target):
            if name in mentioned(node.iter):
                return None
            word = "const" if name not in stored_in(*node.body) else "let"
            found[id(node)] = word
            continue
        head = node.iter if isinstance(node, ast.For) else getattr(node, "test", None)
        if not isinstance(node, ast.If | ast.For | ast.While) or head is None:
            return None
        if name in mentioned(head):
            return None
        for part in (node.body, node.orelse):
            deeper = _places(name, part)
            if deeper is None:
                return None
            found.update(deeper)
    return found


def _uses(node: ast.AST, own: frozenset[str] = frozenset()) -> Iterator[tuple[str, bool]]:
    """Names read (False) and stored (True), a comprehension's and a lambda's own left out."""
    if isinstance(node, ast.Name):
        if node.id not in own:
            yield node.id, isinstance(node.ctx, ast.Store)
        return
    if isinstance(node, ast.ListComp | ast.GeneratorExp | ast.DictComp | ast.SetComp):
        own = own | {name for part in node.generators for name in stored(part.target)}
    elif isinstance(node, ast.Lambda):
        own = own | {arg.arg for arg in node.args.args}
    for child in ast.iter_child_nodes(node):
        yield from _uses(child, own)


def mentioned(node: ast.AST) -> set[str]:
    """Every name a statement or expression reads or stores."""
    return {name for name, _ in _uses(node)}


def stored_in(*block: ast.AST) -> list[str]:
    """Every name stored in these, once for each time."""
    return [name for node in block for name, is_stored in _uses(node) if is_stored]


def stored(target: ast.AST) -> list[str]:
    """The names a target gives a value."""
    return [
        part.id
        for part in ast.walk(target)
        if isinstance(part, ast.Name) and isinstance(part.ctx, ast.Store)
    ]


def _is_text(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _is_range(node: ast.expr) -> bool:
    return (
        isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "range"
    )


def _whole(node: ast.expr) -> int:
    negative = isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub)
    inner = node.operand if isinstance(node, ast.UnaryOp) else node
    value = inner.value if isinstance(inner, ast.Constant) else 0
    return (-value if negative else value) if isinstance(value, int) else 0
