"""Calls: of what the core defines, of Python's builtins, of its containers' methods."""

import ast
from collections.abc import Callable, Sequence

from lowside.translate.expressions import Expressions
from lowside.translate.kinds import (
    NUMBERS,
    ROWS,
    Class,
    Kinds,
    Module,
    element,
    every,
    held,
    names,
    one,
)

_BUILTINS = {
    "abs": ((NUMBERS,), "Math.abs({0})"),
    "floor": ((NUMBERS,), "(Math.floor({0}) + 0)"),
    "int": ((frozenset({"int", "float", "str", "Any"}),), "{py[int]}({0})"),
    "sqrt": ((NUMBERS,), "{py[sqrt]}({0})"),
}
"""Builtin -> kinds each argument may be of, and the JavaScript."""

_ANY_TEXT, _ROW, _ALL = frozenset({"str"}), frozenset({"list"}), frozenset[str]()
_METHODS: dict[str, tuple[frozenset[str], tuple[frozenset[str], ...], str]] = {
    "append": (_ROW, (_ALL,), "{0}.push({1})"),
    "insert": (_ROW, (frozenset({"int"}), _ALL), "{0}.splice({1}, 0, {2})"),
    "reverse": (_ROW, (), "{0}.reverse()"),
    "index": (ROWS, (_ALL,), "{py[index]}({0}, {1})"),
    "upper": (_ANY_TEXT, (), "{0}.toUpperCase()"),
    "lower": (_ANY_TEXT, (), "{0}.toLowerCase()"),
    "startswith": (_ANY_TEXT, (_ANY_TEXT,), "{0}.startsWith({1})"),
    "endswith": (_ANY_TEXT, (_ANY_TEXT,), "{0}.endsWith({1})"),
    "replace": (_ANY_TEXT, (_ANY_TEXT, _ANY_TEXT), "{py[replace]}({0}, {1}, {2})"),
}
"""Method -> kinds it is asked of, kinds of its arguments (none: any), and the JavaScript."""


class Calls(Expressions):
    """Adds what a call can be to the expressions."""

    def _call(self, node: ast.Call) -> str:
        if self.kinds.of(node) == one("None"):
            raise self.error(node, "it gives nothing back: call it on a line of its own")
        return self.called(node)

    def called(self, node: ast.Call) -> str:
        """A call, also one that gives nothing back."""
        takes = self.parameters_of(node)
        if takes is not None:
            new = "new " if names(self.kinds.of(node.func)) == {"class"} else ""
            method = isinstance(node.func, ast.Attribute) and not new
            asked = self._asked(node.func) if method else self.inner(node.func)
            return f"{new}{asked}({self.passed(node, *takes)})"
        if isinstance(node.func, ast.Name):
            return self._named(node.func.id, node)
        if isinstance(node.func, ast.Attribute):
            return self._method(node.func, node)
        raise self.error(node, "call functions and methods by their names")

    def _asked(self, func: ast.expr) -> str:
        """A method or another module's function, to be called here."""
        assert isinstance(func, ast.Attribute)
        if any(self.core.classes_of(self.kinds.of(func.value))):
            return f"{self.inner(func.value)}.{self.member(func.attr)}"
        return self.inner(func)

    def parameters_of(self, node: ast.Call) -> tuple[list[str], list[Kinds]] | None:
        """Names and kinds of what is called takes, or None when it is not of the core."""
        for kind in self.kinds.of(node.func):
            if kind.name == "class":
                owner = self.core.named(kind.of)
                return owner.maker, self._field_kinds(owner)
            if kind.name == "function" and kind.of:
                path, _, name = kind.of.rpartition(".")
                module = self.core.modules[path]
                return self._arguments_of(module, module.functions[name], 0)
        if isinstance(node.func, ast.Attribute):
            for owner in self.core.classes_of(self.kinds.of(node.func.value)):
                if node.func.attr in owner.methods:
                    method = owner.methods[node.func.attr]
                    return self._arguments_of(self.core.modules[owner.path], method, 1)
        return None

    def _arguments_of(
        self, module: Module, function: ast.FunctionDef, skip: int
    ) -> tuple[list[str], list[Kinds]]:
        args = function.args.args[skip:]
        return [arg.arg for arg in args], [
            self.core.annotated(module, arg.annotation) for arg in args
        ]

    def _field_kinds(self, owner: Class) -> list[Kinds]:
        module = self.core.modules[owner.path]
        if "__init__" in owner.methods:
            return self._arguments_of(module, owner.methods["__init__"], 1)[1]
        return [self.core.annotated(module, part.annotation) for part in owner.fields]

    def passed(self, node: ast.Call, takes: Sequence[str], kinds: Sequence[Kinds]) -> str:
        """Arguments in the order they are taken; those left out in between are `undefined`."""
        given = {part.arg: part.value for part in node.keywords if part.arg}
        free = takes[len(node.args) :]
        if len(given) != len(node.keywords) or not set(given) <= set(free):
            raise self.error(node, "name each argument as the function does")
        calling = [name for name, value in given.items() if _calls_something(value)]
        if calling != [name for name in free if name in calling]:
            raise self.error(node, "arguments that call something go in the function's order")
        texts = [self.argument(arg, wanted) for arg, wanted in zip(node.args, kinds, strict=False)]
        for name, wanted in zip(free, kinds[len(node.args) :], strict=True):
            if given:
                left_out = name not in given
                texts.append("undefined" if left_out else self.argument(given.pop(name), wanted))
        return ", ".join(texts)

    def elements(self, node: ast.expr) -> Kinds:
        return element(self.kinds.of(node))

    def _named(self, name: str, node: ast.Call) -> str:
        if self.is_local(name):
            if node.keywords or names(self.kinds.of(node.func)) != {"function"}:
                raise self.error(node, "call a function annotated Callable, without names")
            return f"{self.value(node.func)}({', '.join(map(self.argument, node.args))})"
        known: Callable[[ast.Call], str] | None = getattr(self, f"_builtin_{name}", None)
        if known is None and name not in _BUILTINS:
            raise self.error(node, "no function of the core, and none the translator knows")
        if node.keywords and name not in ("sorted", "replace"):
            raise self.error(node, f"{name} takes no names here")
        if known is None:
            kinds, text = _BUILTINS[name]
            return text.format(*self._checked(node, kinds), py=self.py)
        counts = _COUNTS.get(name, (1, 1))
        if not counts[0] <= len(node.args) <= counts[1]:
            raise self.error(node, f"{name} takes another number of arguments here")
        return known(node)

    def _checked(self, node: ast.Call, kinds: Sequence[frozenset[str]]) -> list[str]:
        """The arguments, each of the kinds allowed; no kinds allow all."""
        if len(node.args) != len(kinds) or node.keywords:
            raise self.error(node, f"{len(kinds)} arguments here, without names")
        for arg, allowed in zip(node.args, kinds, strict=True):
            if allowed and not self.kinds.only(arg, *allowed):
                raise self.error(arg, f"here goes {' or '.join(sorted(allowed))}: annotate it so")
        return [self.value(arg) for arg in node.args]

    def _builtin_len(self, node: ast.Call) -> str:
        found = names(self.kinds.of(node.args[0]))
        if found and found <= ROWS:
            return f"{self.inner(node.args[0])}.length"
        if found and found <= {"dict", "set"}:
            return f"{self.inner(node.args[0])}.size"
        return f"{self.py['len']}({self.value(node.args[0])})"

    def _builtin_tuple(self, node: ast.Call) -> str:
        return self.own_array(node.args[0]) if node.args else "[]"

    _builtin_list = _builtin_tuple

    def _builtin_str(self, node: ast.Call) -> str:
        text = self.written(node.args[0])
        return f"String({text})" if every(self.kinds.of(node.args[0])) & NUMBERS else text

    def _builtin_float(self, node: ast.Call) -> str:
        if self.kinds.only(node.args[0], "Any"):
            return f"{self.py['number']}({self.value(node.args[0])})"
        if not self.kinds.only(node.args[0], *NUMBERS):
            raise self.error(node, "float takes a number; read texts with parse_decimal")
        return self.inner(node.args[0])

    def _builtin_bool(self, node: ast.Call) -> str:
        return f"({self.test(node.args[0])})"

    def _builtin_max(self, node: ast.Call) -> str:
        return self._extreme(node, "max")

    def _builtin_min(self, node: ast.Call) -> str:
        return self._extreme(node, "min")

    def _extreme(self, node: ast.Call, name: str) -> str:
        kinds = [self.elements(node.args[0])] if len(node.args) == 1 else []
        kinds = kinds or [self.kinds.of(arg) for arg in node.args]
        if not all(names(each) and names(each) <= NUMBERS for each in kinds):
            raise self.error(node, f"{name} takes numbers only")
        if len(node.args) == 1:
            return f"{self.array(node.args[0])}.reduce({self.py[name]})"
        text = self.value(node.args[0])
        for arg in node.args[1:]:
            text = f"{self.py[name]}({text}, {self.value(arg)})"
        return text

    def _builtin_range(self, node: ast.Call) -> str:
        given = self._checked(node, [frozenset({"int"})] * len(node.args))
        return f"{self.py['range']}({', '.join(given)})"

    def _builtin_sorted(self, node: ast.Call) -> str:
        return f"{self.py['sorted']}({self.array(node.args[0])}{self._key(node, node.args[0])})"

    def _key(self, node: ast.Call, sorted_: ast.expr) -> str:
        by = one("function", frozenset(), self.elements(sorted_))
        text, kinds = "", self.elements(sorted_)
        if node.keywords:
            key = node.keywords[0].value
            if len(node.keywords) > 1 or node.keywords[0].arg != "key":
                raise self.error(node, "sort by a key only")
            text = f", {self.argument(key, by)}"
            kinds = self.kinds.given_back(key, self.elements(sorted_))
        parts = kinds if names(kinds) != {"tuple"} else element(kinds)
        found = every(parts)
        if not found or not (found <= NUMBERS | {"bool"} or found <= {"str"} | NUMBERS):
            raise self.error(node, "sort by a text or a number, or a tuple of these: give a key")
        return text

    def _builtin_dict(self, node: ast.Call) -> str:
        if not node.args:
            return "new Map()"
        if names(self.kinds.of(node.args[0])) == {"dict"}:
            return f"new Map({self.value(node.args[0])})"
        raise self.error(node, "dict copies a dict; make one of pairs with {k: v for ...}")

    def _builtin_set(self, node: ast.Call) -> str:
        if node.args and not every(self.elements(node.args[0])) <= {"str", "int"}:
            raise self.error(node, "a set holds texts or whole numbers")
        return f"new Set({self.iterated(node.args[0]) if node.args else ''})"

    def _builtin_all(self, node: ast.Call) -> str:
        return self.quantified(node, "every")

    def _builtin_any(self, node: ast.Call) -> str:
        return self.quantified(node, "some")

    def _builtin_replace(self, node: ast.Call) -> str:
        known = [owner.maker for owner in self.core.classes_of(self.kinds.of(node.args[0]))]
        for part in node.keywords:
            if part.arg is None or not known or not all(part.arg in fields for fields in known):
                raise self.error(node, "replace takes fields of a dataclass, each by its name")
        changes = [
            f"{self.member(part.arg or '')}: {self.value(part.value)}" for part in node.keywords
        ]
        return f"{self.py['replaced']}({self.value(node.args[0])}, {{ {', '.join(changes)} }})"

    def _builtin_isinstance(self, node: ast.Call) -> str:
        wanted = node.args[1].elts if isinstance(node.args[1], ast.Tuple) else [node.args[1]]
        if not all(names(self.kinds.of(part)) == {"class"} for part in wanted):
            raise self.error(node, "isinstance asks for classes of the core only")
        text = self.inner(node.args[0])
        parts = [f"{text} instanceof {self.value(part)}" for part in wanted]
        return parts[0] if len(parts) == 1 else f"({' || '.join(parts)})"

    def _method(self, func: ast.Attribute, node: ast.Call) -> str:
        owner = names(self.kinds.of(func.value))
        known: Callable[[ast.Call, str, ast.expr], str] | None
        known = getattr(self, f"_method_{func.attr}", None)
        allowed = _ASKED_OF.get(func.attr, frozenset())
        if func.attr in _METHODS:
            allowed, kinds, form = _METHODS[func.attr]
            if owner and owner <= allowed:
                asked = self.inner(func.value)
                return form.format(asked, *self._checked(node, kinds), py=self.py)
        elif known is not None and owner and owner <= allowed:
            counts = _COUNTS.get("." + func.attr, (1, 1))
            if not counts[0] <= len(node.args) <= counts[1] or (
                node.keywords and func.attr != "sort"
            ):
                raise self.error(node, f"{func.attr} takes other arguments here")
            text: str = known(node, self.inner(func.value), func.value)
            return text
        raise self.error(node, f"no method the translator knows of {_said(owner)}: annotate it")

    def _method_sort(self, node: ast.Call, owner: str, asked: ast.expr) -> str:
        return f"{self.py['sort']}({owner}{self._key(node, asked)})"

    def _method_add(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        self.plain_key(node.args[0])
        return f"{owner}.add({self.value(node.args[0])})"

    def _method_get(self, node: ast.Call, owner: str, asked: ast.expr) -> str:
        self.plain_key(node.args[0])
        key = self.value(node.args[0])
        if len(node.args) == 1:
            return f"({owner}.get({key}) ?? null)"
        # `??` takes None for missing, and asks for the other value only when it needs it.
        nothing = every(held(self.kinds.of(asked))) & {"None", "Any"}
        other = node.args[1]
        if nothing or _calls_something(other) or isinstance(other, ast.Subscript):
            return f"{self.py['get']}({owner}, {key}, {self.value(other)})"
        return f"({owner}.get({key}) ?? {self.inner(other)})"

    def _method_setdefault(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        self.plain_key(node.args[0])
        return f"{self.py['set_default']}({owner}, {', '.join(map(self.value, node.args))})"

    def _method_pop(self, node: ast.Call, owner: str, asked: ast.expr) -> str:
        if bool(node.args) != (names(self.kinds.of(asked)) == {"dict"}):
            raise self.error(node, "pop takes the last of a list, or a dict's key")
        return f"{self.py['pop']}({', '.join([owner, *map(self.value, node.args)])})"

    def _method_extend(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        return f"{owner}.push(...{self.iterated(node.args[0])})"

    def _method_strip(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        signs = self._checked(node, [_ANY_TEXT] * len(node.args))
        return f"{self.py['strip']}({', '.join([owner, *signs])})"

    def _method_join(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        if every(self.elements(node.args[0])) != {"str"}:
            raise self.error(node, "join takes texts only: annotate them so")
        return f"{self.array(node.args[0])}.join({owner})"

    def _method_split(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        at = node.args[0] if node.args else None
        if not isinstance(at, ast.Constant) or not isinstance(at.value, str) or not at.value:
            raise self.error(node, "split at a text in quotes")
        return f"{owner}.split({self.value(at)})"


_COUNTS = {
    **dict.fromkeys(("tuple", "list", "dict", "set", ".strip", ".split"), (0, 1)),
    **dict.fromkeys(("range", ".get"), (1, 2)),
    **dict.fromkeys(("isinstance", ".setdefault"), (2, 2)),
    **dict.fromkeys(("max", "min"), (1, 9)),
    ".pop": (0, 2),
    ".sort": (0, 0),
}
"""Builtin or method -> fewest and most arguments; what is not here takes one."""

_ASKED_OF = {
    **dict.fromkeys(("sort", "extend"), frozenset({"list"})),
    **dict.fromkeys(("strip", "join", "split"), frozenset({"str"})),
    "add": frozenset({"set"}),
    "get": frozenset({"dict", "Any"}),
    "setdefault": frozenset({"dict"}),
    "pop": frozenset({"dict", "list"}),
}


def _said(owner: frozenset[str]) -> str:
    return " or ".join(sorted(owner)) or "what is not annotated"


def _calls_something(node: ast.expr) -> bool:
    return any(isinstance(part, ast.Call) for part in ast.walk(node))
