"""The core's expressions as JavaScript. Anything unknown is an error that says what to write.

Texts are compared, counted and cut by code point. Dicts are Maps, lists and tuples are arrays.
Whole numbers never become −0. What needs more than an operator is in `runtime.js`, called `py`.
"""

import ast
import json
from collections.abc import Callable, Sequence
from typing import TypeGuard

from lowside.translate.inference import Inference
from lowside.translate.kinds import (
    ANY,
    BOOL,
    CLASS,
    DICT,
    FUNCTION,
    LIST,
    MODULE,
    NUMBER,
    OBJECT,
    PLAIN,
    ROWS,
    SET,
    TEXT,
    TUPLE,
    WHOLE,
    Core,
    Kinds,
    Module,
    TranslationError,
    names,
)

_TAKEN = """
    arguments await break case catch class const continue debugger default delete do enum eval
    export extends false finally for function if implements import in instanceof interface let
    new null package private protected public return static super switch this throw true try
    typeof undefined var void while with yield py Array Error Map Math Number Object Set String
""".split()  # noqa: SIM905  a list of single quotes is harder to read
"""Names that JavaScript or the written code gives a meaning of its own."""

_EXACT = 2**53
_TIMES = {ast.Mult: "*", ast.Div: "/"}
_PLUS = {ast.Add: "+", ast.Sub: "-"}
_ORDER = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">="}
_NUMBERS = frozenset({WHOLE, NUMBER})
_CLASSES = {"str": TEXT, "int": WHOLE, "float": NUMBER, "bool": BOOL, "list": LIST, "tuple": TUPLE}
_CLASSES |= {"Mapping": DICT, "dict": DICT, "set": SET, "Sequence": LIST}


def safe(name: str) -> str:
    """A local name JavaScript allows."""
    return name + "_" if name in _TAKEN else name


class Expressions:
    """Writes the expressions of one module; notes which imports they use."""

    def __init__(self, core: Core, module: Module) -> None:
        self.core = core
        self.module = module
        self.kinds = Inference(core, module)
        self.used: set[str] = set()
        """Local names of imports that are needed when the program runs."""

    def error(self, node: ast.AST, advice: str) -> TranslationError:
        return self.module.error(node, advice)

    # What an expression is, where a value is wanted.

    def value(self, node: ast.expr) -> str:
        """The JavaScript of an expression."""
        method: Callable[[ast.expr], str] | None
        method = getattr(self, f"_{type(node).__name__.lower()}", None)
        if method is None:
            raise self.error(node, "the translator does not know this; write it in plain steps")
        text: str = method(node)
        return text

    def inner(self, node: ast.expr) -> str:
        """The same with brackets where it stands beside an operator."""
        text = self.value(node)
        loose = (ast.BinOp, ast.BoolOp, ast.IfExp, ast.Compare, ast.Lambda, ast.UnaryOp)
        return f"({text})" if isinstance(node, loose) else text

    def test(self, node: ast.expr) -> str:
        """The expression where Python asks whether it is true."""
        if isinstance(node, ast.BoolOp):
            sign = " && " if isinstance(node.op, ast.And) else " || "
            parts = [self.test(part) for part in node.values]
            loose = (ast.BoolOp, ast.IfExp)
            return sign.join(
                f"({text})" if isinstance(part, loose) else text
                for part, text in zip(node.values, parts, strict=True)
            )
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            return f"!({self.test(node.operand)})"
        kinds = self.kinds.of(node)
        found = {kind.name for kind in kinds}
        if found == {BOOL} or isinstance(node, ast.Compare):
            return self.value(node)
        if found == {TEXT}:
            return f'{self.inner(node)} !== ""'
        if found and found <= ROWS:
            return f"{self.inner(node)}.length > 0"
        if found and found <= {DICT, SET}:
            return f"{self.inner(node)}.size > 0"
        if found and found <= _NUMBERS:
            return f"{self.inner(node)} !== 0"
        return f"py.truthy({self.value(node)})"

    # Atoms.

    def _constant(self, node: ast.Constant) -> str:
        value = node.value
        if value is None or isinstance(value, bool):
            return {None: "null", True: "true", False: "false"}[value]
        if isinstance(value, str):
            return text_literal(value)
        if isinstance(value, int) and abs(value) > _EXACT:
            raise self.error(node, "a whole number beyond 2**53 is not exact in JavaScript")
        if isinstance(value, int | float):
            return repr(value)
        raise self.error(node, "use text, a number, True, False or None")

    def _name(self, node: ast.Name) -> str:
        if node.id == "self":
            return "this"
        local = any(node.id in scope for scope in self.kinds.scopes)
        if not local and node.id in {*self.module.imported, *self.module.spaces}:
            self.used.add(node.id)
        return safe(node.id)

    def _attribute(self, node: ast.Attribute) -> str:
        owner = self.kinds.of(node.value)
        if names(owner) == {CLASS}:
            return f"(self, ...rest) => self.{node.attr}(...rest)"
        text = self.inner(node.value)
        return f"{text}.{safe(node.attr) if names(owner) == {MODULE} else node.attr}"

    def _tuple(self, node: ast.Tuple | ast.List) -> str:
        return f"[{', '.join(self._part(part) for part in node.elts)}]"

    _list = _tuple

    def _part(self, part: ast.expr) -> str:
        return (
            f"...{self.iterated(part.value)}" if isinstance(part, ast.Starred) else self.value(part)
        )

    def _dict(self, node: ast.Dict) -> str:
        parts = []
        for key, value in zip(node.keys, node.values, strict=True):
            if key is not None:
                self.plain_key(key)
                parts.append(f"[{self.value(key)}, {self.value(value)}]")
            else:
                parts.append(f"...{self.inner(value)}")
        return f"new Map([{', '.join(parts)}])" if parts else "new Map()"

    def plain_key(self, node: ast.expr) -> None:
        """JavaScript finds keys by identity: only text, numbers and the like serve."""
        if not {kind.name for kind in self.kinds.of(node)} <= PLAIN | {ANY}:
            raise self.error(node, "a key must be a text or a whole number; join its parts")

    def _joinedstr(self, node: ast.JoinedStr) -> str:
        parts = []
        for part in node.values:
            if isinstance(part, ast.Constant):
                parts.append(_in_template(str(part.value)))
            elif isinstance(part, ast.FormattedValue):
                parts.append("${" + self._formatted(part) + "}")
        return "`" + "".join(parts) + "`"

    def _formatted(self, node: ast.FormattedValue) -> str:
        if node.format_spec is None:
            return self.written(node.value)
        spec = ast.unparse(node.format_spec).strip("f'\"")
        if not (spec[:1] == "0" and spec[-1] == "d" and self.kinds.only(node.value, WHOLE)):
            raise self.error(node.value, "only whole numbers are padded, as in {n:03d}")
        return f"py.padded({self.value(node.value)}, {int(spec[:-1])})"

    def written(self, node: ast.expr) -> str:
        """A value as text."""
        found = {kind.name for kind in self.kinds.of(node)}
        if found and found <= {TEXT, WHOLE}:
            return self.value(node)
        if found & {NUMBER, BOOL, LIST, TUPLE, DICT, SET, OBJECT} and not found & {TEXT, ANY}:
            raise self.error(node, "write numbers with format_decimal, and say others in words")
        return f"py.str({self.value(node)})"

    # Operators.

    def _ifexp(self, node: ast.IfExp) -> str:
        other = self.value if isinstance(node.orelse, ast.IfExp) else self.inner
        test = self.test(node.test)
        test = f"({test})" if isinstance(node.test, ast.IfExp) else test
        return f"{test} ? {self.inner(node.body)} : {other(node.orelse)}"

    def _boolop(self, node: ast.BoolOp) -> str:
        for part in node.values:
            if {kind.name for kind in self.kinds.of(part)} != {BOOL}:
                raise self.error(node, "`and` and `or` join true and false only; write an `if`")
        return self.test(node)

    def _unaryop(self, node: ast.UnaryOp) -> str:
        if isinstance(node.op, ast.Not):
            return f"!({self.test(node.operand)})"
        if not isinstance(node.op, ast.USub):
            raise self.error(node, "use - and not only")
        if isinstance(node.operand, ast.Constant):
            return f"-{self.value(node.operand)}"
        sign = "0 - " if self.kinds.only(node.operand, WHOLE) else "-"
        return sign + self.inner(node.operand)

    def _binop(self, node: ast.BinOp) -> str:
        left, right = names(self.kinds.of(node.left)), names(self.kinds.of(node.right))
        both = left | right
        if isinstance(node.op, ast.BitOr) and both <= {DICT, ANY}:
            return f"new Map([...{self.inner(node.left)}, ...{self.inner(node.right)}])"
        if isinstance(node.op, ast.Add) and left & ROWS:
            return f"[...{self.inner(node.left)}, ...{self.inner(node.right)}]"
        if isinstance(node.op, ast.Add) and TEXT in both and not both & _NUMBERS:
            return f"{self._side(node, node.left)} + {self._side(node, node.right, True)}"
        if not (both & _NUMBERS and all(side & (_NUMBERS | {ANY}) for side in (left, right))):
            raise self.error(node, "the translator cannot tell what this adds; annotate its parts")
        whole = NUMBER not in both
        if isinstance(node.op, ast.FloorDiv | ast.Mod):
            if not whole:
                raise self.error(node, "// and % take whole numbers; use floor")
            name = "floor_div" if isinstance(node.op, ast.FloorDiv) else "mod"
            return f"py.{name}({self.value(node.left)}, {self.value(node.right)})"
        sign = _TIMES.get(type(node.op)) or _PLUS.get(type(node.op))
        if sign is None:
            raise self.error(node, "use + - * / // and % only")
        text = f"{self._side(node, node.left)} {sign} {self._side(node, node.right, True)}"
        positive = any(isinstance(side, ast.Constant) for side in (node.left, node.right))
        return f"({text} + 0)" if sign == "*" and whole and not positive else text

    def _side(self, node: ast.BinOp, side: ast.expr, right: bool = False) -> str:
        """An operand, in brackets only where JavaScript would read it otherwise."""
        if isinstance(side, ast.BinOp) and type(side.op) in _TIMES | _PLUS:
            tighter = type(side.op) in _TIMES and type(node.op) in _PLUS
            level = (type(side.op) in _TIMES) == (type(node.op) in _TIMES)
            if tighter or (level and not right):
                return self.value(side)
        return self.inner(side)

    def _compare(self, node: ast.Compare) -> str:
        sides = [node.left, *node.comparators]
        for middle in sides[1:-1]:
            if not isinstance(middle, ast.Name | ast.Attribute | ast.Constant | ast.Subscript):
                raise self.error(middle, "the middle of a chain is asked twice; give it a name")
        parts = [self._pair(sides[i], op, sides[i + 1]) for i, op in enumerate(node.ops)]
        return " && ".join(parts)

    def _pair(self, left: ast.expr, op: ast.cmpop, right: ast.expr) -> str:
        if isinstance(op, ast.In | ast.NotIn):
            return ("" if isinstance(op, ast.In) else "!") + self._within(left, right)
        a, b = self.inner(left), self.inner(right)
        if isinstance(op, ast.Is | ast.IsNot):
            return f"{a} {'===' if isinstance(op, ast.Is) else '!=='} {b}"
        ours, theirs = self.kinds.of(left), self.kinds.of(right)
        if isinstance(op, ast.Eq | ast.NotEq):
            same = isinstance(op, ast.Eq)
            for kinds in (ours, theirs):
                if kinds and {kind.name for kind in kinds} <= PLAIN:
                    return f"{a} {'===' if same else '!=='} {b}"
            return f"{'' if same else '!'}py.equal({a}, {b})"
        sign = _ORDER[type(op)]
        both = names(ours) | names(theirs)
        if both & _NUMBERS and not both & (ROWS | {TEXT}):
            return f"{a} {sign} {b}"
        if TEXT in both and (_sorts_alike(left) or _sorts_alike(right)):
            return f"{a} {sign} {b}"
        if both & (ROWS | {TEXT}):
            return f"py.compare({a}, {b}) {sign} 0"
        raise self.error(left, "the translator cannot tell what this compares; annotate it")

    def _within(self, left: ast.expr, right: ast.expr) -> str:
        found = names(self.kinds.of(right))
        a, b = self.value(left), self.inner(right)
        if found and found <= {DICT, SET}:
            self.plain_key(left)
            return f"{b}.has({a})"
        plain = {kind.name for kind in self.kinds.of(left)}
        if found == {TEXT} or (found and found <= ROWS and plain and plain <= PLAIN):
            return f"{b}.includes({a})"
        return f"py.has({b}, {a})"

    def _subscript(self, node: ast.Subscript) -> str:
        found = names(self.kinds.of(node.value))
        owner, at = self.inner(node.value), node.slice
        if isinstance(at, ast.Slice):
            if at.step is not None:
                raise self.error(node, "slices have no step")
            low = self.value(at.lower) if at.lower else "0"
            high = f", {self.value(at.upper)}" if at.upper else ""
            if found == {TEXT}:
                return f"py.slice({owner}, {low}{high})"
            return f"{owner}.slice({low}{high})"
        if found and found <= ROWS:
            return (
                f"{owner}.at({self.value(at)})" if _negative(at) else f"{owner}[{self.value(at)}]"
            )
        if found == {TEXT}:
            return f"py.character({owner}, {self.value(at)})"
        return f"py.item({owner}, {self.value(at)})"

    # Comprehensions.

    def _listcomp(self, node: ast.ListComp | ast.GeneratorExp) -> str:
        return self._comprehension(node.generators, lambda: self.value(node.elt))

    _generatorexp = _listcomp

    def _setcomp(self, node: ast.SetComp) -> str:
        return f"new Set({self._comprehension(node.generators, lambda: self.value(node.elt))})"

    def _dictcomp(self, node: ast.DictComp) -> str:
        def pair() -> str:
            self.plain_key(node.key)
            return f"[{self.value(node.key)}, {self.value(node.value)}]"

        return f"new Map({self._comprehension(node.generators, pair)})"

    def _comprehension(
        self,
        parts: Sequence[ast.comprehension],
        made: Callable[[], str],
        finish: str = "map",
    ) -> str:
        part, rest = parts[0], parts[1:]
        text = self.array(part.iter)
        self.kinds.comprehend([part])
        head = f"({self.value(part.target)}) =>"
        for condition in part.ifs:
            text += f".filter({head} {self.test(condition)})"
        if rest:
            text += f".flatMap({head} {self._comprehension(rest, made)})"
        else:
            value = made()
            if finish != "map" or value != self.value(part.target):
                text += f".{finish}({head} {value})"
            elif not part.ifs:
                text = f"[...{text}]"
        self.kinds.leave()
        return text

    def quantified(self, node: ast.Call, word: str) -> str:
        """`any` and `all` of a comprehension."""
        inside = node.args[0]
        if not isinstance(inside, ast.GeneratorExp) or len(inside.generators) > 1:
            raise self.error(node, "any and all take a comprehension with one `for`")
        return self._comprehension(inside.generators, lambda: self.test(inside.elt), word)

    def iterated(self, node: ast.expr) -> str:
        """What a `for … of` runs over."""
        text = self._iterator(node)
        if text is not None:
            return text
        found = names(self.kinds.of(node))
        if ANY in found:
            return f"py.each({self.value(node)})"
        if not found or found - {LIST, TUPLE, TEXT}:
            raise self.error(node, "a loop runs over a list, a text or a dict: annotate it so")
        return self.inner(node)

    def array(self, node: ast.expr) -> str:
        """An array of what the expression yields."""
        text = self._iterator(node)
        if text is None and names(self.kinds.of(node)) <= ROWS:
            return self.inner(node)
        return f"[...{text if text is not None else self.iterated(node)}]"

    def _iterator(self, node: ast.expr) -> str | None:
        """What JavaScript iterates over without making an array of it, if it is such a thing."""
        if _calls(node, "enumerate") and len(node.args) == 1:
            return f"{self.array(node.args[0])}.entries()"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            owner = names(self.kinds.of(node.func.value))
            if node.func.attr in ("keys", "values", "items") and owner <= {DICT, ANY}:
                name = {"items": "entries"}.get(node.func.attr, node.func.attr)
                return f"{self.inner(node.func.value)}.{name}()"
        if names(self.kinds.of(node)) == {DICT}:
            return f"{self.inner(node)}.keys()"
        return None

    def _lambda(self, node: ast.Lambda, given: Sequence[Kinds] = ()) -> str:
        self.kinds.enter(node, None)
        for arg, kinds in zip(node.args.args, given, strict=False):
            self.kinds.scopes[-1][arg.arg] = kinds
        text = f"({', '.join(safe(arg.arg) for arg in node.args.args)}) => {self.inner(node.body)}"
        self.kinds.leave()
        return text

    def argument(self, node: ast.expr, wanted: Kinds = frozenset()) -> str:
        """An argument; a lambda learns from the annotation what it will be given."""
        if isinstance(node, ast.Lambda):
            for kind in wanted:
                if kind.name == FUNCTION:
                    return self._lambda(node, kind.parts[1:])
        return self.value(node)


def text_literal(text: str) -> str:
    """A JavaScript text; beyond U+FFFF as two escapes, which ASCII output has no other way for."""
    plain = json.dumps(text, ensure_ascii=False)
    pairs = [json.dumps(sign)[1:-1] if sign > "\uffff" else sign for sign in plain]
    return "".join(pairs).replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _in_template(text: str) -> str:
    literal = text_literal(text)[1:-1].replace('\\"', '"')
    return literal.replace("`", "\\`").replace("${", "\\${")


def _sorts_alike(node: ast.expr) -> bool:
    """Whether comparing with it goes the same by code point and by UTF-16 unit."""
    text = node.value if isinstance(node, ast.Constant) else None
    return isinstance(text, str) and all(sign < "\ud800" for sign in text)


def _calls(node: ast.expr, name: str) -> TypeGuard[ast.Call]:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name


def _negative(node: ast.expr) -> bool:
    return isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub)
