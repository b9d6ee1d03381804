"""Calls: of what the core defines, of Python's builtins, of its containers' methods."""

import ast
from collections.abc import Callable, Sequence

from lowside.translate.expressions import Expressions
from lowside.translate.kinds import (
    ANY,
    CLASS,
    DICT,
    FUNCTION,
    NONE,
    NUMBER,
    ROWS,
    SET,
    WHOLE,
    Class,
    Kinds,
    Module,
    element,
    held,
    names,
    one,
)

_IS_A: dict[str, str] = {
    "str": 'typeof {} === "string"',
    "bool": 'typeof {} === "boolean"',
    "float": 'typeof {} === "number"',
    "int": "Number.isInteger({})",
    "list": "Array.isArray({})",
    "tuple": "Array.isArray({})",
    "Sequence": "Array.isArray({})",
    "Mapping": "{} instanceof Map",
    "dict": "{} instanceof Map",
}
_SAME_IN_BOTH = {
    "append": "push",
    "add": "add",
    "upper": "toUpperCase",
    "lower": "toLowerCase",
    "startswith": "startsWith",
    "endswith": "endsWith",
    "index": "indexOf",
    "reverse": "reverse",
}
"""Methods of one argument at most that JavaScript has under another name."""


class Calls(Expressions):
    """Adds what a call can be to the expressions."""

    def _call(self, node: ast.Call) -> str:
        takes = self.parameters_of(node)
        if takes is not None:
            new = "new " if any(k.name == CLASS for k in self.kinds.of(node.func)) else ""
            return f"{new}{self.inner(node.func)}({self.passed(node, *takes)})"
        if isinstance(node.func, ast.Name):
            return self._named(node.func.id, node)
        if isinstance(node.func, ast.Attribute):
            return self._method(node.func, node)
        raise self.error(node, "call functions and methods by their names")

    def parameters_of(self, node: ast.Call) -> tuple[list[str], list[Kinds]] | None:
        """Names and kinds of what is called takes, or None when it is not of the core."""
        for kind in self.kinds.of(node.func):
            if kind.name == CLASS:
                owner = self.core.named(kind.of)
                return owner.maker, self._field_kinds(owner)
            if kind.name == FUNCTION and kind.of:
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
        texts = []
        for i, arg in enumerate(node.args):
            if isinstance(arg, ast.Starred):
                texts.append(f"...{self.iterated(arg.value)}")
            else:
                texts.append(self.argument(arg, kinds[i] if i < len(kinds) else frozenset()))
        given = {part.arg: part.value for part in node.keywords if part.arg}
        if len(given) != len(node.keywords) or not set(given) <= set(takes):
            raise self.error(node, "name each argument as the function does")
        while given:
            name = takes[len(texts)]
            wanted = kinds[len(texts)]
            texts.append(self.argument(given.pop(name), wanted) if name in given else "undefined")
        return ", ".join(texts)

    def nothing_held(self, kinds: Kinds) -> bool:
        """Whether what a dict holds may be None, so that `??` would take it for missing."""
        return bool({kind.name for kind in held(kinds)} & {NONE, ANY})

    def elements(self, node: ast.expr) -> Kinds:
        return element(self.kinds.of(node))

    def _named(self, name: str, node: ast.Call) -> str:
        known: Callable[[ast.Call], str] | None = getattr(self, f"_builtin_{name}", None)
        local = any(name in scope for scope in self.kinds.scopes)
        if known is not None and not local:
            return known(node)
        if local and not node.keywords:
            return f"{self._name(ast.Name(name))}({', '.join(map(self.argument, node.args))})"
        raise self.error(node, "no function of the core, and none the translator knows")

    def _one(self, node: ast.Call) -> str:
        if len(node.args) != 1 or node.keywords:
            raise self.error(node, "one argument, please")
        return self.value(node.args[0])

    def _builtin_len(self, node: ast.Call) -> str:
        found = names(self.kinds.of(node.args[0]))
        if found and found <= ROWS:
            return f"{self.inner(node.args[0])}.length"
        if found and found <= {DICT, SET}:
            return f"{self.inner(node.args[0])}.size"
        return f"py.len({self._one(node)})"

    def _builtin_tuple(self, node: ast.Call) -> str:
        if not node.args:
            return "[]"
        text = self.array(node.args[0])
        made = isinstance(node.args[0], ast.GeneratorExp | ast.ListComp) or text.startswith("[...")
        return text if made else f"[...{text}]"

    _builtin_list = _builtin_tuple

    def _builtin_str(self, node: ast.Call) -> str:
        text = self.written(node.args[0])
        return f"String({text})" if self.kinds.only(node.args[0], WHOLE) else text

    def _builtin_int(self, node: ast.Call) -> str:
        return f"py.int({self._one(node)})"

    def _builtin_float(self, node: ast.Call) -> str:
        if not self.kinds.only(node.args[0], WHOLE, NUMBER, ANY):
            raise self.error(node, "float takes a number; read texts with parse_decimal")
        return self.inner(node.args[0])

    def _builtin_bool(self, node: ast.Call) -> str:
        return self.test(node.args[0])

    def _builtin_abs(self, node: ast.Call) -> str:
        return f"Math.abs({self._one(node)})"

    def _builtin_sqrt(self, node: ast.Call) -> str:
        return f"Math.sqrt({self._one(node)})"

    def _builtin_floor(self, node: ast.Call) -> str:
        return f"(Math.floor({self._one(node)}) + 0)"

    def _builtin_ord(self, node: ast.Call) -> str:
        return f"{self.inner(node.args[0])}.codePointAt(0)"

    def _builtin_max(self, node: ast.Call) -> str:
        return self._extreme(node, "max")

    def _builtin_min(self, node: ast.Call) -> str:
        return self._extreme(node, "min")

    def _extreme(self, node: ast.Call, name: str) -> str:
        kinds = [self.elements(node.args[0])] if len(node.args) == 1 else []
        kinds = kinds or [self.kinds.of(arg) for arg in node.args]
        if node.keywords or not all(names(each) <= {WHOLE, NUMBER} for each in kinds):
            raise self.error(node, f"{name} takes numbers only")
        if len(node.args) == 1:
            return f"{self.array(node.args[0])}.reduce(py.{name})"
        text = self.value(node.args[0])
        for arg in node.args[1:]:
            text = f"py.{name}({text}, {self.value(arg)})"
        return text

    def _builtin_range(self, node: ast.Call) -> str:
        if not 0 < len(node.args) < 3:
            raise self.error(node, "range takes an end, or a start and an end")
        return f"py.range({', '.join(map(self.value, node.args))})"

    def _builtin_zip(self, node: ast.Call) -> str:
        if len(node.args) != 2 or not any(part.arg == "strict" for part in node.keywords):
            raise self.error(node, "zip takes two lists and strict=True")
        return f"py.zip({self.array(node.args[0])}, {self.array(node.args[1])})"

    def _builtin_reversed(self, node: ast.Call) -> str:
        return f"[...{self.array(node.args[0])}].reverse()"

    def _builtin_sorted(self, node: ast.Call) -> str:
        return f"py.sorted({self.array(node.args[0])}{self._key(node, node.args[0])})"

    def _key(self, node: ast.Call, sorted_: ast.expr) -> str:
        if not node.keywords:
            return ""
        if len(node.keywords) > 1 or node.keywords[0].arg != "key":
            raise self.error(node, "sort by a key only")
        given = one("function", frozenset(), self.elements(sorted_))
        return f", {self.argument(node.keywords[0].value, given)}"

    def _builtin_dict(self, node: ast.Call) -> str:
        return f"new Map({self._one(node) if node.args else ''})"

    def _builtin_set(self, node: ast.Call) -> str:
        return f"new Set({self.iterated(node.args[0]) if node.args else ''})"

    def _builtin_all(self, node: ast.Call) -> str:
        return self.quantified(node, "every")

    def _builtin_any(self, node: ast.Call) -> str:
        return self.quantified(node, "some")

    def _builtin_replace(self, node: ast.Call) -> str:
        changes = ", ".join(f"{part.arg}: {self.value(part.value)}" for part in node.keywords)
        return f"py.replaced({self.value(node.args[0])}, {{ {changes} }})"

    def _builtin_isinstance(self, node: ast.Call) -> str:
        asked = self.inner(node.args[0])
        parts = [self._is_a(node, asked, part) for part in _alternatives(node.args[1])]
        return parts[0] if len(parts) == 1 else f"({' || '.join(parts)})"

    def _is_a(self, node: ast.Call, asked: str, part: ast.expr) -> str:
        if isinstance(part, ast.Name) and part.id in _IS_A:
            return _IS_A[part.id].format(asked)
        if names(self.kinds.of(part)) != {CLASS}:
            raise self.error(node, "isinstance knows the core's classes and Python's own kinds")
        return f"{asked} instanceof {self.value(part)}"

    def _method(self, func: ast.Attribute, node: ast.Call) -> str:
        known: Callable[[ast.Call, str, ast.expr], str] | None
        known = getattr(self, f"_method_{func.attr}", None)
        if known is not None and not node.keywords:
            text: str = known(node, self.inner(func.value), func.value)
            return text
        if func.attr in _SAME_IN_BOTH and len(node.args) < 2 and not node.keywords:
            given = "".join(self.value(arg) for arg in node.args)
            return f"{self.inner(func.value)}.{_SAME_IN_BOTH[func.attr]}({given})"
        if func.attr == "sort":
            return f"py.sort({self.inner(func.value)}{self._key(node, func.value)})"
        raise self.error(node, "a method the translator does not know")

    def _method_get(self, node: ast.Call, owner: str, asked: ast.expr) -> str:
        kinds = self.kinds.of(asked)
        self.plain_key(node.args[0])
        key = self.value(node.args[0])
        other = self.inner(node.args[1]) if len(node.args) > 1 else "null"
        if names(kinds) != {DICT} or (other != "null" and self.nothing_held(kinds)):
            return f"py.get({owner}, {key}, {other})"
        return f"({owner}.get({key}) ?? {other})"

    def _method_setdefault(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        self.plain_key(node.args[0])
        return f"py.set_default({owner}, {', '.join(map(self.value, node.args))})"

    def _method_pop(self, node: ast.Call, owner: str, asked: ast.expr) -> str:
        if names(self.kinds.of(asked)) == {DICT}:
            return f"{owner}.delete({self.value(node.args[0])})"
        if node.args:
            raise self.error(node, "pop takes the last of a list, or a dict's key")
        return f"{owner}.pop()"

    def _method_extend(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        return f"{owner}.push(...{self.iterated(node.args[0])})"

    def _method_insert(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        return f"{owner}.splice({self.value(node.args[0])}, 0, {self.value(node.args[1])})"

    def _method_keys(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        return f"[...{self.iterated(node)}]"

    _method_values = _method_keys
    _method_items = _method_keys

    def _method_strip(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        return f"py.strip({', '.join([owner, *map(self.value, node.args)])})"

    def _method_join(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        return f"{self.array(node.args[0])}.join({owner})"

    def _method_split(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        if len(node.args) != 1:
            return f"py.words({owner})"
        return f"{owner}.split({self.value(node.args[0])})"

    def _method_replace(self, node: ast.Call, owner: str, _asked: ast.expr) -> str:
        old, new = node.args
        return f"{owner}.replaceAll({self.value(old)}, () => {self.value(new)})"


def _alternatives(node: ast.expr) -> list[ast.expr]:
    if isinstance(node, ast.BinOp):
        return [*_alternatives(node.left), *_alternatives(node.right)]
    return list(node.elts) if isinstance(node, ast.Tuple) else [node]
