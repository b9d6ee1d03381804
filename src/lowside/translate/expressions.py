"""The core's expressions as JavaScript. Anything unknown is an error that says what to write.

Texts are counted and cut by code point. Dicts are Maps, lists and tuples are arrays.
Whole numbers never become −0. What needs more than an operator is in `runtime.js`, called `py`.
"""

import ast

from lowside.translate.atoms import negated
from lowside.translate.inference import whole_number
from lowside.translate.kinds import (
    ENDLESS,
    NUMBERS,
    PLAIN,
    ROWS,
    Kinds,
    element,
    every,
    names,
    values,
)
from lowside.translate.loops import Loops

_TIMES = {ast.Mult: "*", ast.Div: "/"}
_PLUS = {ast.Add: "+", ast.Sub: "-"}
_ORDER = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">="}


class Expressions(Loops):
    """Adds the operators."""

    def _ifexp(self, node: ast.IfExp) -> str:
        other = self.value if isinstance(node.orelse, ast.IfExp) else self.inner
        test = self.test(node.test)
        test = f"({test})" if isinstance(node.test, ast.IfExp) else test
        return f"{test} ? {self.inner(node.body)} : {other(node.orelse)}"

    def _boolop(self, node: ast.BoolOp) -> str:
        for part in node.values:
            if every(self.kinds.of(part)) != {"bool"}:
                raise self.error(node, "`and` and `or` join true and false only; write an `if`")
        return self.test(node)

    def _unaryop(self, node: ast.UnaryOp) -> str:
        if isinstance(node.op, ast.Not):
            return negated(self.test(node.operand))
        if not isinstance(node.op, ast.USub):
            raise self.error(node, "use - and not only")
        if not self.kinds.only(node.operand, "int", "float"):
            raise self.error(node, "- takes a number: annotate it so")
        written_out = isinstance(node.operand, ast.Constant) and node.operand.value
        whole = self.kinds.only(node.operand, "int") and not written_out
        return ("0 - " if whole else "-") + self.inner(node.operand)

    def _binop(self, node: ast.BinOp) -> str:
        left, right = values(self.kinds.of(node.left)), values(self.kinds.of(node.right))
        both = left | right if left and right else frozenset()
        if isinstance(node.op, ast.BitOr) and both == {"dict"}:
            return f"new Map([...{self.inner(node.left)}, ...{self.inner(node.right)}])"
        if isinstance(node.op, ast.Add) and both and both <= ROWS:
            return f"[...{self.inner(node.left)}, ...{self.inner(node.right)}]"
        if isinstance(node.op, ast.Add) and "str" in both and both <= {"str", "Any"}:
            return f"{self._side(node, node.left)} + {self._side(node, node.right, True)}"
        if "bool" in both or not (both == {"float", "Any"} or (left & NUMBERS and right & NUMBERS)):
            raise self.error(node, "the translator cannot tell what this adds; annotate its parts")
        whole = "float" not in both
        if isinstance(node.op, ast.FloorDiv | ast.Mod):
            if not whole:
                raise self.error(node, "// and % take whole numbers; use floor")
            name = "floor_div" if isinstance(node.op, ast.FloorDiv) else "mod"
            return f"{self.py[name]}({self.value(node.left)}, {self.value(node.right)})"
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
        if "Any" in names(self.kinds.of(side)):
            sure = "text" if "str" in names(self.kinds.of(node)) else "number"
            return f"{self.py[sure]}({self.value(side)})"
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
        if isinstance(op, ast.Eq | ast.NotEq):
            return self._equal(left, right, "" if isinstance(op, ast.Eq) else "!")
        a, b = self.inner(left), self.inner(right)
        ours, theirs = self.kinds.of(left), self.kinds.of(right)
        if isinstance(op, ast.Is | ast.IsNot):
            if not _is_single(right) and not every(ours) | every(theirs) <= {"object", "None"}:
                raise self.error(left, "`is` asks for None, True or False; compare with ==")
            return f"{a} {'===' if isinstance(op, ast.Is) else '!=='} {b}"
        sign = _ORDER[type(op)]
        both = values(ours) | values(theirs) if values(ours) and values(theirs) else frozenset()
        if both and both <= NUMBERS:
            return f"{a} {sign} {b}"
        raise self.error(left, "only numbers have an order: annotate them so, or sort by a key")

    def _equal(self, left: ast.expr, right: ast.expr, sign: str) -> str:
        ours, theirs = self.kinds.of(left), self.kinds.of(right)
        self._alike(left, ours, theirs)
        plain = any(kinds and every(kinds) <= PLAIN for kinds in (ours, theirs))
        if plain:
            return f"{self.inner(left)} {sign or '='}== {self.inner(right)}"
        return f"{sign}{self.py['equal']}({self.inner(left)}, {self.inner(right)})"

    def _alike(self, node: ast.expr, ours: Kinds, theirs: Kinds) -> None:
        """Python takes True for 1 and tells a list from a tuple; JavaScript does neither."""
        left, right = _deep(ours), _deep(theirs)
        for one_side, other in ((left, right), (right, left)):
            if "bool" in one_side and other & NUMBERS and "bool" not in other:
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
        if not found or not found <= ROWS | {"dict", "set", "str", "Any"}:
            raise self.error(right, "`in` looks into a list, a text, a dict or a set: annotate it")
        b = self.array(right) if found <= ROWS else self.inner(right)
        if found <= {"dict", "set"}:
            self.plain_key(left)
            return f"{b}.has({a})"
        if found <= ROWS:
            self._alike(left, asked, element(self.kinds.of(right)))
        if found == {"str"} or (found <= ROWS and asked and every(asked) <= PLAIN):
            return f"{b}.includes({a})"
        return f"{self.py['has']}({b}, {a})"

    def _subscript(self, node: ast.Subscript) -> str:
        kinds = self.kinds.of(node.value)
        found = names(kinds)
        owner, place = self.inner(node.value), node.slice
        if isinstance(place, ast.Slice):
            if place.step is not None:
                raise self.error(node, "slices have no step")
            if found != {"str"} and not (found and found <= ROWS):
                raise self.error(node, "a slice is of a text or a list: annotate it so")
            low = self.value(place.lower) if place.lower else "0"
            high = f", {self.value(place.upper)}" if place.upper else ""
            if found == {"str"}:
                return f"{self.py['slice']}({owner}, {low}{high})"
            return f"{owner}.slice({low}{high})"
        if _is_there(kinds, whole_number(place)):
            return f"{owner}[{self.value(place)}]"
        if found and found <= ROWS:
            asked = f"{self.py['at']}({owner}, {self.value(place)})"
            if isinstance(node.value, ast.Name) and isinstance(place, ast.Name):
                # Loops look here first: a function for all lists is a sixth of the advice's time.
                return f"({owner}[{self.value(place)}] ?? {asked})"
            return asked
        if not found or not found <= ROWS | {"dict", "str", "Any"}:
            raise self.error(node, "no list, text or dict: annotate it")
        if found == {"dict"}:
            self.plain_key(place)
        name = "character" if found == {"str"} else "item"
        return f"{self.py[name]}({owner}, {self.value(place)})"


def _is_single(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and (node.value is None or isinstance(node.value, bool))


def _is_there(kinds: Kinds, place: int | None) -> bool:
    """Whether every such tuple has this place, counted from its start."""
    return place is not None and all(
        kind.name == "tuple" and kind.of != ENDLESS and 0 <= place < len(kind.parts)
        for kind in kinds
        if kind.name != "None"
    )


def _deep(kinds: Kinds) -> frozenset[str]:
    """The names of the kinds and of all they hold."""
    return every(kinds).union(*(_deep(part) for kind in kinds for part in kind.parts))
