"""Which kinds an expression can be of, where it is written: annotations followed through the code.

A local name is of every kind that is ever assigned to it in its function. mypy has checked that the
operations on it are allowed, so a kind that an operation does not take cannot be there then.
"""

import ast
from collections.abc import Sequence

from lowside.translate.kinds import (
    ANY,
    BOOL,
    CLASS,
    DICT,
    FUNCTION,
    LIST,
    MODULE,
    NONE,
    NUMBER,
    OBJECT,
    SET,
    TEXT,
    TUPLE,
    UNKNOWN,
    WHOLE,
    Class,
    Core,
    Kind,
    Kinds,
    Module,
    element,
    held,
    names,
    one,
    union,
)

_RESULTS = {
    **dict.fromkeys(("len", "int", "ord", "floor", "index", "count", "find"), one(WHOLE)),
    **dict.fromkeys(("float", "sqrt"), one(NUMBER)),
    **dict.fromkeys(("str", "join", "strip", "replace", "upper", "lower"), one(TEXT)),
    **dict.fromkeys(("isinstance", "any", "all", "bool"), one(BOOL)),
    **dict.fromkeys(("startswith", "endswith", "isdigit"), one(BOOL)),
    "range": one(LIST, one(WHOLE)),
    "split": one(LIST, one(TEXT)),
}
"""What builtins and methods give back, whatever they are asked of."""


class Inference:
    """The kinds of expressions in one module; `scopes` are the names known at this place."""

    def __init__(self, core: Core, module: Module) -> None:
        self.core = core
        self.module = module
        self.scopes: list[dict[str, Kinds]] = []

    # A function's names, before any of it is written.

    def enter(self, function: ast.FunctionDef | ast.Lambda, owner: Class | None) -> None:
        """Know a function's parameters and locals."""
        scope: dict[str, Kinds] = {}
        for arg in function.args.args:
            scope[arg.arg] = self.core.annotated(self.module, arg.annotation)
        if owner is not None:
            scope["self"] = one(OBJECT, of=f"{owner.path}.{owner.node.name}")
        self.scopes.append(scope)
        if isinstance(function, ast.FunctionDef):
            for _ in range(3):
                # A loop's body may assign what its head has used: look again until it settles.
                self._learn(function.body, scope)

    def leave(self) -> None:
        self.scopes.pop()

    def _learn(self, block: Sequence[ast.stmt], scope: dict[str, Kinds]) -> None:
        for node in block:
            if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
                scope[node.target.id] = self.core.annotated(self.module, node.annotation)
            elif isinstance(node, ast.Assign):
                self.bind(node.targets[0], self.of(node.value), scope)
            elif isinstance(node, ast.For):
                self.bind(node.target, element(self.of(node.iter)), scope)
            for part in ("body", "orelse"):
                self._learn(getattr(node, part, []), scope)

    def bind(self, target: ast.expr, kinds: Kinds, scope: dict[str, Kinds]) -> None:
        """Learn that a target takes such a value."""
        if isinstance(target, ast.Name):
            scope[target.id] = scope.get(target.id, frozenset()) | kinds
        elif isinstance(target, ast.Tuple):
            for i, part in enumerate(target.elts):
                self.bind(part, self._at(kinds, i), scope)

    def _at(self, kinds: Kinds, i: int) -> Kinds:
        found = [
            kind.parts[i] if kind.name == TUPLE and i < len(kind.parts) else element(one_of(kind))
            for kind in kinds
        ]
        return union(found)

    # Expressions.

    def of(self, node: ast.expr) -> Kinds:
        """The kinds this expression can be of."""
        method = getattr(self, f"_{type(node).__name__.lower()}", None)
        return method(node) if method is not None else UNKNOWN

    def only(self, node: ast.expr, *allowed: str) -> bool:
        """Whether it is certainly of these kinds, `None` apart."""
        found = names(self.of(node))
        return bool(found) and found <= set(allowed)

    def _constant(self, node: ast.Constant) -> Kinds:
        return one(NONE) if node.value is None else one(type(node.value).__name__)

    def _joinedstr(self, _node: ast.JoinedStr) -> Kinds:
        return one(TEXT)

    def _compare(self, _node: ast.Compare) -> Kinds:
        return one(BOOL)

    def _boolop(self, _node: ast.BoolOp) -> Kinds:
        return one(BOOL)

    def _name(self, node: ast.Name) -> Kinds:
        for scope in reversed(self.scopes):
            if node.id in scope:
                return scope[node.id]
        if node.id in self.module.spaces:
            return one(MODULE, of=self.module.spaces[node.id])
        return self.global_of(self.module, node.id)

    def global_of(self, module: Module, name: str) -> Kinds:
        """What a name of a module stands for."""
        if name in module.imported:
            where, original = module.imported[name]
            return self.global_of(self.core.modules[where], original)
        if name in module.functions:
            result = self.core.annotated(module, module.functions[name].returns)
            return one(FUNCTION, result, of=f"{module.path}.{name}")
        if name in module.classes:
            return one(CLASS, of=f"{module.path}.{name}")
        constant = module.constants.get(name)
        if isinstance(constant, ast.AnnAssign):
            return self.core.annotated(module, constant.annotation)
        return Inference(self.core, module).of(constant.value) if constant else UNKNOWN

    def _attribute(self, node: ast.Attribute) -> Kinds:
        found: list[Kinds] = []
        for kind in self.of(node.value):
            if kind.name == MODULE:
                found.append(self.global_of(self.core.modules[kind.of], node.attr))
            elif kind.name in (OBJECT, CLASS):
                found.append(self._member(self.core.named(kind.of), node.attr))
            elif kind.name == ANY:
                found.append(UNKNOWN)
        return union(found)

    def _member(self, owner: Class, name: str) -> Kinds:
        module = self.core.modules[owner.path]
        if name in owner.methods:
            result = self.core.annotated(module, owner.methods[name].returns)
            return result if owner.is_property(name) else one(FUNCTION, result)
        for part in owner.fields:
            if isinstance(part.target, ast.Name) and part.target.id == name:
                return self.core.annotated(module, part.annotation)
        made = owner.methods.get("__init__")
        if made is None:
            return frozenset()
        inside = Inference(self.core, module)
        inside.scopes.append(
            {arg.arg: self.core.annotated(module, arg.annotation) for arg in made.args.args[1:]}
        )
        for node in made.body:
            target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", 0)
            if isinstance(target, ast.Attribute) and target.attr == name:
                if isinstance(node, ast.AnnAssign):
                    return self.core.annotated(module, node.annotation)
                return inside.of(node.value) if isinstance(node, ast.Assign) else UNKNOWN
        return frozenset()

    def _ifexp(self, node: ast.IfExp) -> Kinds:
        return self.of(node.body) | self.of(node.orelse)

    def _unaryop(self, node: ast.UnaryOp) -> Kinds:
        return one(BOOL) if isinstance(node.op, ast.Not) else self.of(node.operand)

    def _binop(self, node: ast.BinOp) -> Kinds:
        left, right = self.of(node.left), self.of(node.right)
        both = names(left) | names(right)
        if isinstance(node.op, ast.BitOr):
            return frozenset(kind for kind in left | right if kind.name == DICT)
        if isinstance(node.op, ast.Add):
            if both & {LIST, TUPLE}:
                return one(LIST, element(left) | element(right))
            if TEXT in both:
                return one(TEXT)
        if isinstance(node.op, ast.Div) or NUMBER in both:
            return one(NUMBER)
        return one(WHOLE) if WHOLE in both else UNKNOWN

    def _list(self, node: ast.List) -> Kinds:
        return one(LIST, union(self._spread(part) for part in node.elts))

    def _spread(self, part: ast.expr) -> Kinds:
        return element(self.of(part.value)) if isinstance(part, ast.Starred) else self.of(part)

    def _tuple(self, node: ast.Tuple) -> Kinds:
        if any(isinstance(part, ast.Starred) for part in node.elts):
            return one(LIST, union(self._spread(part) for part in node.elts))
        return one(TUPLE, *(self.of(part) for part in node.elts))

    def _dict(self, node: ast.Dict) -> Kinds:
        keys, values = [], []
        for key, value in zip(node.keys, node.values, strict=True):
            kinds = self.of(value)
            keys.append(element(kinds) if key is None else self.of(key))
            values.append(held(kinds) if key is None else kinds)
        return one(DICT, union(keys), union(values))

    def _subscript(self, node: ast.Subscript) -> Kinds:
        kinds = self.of(node.value)
        if isinstance(node.slice, ast.Slice):
            return one(TEXT) if names(kinds) == {TEXT} else one(LIST, element(kinds))
        if isinstance(node.slice, ast.Constant) and isinstance(node.slice.value, int):
            rows = frozenset(kind for kind in kinds if kind.name != DICT)
            return held(kinds - rows) | self._at(rows, node.slice.value)
        rows = frozenset(kind for kind in kinds if kind.name in (LIST, TUPLE, TEXT))
        return held(kinds) | element(rows)

    def _listcomp(self, node: ast.ListComp | ast.GeneratorExp) -> Kinds:
        self.comprehend(node.generators)
        kinds = one(LIST, self.of(node.elt))
        self.leave()
        return kinds

    _generatorexp = _listcomp

    def _dictcomp(self, node: ast.DictComp) -> Kinds:
        self.comprehend(node.generators)
        kinds = one(DICT, self.of(node.key), self.of(node.value))
        self.leave()
        return kinds

    def _setcomp(self, node: ast.SetComp) -> Kinds:
        self.comprehend(node.generators)
        kinds = one(SET, self.of(node.elt))
        self.leave()
        return kinds

    def comprehend(self, generators: Sequence[ast.comprehension]) -> None:
        """Know a comprehension's own names, until `leave`."""
        self.scopes.append({})
        for part in generators:
            self.bind(part.target, element(self.of(part.iter)), self.scopes[-1])

    def _call(self, node: ast.Call) -> Kinds:
        called = self.of(node.func)
        results = [kind.parts[0] for kind in called if kind.name == FUNCTION and kind.parts]
        results += [one(OBJECT, of=kind.of) for kind in called if kind.name == CLASS]
        if results:
            return union(results)
        if isinstance(node.func, ast.Name):
            return self._builtin(node.func.id, node)
        if isinstance(node.func, ast.Attribute):
            return self._method(node.func, node)
        return UNKNOWN

    def _builtin(self, name: str, node: ast.Call) -> Kinds:
        first = self.of(node.args[0]) if node.args else UNKNOWN
        if name in ("max", "min"):
            return element(first) if len(node.args) == 1 else union(map(self.of, node.args))
        if name in ("abs", "replace"):
            return first
        if name in ("tuple", "list", "sorted", "reversed"):
            return one(LIST, element(first))
        if name == "set":
            return one(SET, element(first) if node.args else UNKNOWN)
        if name == "dict":
            kinds = frozenset(kind for kind in first if kind.name == DICT)
            pairs = element(first)
            return kinds or one(DICT, self._at(pairs, 0), self._at(pairs, 1))
        if name == "enumerate":
            return one(LIST, one(TUPLE, one(WHOLE), element(first)))
        if name == "zip":
            return one(LIST, one(TUPLE, *(element(self.of(arg)) for arg in node.args)))
        return _RESULTS.get(name, UNKNOWN)

    def _method(self, func: ast.Attribute, node: ast.Call) -> Kinds:
        owner = self.of(func.value)
        if func.attr in ("get", "pop", "setdefault") and names(owner) & {DICT, ANY}:
            other = self.of(node.args[1]) if len(node.args) > 1 else one(NONE)
            return held(owner) | other
        if func.attr == "pop":
            return element(owner)
        if func.attr in ("keys", "values", "items"):
            keys, values = element(owner), held(owner)
            pair = one(TUPLE, keys, values)
            return one(LIST, {"keys": keys, "values": values, "items": pair}[func.attr])
        if func.attr in ("append", "extend", "add", "sort", "reverse", "insert"):
            return one(NONE)
        return _RESULTS.get(func.attr, UNKNOWN)


def one_of(kind: Kind) -> Kinds:
    """The set of this kind alone."""
    return frozenset({kind})
