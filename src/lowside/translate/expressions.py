"""The core's expressions as JavaScript. Anything unknown is an error that says what to write.

Texts are compared, counted and cut by code point. Dicts are Maps, lists and tuples are arrays.
Whole numbers never become −0. What needs more than an operator is in `runtime.js`, called `py`.
"""

import ast
import json
import math
import re
from collections.abc import Callable, Sequence
from typing import TypeGuard

from lowside.translate.inference import Inference, whole_number
from lowside.translate.kinds import (
    ANY,
    BOOL,
    CLASS,
    DICT,
    ENDLESS,
    FUNCTION,
    LIST,
    MODULE,
    NONE,
    NUMBER,
    NUMBERS,
    OBJECT,
    PLAIN,
    ROWS,
    SET,
    TEXT,
    TUPLE,
    UNKNOWN,
    WHOLE,
    Core,
    Kinds,
    Module,
    TranslationError,
    at,
    element,
    every,
    names,
    values,
)

_TAKEN = """
    arguments async await break case catch class const continue debugger default delete do enum eval
    export extends false finally for function if implements import in instanceof interface let
    new null package private protected public return static super switch this throw true try
    typeof undefined var void while with yield py Array Error Map Math Number Object Set String
""".split()  # noqa: SIM905  a list of single quotes is harder to read
"""Names that JavaScript or the written code gives a meaning of its own."""

_EXACT = 2**53
_TIMES = {ast.Mult: "*", ast.Div: "/"}
_PLUS = {ast.Add: "+", ast.Sub: "-"}
_ORDER = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">="}
_KEYS = frozenset({TEXT, WHOLE, BOOL, NONE, ANY})
_PADDED = re.compile(r"0(\d+)d")
_ADVICE: dict[type[ast.expr], str] = {
    ast.Set: "write set([...])",
    ast.GeneratorExp: "make a list or a tuple of it",
    ast.Lambda: "give a lambda as an argument, to sort by or to a parameter annotated Callable",
    ast.NamedExpr: "assign on a line of its own, before",
    **dict.fromkeys((ast.Yield, ast.YieldFrom), "return a list"),
    ast.Starred: "spread into a list or a tuple only",
}


def safe(name: str) -> str:
    """A local name JavaScript allows; no name of Python has a `$`."""
    return name + "$" if name in _TAKEN else name


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
            advice = _ADVICE.get(type(node), "the translator does not know this; write plain steps")
            raise self.error(node, advice)
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
        found = every(kinds)
        if found == {BOOL}:
            return self.value(node)
        if found == {TEXT}:
            return f'{self.inner(node)} !== ""'
        if found and found <= ROWS:
            return f"{self.inner(node)}.length > 0"
        if found and found <= {DICT, SET}:
            return f"{self.inner(node)}.size > 0"
        if found and found <= NUMBERS:
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
        if isinstance(value, int | float) and abs(value) < math.inf:
            return repr(value)
        raise self.error(node, "use text, a number, True, False or None")

    def _name(self, node: ast.Name) -> str:
        if node.id == "self" and self.is_local("self"):
            return "this"
        if self.is_local(node.id) or node.id in self.module.values:
            return safe(node.id)
        if self.kinds.of(node) == UNKNOWN:
            raise self.error(node, "no value of this name is known here: define or import it")
        self.used.add(node.id)
        return safe(node.id)

    def is_local(self, name: str) -> bool:
        return any(name in scope for scope in self.kinds.scopes)

    def _attribute(self, node: ast.Attribute) -> str:
        owner = self.kinds.of(node.value)
        found = self.kinds.of(node)
        if not found or not names(owner) - PLAIN <= {OBJECT, CLASS, MODULE}:
            raise self.error(node, "no such field or name is known: annotate what it is asked of")
        method = any(node.attr in known.methods for known in self.core.classes_of(owner))
        if method and names(found) == {FUNCTION}:
            raise self.error(node, "call the method here, or give a function of the module")
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
        parts: list[str] = []
        for key, value in zip(node.keys, node.values, strict=True):
            if key is not None:
                self.plain_key(key)
                parts.append(f"[{self.value(key)}, {self.value(value)}]")
            else:
                parts.append(f"...{self.inner(value)}")
        return f"new Map([{', '.join(parts)}])" if parts else "new Map()"

    def plain_key(self, node: ast.expr) -> None:
        """JavaScript finds keys by identity: only text, numbers and the like serve."""
        if not every(self.kinds.of(node)) <= _KEYS:
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
        if node.conversion != -1:
            raise self.error(node.value, "write it without ! and =")
        if node.format_spec is None:
            return self.written(node.value)
        width = _PADDED.fullmatch(ast.unparse(node.format_spec).strip("f'\""))
        if width is None or not self.kinds.only(node.value, WHOLE):
            raise self.error(node.value, "only whole numbers are padded, as in {n:03d}")
        return f"py.padded({self.value(node.value)}, {int(width[1])})"

    def written(self, node: ast.expr) -> str:
        """A value as text."""
        found = every(self.kinds.of(node))
        if found and found <= {TEXT, WHOLE}:
            return self.value(node)
        if found == {ANY}:
            return f"py.text({self.value(node)})"
        if not found or not found <= {TEXT, WHOLE, BOOL, NONE}:
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
            if every(self.kinds.of(part)) != {BOOL}:
                raise self.error(node, "`and` and `or` join true and false only; write an `if`")
        return self.test(node)

    def _unaryop(self, node: ast.UnaryOp) -> str:
        if isinstance(node.op, ast.Not):
            return f"!({self.test(node.operand)})"
        if not isinstance(node.op, ast.USub):
            raise self.error(node, "use - and not only")
        if not self.kinds.only(node.operand, WHOLE, NUMBER):
            raise self.error(node, "- takes a number: annotate it so")
        written_out = isinstance(node.operand, ast.Constant) and node.operand.value
        whole = self.kinds.only(node.operand, WHOLE) and not written_out
        return ("0 - " if whole else "-") + self.inner(node.operand)

    def _binop(self, node: ast.BinOp) -> str:
        left, right = values(self.kinds.of(node.left)), values(self.kinds.of(node.right))
        both = left | right if left and right else frozenset()
        if isinstance(node.op, ast.BitOr) and both == {DICT}:
            return f"new Map([...{self.inner(node.left)}, ...{self.inner(node.right)}])"
        if isinstance(node.op, ast.Add) and both and both <= ROWS:
            return f"[...{self.inner(node.left)}, ...{self.inner(node.right)}]"
        if isinstance(node.op, ast.Add) and TEXT in both and both <= {TEXT, ANY}:
            return f"{self._side(node, node.left)} + {self._side(node, node.right, True)}"
        if BOOL in both or not (both == {NUMBER, ANY} or (left & NUMBERS and right & NUMBERS)):
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
        positive = any((whole_number(side) or 0) > 0 for side in (node.left, node.right))
        return f"({text} + 0)" if sign == "*" and whole and not positive else text

    def _side(self, node: ast.BinOp, side: ast.expr, right: bool = False) -> str:
        """An operand, in brackets only where JavaScript would read it otherwise."""
        if isinstance(side, ast.BinOp) and type(side.op) in _TIMES | _PLUS:
            tighter = type(side.op) in _TIMES and type(node.op) in _PLUS
            level = (type(side.op) in _TIMES) == (type(node.op) in _TIMES)
            if tighter or (level and not right):
                return self.value(side)
        if ANY in names(self.kinds.of(side)):
            sure = "text" if TEXT in names(self.kinds.of(node)) else "number"
            return f"py.{sure}({self.value(side)})"
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
        ours, theirs = self.kinds.of(left), self.kinds.of(right)
        if isinstance(op, ast.Is | ast.IsNot):
            if not _is_single(right) and not every(ours) | every(theirs) <= {OBJECT, NONE}:
                raise self.error(left, "`is` asks for None, True or False; compare with ==")
            return f"{a} {'===' if isinstance(op, ast.Is) else '!=='} {b}"
        if isinstance(op, ast.Eq | ast.NotEq):
            return self._equal(left, right, "" if isinstance(op, ast.Eq) else "!")
        sign = _ORDER[type(op)]
        both = values(ours) | values(theirs) if values(ours) and values(theirs) else frozenset()
        if both and both <= NUMBERS:
            return f"{a} {sign} {b}"
        if both == {TEXT} and (_sorts_alike(left) or _sorts_alike(right)):
            return f"{a} {sign} {b}"
        if both and (both <= ROWS or both <= NUMBERS | {TEXT}):
            return f"py.compare({a}, {b}) {sign} 0"
        raise self.error(left, "the translator cannot tell what this compares; annotate it")

    def _equal(self, left: ast.expr, right: ast.expr, sign: str) -> str:
        ours, theirs = self.kinds.of(left), self.kinds.of(right)
        self._alike(left, ours, theirs)
        plain = any(kinds and every(kinds) <= PLAIN for kinds in (ours, theirs))
        if plain:
            return f"{self.inner(left)} {sign or '='}== {self.inner(right)}"
        return f"{sign}py.equal({self.inner(left)}, {self.inner(right)})"

    def _alike(self, node: ast.expr, ours: Kinds, theirs: Kinds) -> None:
        """Python takes True for 1 and tells a list from a tuple; JavaScript does neither."""
        left, right = _deep(ours), _deep(theirs)
        for one_side, other in ((left, right), (right, left)):
            if BOOL in one_side and other & NUMBERS and BOOL not in other:
                raise self.error(node, "compare true and false with each other, not with numbers")
        rows = [names(kinds) & ROWS for kinds in (ours, theirs)]
        if all(rows) and rows[0] != rows[1]:
            raise self.error(node, "a list never equals a tuple; make both the same")
        for known in (*self.core.classes_of(ours), *self.core.classes_of(theirs)):
            if not known.is_dataclass:
                raise self.error(node, f"{known.node.name} is no dataclass: it has no ==")

    def _within(self, left: ast.expr, right: ast.expr) -> str:
        found, asked = names(self.kinds.of(right)), self.kinds.of(left)
        a = self.value(left)
        if not found or not found <= ROWS | {DICT, SET, TEXT, ANY}:
            raise self.error(right, "`in` looks into a list, a text, a dict or a set: annotate it")
        b = self.array(right) if found <= ROWS else self.inner(right)
        if found <= {DICT, SET}:
            self.plain_key(left)
            return f"{b}.has({a})"
        if found <= ROWS:
            self._alike(left, asked, element(self.kinds.of(right)))
        if found == {TEXT} or (found <= ROWS and asked and every(asked) <= PLAIN):
            return f"{b}.includes({a})"
        return f"py.has({b}, {a})"

    def _subscript(self, node: ast.Subscript) -> str:
        kinds = self.kinds.of(node.value)
        found = names(kinds)
        owner, place = self.inner(node.value), node.slice
        if isinstance(place, ast.Slice):
            if place.step is not None:
                raise self.error(node, "slices have no step")
            if found != {TEXT} and not (found and found <= ROWS):
                raise self.error(node, "a slice is of a text or a list: annotate it so")
            low = self.value(place.lower) if place.lower else "0"
            high = f", {self.value(place.upper)}" if place.upper else ""
            if found == {TEXT}:
                return f"py.slice({owner}, {low}{high})"
            return f"{owner}.slice({low}{high})"
        if _is_there(kinds, whole_number(place)):
            return f"{owner}[{self.value(place)}]"
        if found and found <= ROWS:
            return f"py.at({owner}, {self.value(place)})"
        if not found or not found <= ROWS | {DICT, TEXT, ANY}:
            raise self.error(node, "no list, text or dict: annotate it")
        name = "character" if found == {TEXT} else "item"
        return f"py.{name}({owner}, {self.value(place)})"

    # Comprehensions.

    def _listcomp(self, node: ast.ListComp | ast.GeneratorExp) -> str:
        return self._comprehension(node.generators, lambda: self.value(node.elt))

    def _setcomp(self, node: ast.SetComp) -> str:
        def key() -> str:
            self.plain_key(node.elt)
            return self.value(node.elt)

        return f"new Set({self._comprehension(node.generators, key)})"

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
        self.unpacked(part.target, element(self.kinds.of(part.iter)))
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
        lazy = self._lazy(node)
        if lazy is not None:
            return lazy[0]
        found = names(self.kinds.of(node))
        if found == {ANY}:
            return f"py.each({self.value(node)})"
        if not found or not found <= {LIST, TUPLE, TEXT}:
            raise self.error(node, "a loop runs over a list, a text or a dict: annotate it so")
        return self.inner(node)

    def array(self, node: ast.expr) -> str:
        """An array of what the expression yields."""
        lazy = self._lazy(node)
        found = names(self.kinds.of(node))
        if lazy is not None and lazy[1]:
            return lazy[0]
        if lazy is None and found and found <= ROWS:
            return self.inner(node)
        return f"[...{self.iterated(node)}]"

    def own_array(self, node: ast.expr) -> str:
        """An array nothing else has, so that it may be changed."""
        text = self.array(node)
        row = names(self.kinds.of(node)) <= ROWS and self._lazy(node) is None
        made = isinstance(node, ast.ListComp | ast.List | ast.Tuple | ast.BinOp)
        return f"[...{text}]" if row and not made else text

    def _lazy(self, node: ast.expr) -> tuple[str, bool] | None:
        """What Python makes one by one when it is asked, and whether here it is an array."""
        if isinstance(node, ast.GeneratorExp):
            return self._comprehension(node.generators, lambda: self.value(node.elt)), True
        if _calls(node, "enumerate") and len(node.args) == 1 and not node.keywords:
            return f"{self.array(node.args[0])}.entries()", False
        if _calls(node, "reversed") and len(node.args) == 1 and not node.keywords:
            return f"{self.own_array(node.args[0])}.reverse()", True
        if _calls(node, "zip"):
            if len(node.args) != 2 or [part.arg for part in node.keywords] != ["strict"]:
                raise self.error(node, "zip takes two lists and strict=True")
            return f"py.zip({self.array(node.args[0])}, {self.array(node.args[1])})", True
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and not node.args:
            name = {"items": "entries", "keys": "keys", "values": "values"}.get(node.func.attr)
            owner = names(self.kinds.of(node.func.value))
            if name is not None and owner and owner <= {DICT, ANY}:
                return f"{self.inner(node.func.value)}.{name}()", False
        if names(self.kinds.of(node)) == {DICT}:
            return f"{self.inner(node)}.keys()", False
        return None

    def unpacked(self, target: ast.expr, kinds: Kinds) -> None:
        """Python counts what it takes apart; JavaScript does not, so the count must be known."""
        if isinstance(target, ast.Name):
            return
        if not isinstance(target, ast.Tuple) or not kinds:
            raise self.error(target, "give each value a name of its own first")
        for kind in kinds:
            known = kind.name == TUPLE and kind.of != ENDLESS
            if not known or len(kind.parts) != len(target.elts):
                raise self.error(target, "only a tuple annotated with each part is taken apart")
        for i, part in enumerate(target.elts):
            self.unpacked(part, at(kinds, i))

    def _function(self, node: ast.Lambda, given: Sequence[Kinds]) -> str:
        self.kinds.enter(node, None)
        if len(node.args.args) != len(given) or node.args.defaults:
            raise self.error(node, "a lambda takes what it will be given, without defaults")
        for arg, kinds in zip(node.args.args, given, strict=True):
            self.kinds.scopes[-1][arg.arg] = kinds
        text = f"({', '.join(safe(arg.arg) for arg in node.args.args)}) => {self.inner(node.body)}"
        self.kinds.leave()
        return text

    def argument(self, node: ast.expr, wanted: Kinds = frozenset()) -> str:
        """An argument; a lambda learns from the annotation what it will be given."""
        if isinstance(node, ast.Lambda):
            for kind in wanted:
                if kind.name == FUNCTION:
                    return self._function(node, kind.parts[1:])
        return self.value(node)


def text_literal(text: str) -> str:
    """A JavaScript text; beyond U+FFFF as two escapes, which ASCII output has no other way for."""
    plain = json.dumps(text, ensure_ascii=False)
    pairs = [
        json.dumps(sign)[1:-1] if "\ud800" <= sign < "\ue000" or sign > "\uffff" else sign
        for sign in plain
    ]
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


def _is_single(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and (node.value is None or isinstance(node.value, bool))


def _is_there(kinds: Kinds, place: int | None) -> bool:
    """Whether every such tuple has this place, counted from its start."""
    return place is not None and all(
        kind.name == TUPLE and kind.of != ENDLESS and 0 <= place < len(kind.parts)
        for kind in kinds
        if kind.name != NONE
    )


def _deep(kinds: Kinds) -> frozenset[str]:
    """The names of the kinds and of all they hold."""
    return every(kinds).union(*(_deep(part) for kind in kinds for part in kind.parts))
