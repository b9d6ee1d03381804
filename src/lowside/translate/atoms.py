"""What the core's expressions are made of: constants, names, fields, dicts, texts with values.

Anything unknown is an error that says what to write.
"""

import ast
import json
import math
import re
from collections.abc import Callable
from string import ascii_lowercase

from lowside.translate.inference import Inference
from lowside.translate.kinds import (
    NUMBERS,
    PLAIN,
    ROWS,
    UNKNOWN,
    Core,
    Module,
    TranslationError,
    every,
    names,
)
from lowside.translate.names import Runtime, SharedNames, ShortNames, safe

_EXACT = 2**53
_KEYS = frozenset({"str", "int", "None", "Any"})
_PADDED = re.compile(r"0(\d+)d")
_ADVICE: dict[type[ast.expr], str] = {
    **dict.fromkeys((ast.Set, ast.SetComp), "write set([...])"),
    ast.GeneratorExp: "make a list or a tuple of it",
    ast.Lambda: "give a lambda as an argument, to sort by or to a parameter annotated Callable",
    ast.NamedExpr: "assign on a line of its own, before",
    **dict.fromkeys((ast.Yield, ast.YieldFrom), "return a list"),
    ast.Starred: "spread into a list or a tuple only",
}


class Atoms:
    """Writes the expressions of one module."""

    def __init__(self, core: Core, module: Module, shared: SharedNames | None = None) -> None:
        self.core = core
        self.module = module
        self.kinds = Inference(core, module)
        self.shared = shared
        """The names of one script for all modules; `None`: each module keeps its own."""
        self.py = Runtime(shared)
        self.inner_names = ShortNames(ascii_lowercase)
        """Of the function that is being written."""

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
        """The same with brackets where it is beside an operator."""
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
            return negated(self.test(node.operand))
        kinds = self.kinds.of(node)
        found = every(kinds)
        if found == {"bool"}:
            return self.value(node)
        if found == {"str"}:
            return f'{self.inner(node)} !== ""'
        if found and found <= ROWS:
            return f"{self.inner(node)}.length > 0"
        if found and found <= {"dict", "set"}:
            return f"{self.inner(node)}.size > 0"
        if found and found <= NUMBERS:
            return f"{self.inner(node)} !== 0"
        return f"{self.py['truthy']}({self.value(node)})"

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
            return number_literal(value)
        raise self.error(node, "use text, a number, True, False or None")

    def _name(self, node: ast.Name) -> str:
        if node.id == "self" and self.is_local("self"):
            return "this"
        if self.is_local(node.id):
            return self.local(node.id)
        if node.id not in self.module.defined and self.kinds.of(node) == UNKNOWN:
            raise self.error(node, "no value of this name is known here: define or import it")
        return self.outer(node.id)

    def local(self, name: str) -> str:
        """A parameter or local name as it is written."""
        return self.inner_names.of(name) if self.shared else safe(name)

    def outer(self, name: str) -> str:
        """A name that the module defines or imports."""
        if self.shared is None or name in self.module.spaces:
            return safe(name)
        return self.defined(*self.module.imported.get(name, (self.module.path, name)))

    def defined(self, path: str, name: str) -> str:
        """What a module defines, as the script has it."""
        return self.shared.of(path, name) if self.shared else safe(name)

    def member(self, name: str) -> str:
        """A field or method of a class."""
        return self.shared.member(name) if self.shared else name

    def is_local(self, name: str) -> bool:
        return any(name in scope for scope in self.kinds.scopes)

    def _attribute(self, node: ast.Attribute) -> str:
        owner = self.kinds.of(node.value)
        found = self.kinds.of(node)
        if not found or not names(owner) - PLAIN <= {"object", "class", "module"}:
            raise self.error(node, "no such field or name is known: annotate what it is asked of")
        method = any(node.attr in known.methods for known in self.core.classes_of(owner))
        if method and names(found) == {"function"}:
            raise self.error(node, "call the method here, or give a function of the module")
        if names(owner) == {"class"}:
            return f"(self, ...rest) => self.{self.member(node.attr)}(...rest)"
        if names(owner) != {"module"}:
            return f"{self.inner(node.value)}.{self.member(node.attr)}"
        path = next(kind.of for kind in owner)
        space = self.inner(node.value)
        return self.defined(path, node.attr) if self.shared else f"{space}.{safe(node.attr)}"

    def _dict(self, node: ast.Dict) -> str:
        if not node.keys:
            return "new Map()"
        pairs = list(zip(node.keys, node.values, strict=True))
        for key in filter(None, node.keys):
            self.plain_key(key)
        if None not in node.keys:
            flat = [self.value(each) for pair in pairs for each in pair if each is not None]
            return f"{self.py['map']}({', '.join(flat)})"
        parts = [
            f"...{self.inner(value)}"
            if key is None
            else f"[{self.value(key)}, {self.value(value)}]"
            for key, value in pairs
        ]
        return f"new Map([{', '.join(parts)}])"

    def plain_key(self, node: ast.expr) -> None:
        """JavaScript finds keys by identity: only text, numbers and the like serve."""
        if not every(self.kinds.of(node)) <= _KEYS:
            raise self.error(node, "a key must be a text or a whole number; join its parts")

    def _joinedstr(self, node: ast.JoinedStr) -> str:
        parts = [
            (self._formatted(part), "")
            if isinstance(part, ast.FormattedValue)
            else ("", ast.literal_eval(part))
            for part in node.values
        ]
        if any("`" in value for value, _ in parts):
            # What shortens the script does not know a template in a template.
            sides = [f"({value})" if value else text_literal(text) for value, text in parts]
            return f'("" + {" + ".join(sides)})'
        sides = [f"${{{value}}}" if value else in_template(text) for value, text in parts]
        return "`" + "".join(sides) + "`"

    def _formatted(self, node: ast.FormattedValue) -> str:
        if node.conversion != -1:
            raise self.error(node.value, "write it without ! and =")
        if node.format_spec is None:
            return self.written(node.value)
        width = _PADDED.fullmatch(ast.unparse(node.format_spec).strip("f'\""))
        if width is None or not self.kinds.only(node.value, "int"):
            raise self.error(node.value, "only whole numbers are padded, as in {n:03d}")
        return f"{self.py['padded']}({self.value(node.value)}, {int(width[1])})"

    def written(self, node: ast.expr) -> str:
        """A value as text."""
        found = every(self.kinds.of(node))
        if found and found <= {"str", "int"}:
            return self.value(node)
        if found == {"Any"}:
            return f"{self.py['text']}({self.value(node)})"
        if not found or not found <= {"str", "int", "bool", "None"}:
            raise self.error(node, "write numbers with format_decimal, and say others in words")
        return f"{self.py['str']}({self.value(node)})"


def number_literal(value: float) -> str:
    """A number in few characters: JavaScript has one kind."""
    text = repr(value).removesuffix(".0")
    return text[1:] if text.startswith("0.") else text


_CALL_OR_NAME = re.compile(r"[\w$.]+(\([^()]*\))?")
"""What `!` is about as a whole."""


def negated(test: str) -> str:
    """Not this."""
    return f"!{test}" if _CALL_OR_NAME.fullmatch(test) else f"!({test})"


def text_literal(text: str) -> str:
    """A JavaScript text; beyond U+FFFF as two escapes, which ASCII output has no other way for."""
    plain = json.dumps(text, ensure_ascii=False)
    pairs = [
        json.dumps(sign)[1:-1] if "\ud800" <= sign < "\ue000" or sign > "\uffff" else sign
        for sign in plain
    ]
    return "".join(pairs).replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def in_template(text: str) -> str:
    """Text as it is written between backticks."""
    literal = text_literal(text)[1:-1].replace('\\"', '"')
    return literal.replace("`", "\\`").replace("${", "\\${")
