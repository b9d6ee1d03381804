"""Which kinds an expression can be of, where it is written: annotations followed through the code.

A local name is of every kind that is ever assigned to it in its function. mypy has checked that the
operations on it are allowed, so a kind that an operation does not take cannot be there then.
"""

import ast
from collections.abc import Sequence

from lowside.translate.kinds import (
    ENDLESS,
    ROWS,
    UNKNOWN,
    Class,
    Core,
    Kinds,
    Module,
    at,
    element,
    held,
    name_of,
    names,
    one,
    union,
    values,
)
from lowside.translate.scopes import stored_in

_RESULTS = {
    **dict.fromkeys(("len", "int", "floor", "index"), one("int")),
    **dict.fromkeys(("float", "sqrt"), one("float")),
    **dict.fromkeys(("str", "join", "strip", "replace", "upper", "lower"), one("str")),
    **dict.fromkeys(("isinstance", "any", "all", "bool", "startswith", "endswith"), one("bool")),
    **dict.fromkeys(("append", "extend", "add", "sort", "reverse", "insert"), one("None")),
    "range": one("list", one("int")),
    "split": one("list", one("str")),
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
            scope["self"] = one("object", of=f"{owner.path}.{owner.node.name}")
        self.scopes.append(scope)
        if isinstance(function, ast.FunctionDef):
            self._settle(function, scope)

    def leave(self) -> None:
        self.scopes.pop()

    def _settle(self, function: ast.FunctionDef, scope: dict[str, Kinds]) -> None:
        """A loop's body may assign what its head has used: look again until nothing is new."""
        for name in stored_in(*function.body):
            scope.setdefault(name, frozenset())
        for _ in range(8):
            before = dict(scope)
            self._learn(function.body, scope)
            if scope == before:
                return
        raise self.module.error(function, "what its names hold grows without end; annotate them")

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
                self.bind(part, at(kinds, i), scope)

    # Expressions.

    def of(self, node: ast.expr) -> Kinds:
        """The kinds this expression can be of."""
        method = getattr(self, f"_{type(node).__name__.lower()}", None)
        return method(node) if method is not None else UNKNOWN

    def only(self, node: ast.expr, *allowed: str) -> bool:
        """Whether it is certainly of these kinds; see `values`."""
        found = values(self.of(node))
        return bool(found) and found <= set(allowed)

    def _constant(self, node: ast.Constant) -> Kinds:
        return one(name_of(node))

    def _joinedstr(self, _node: ast.JoinedStr) -> Kinds:
        return one("str")

    def _compare(self, _node: ast.Compare) -> Kinds:
        return one("bool")

    def _boolop(self, _node: ast.BoolOp) -> Kinds:
        return one("bool")

    def _name(self, node: ast.Name) -> Kinds:
        for scope in reversed(self.scopes):
            if node.id in scope:
                return scope[node.id]
        if node.id in self.module.spaces:
            return one("module", of=self.module.spaces[node.id])
        return self.global_of(self.module, node.id)

    def global_of(self, module: Module, name: str) -> Kinds:
        """What a name means in a module."""
        place = (module.path, name)
        if place not in self.core.found:
            self.core.found[place] = self._defined(module, name)
        return self.core.found[place]

    def _defined(self, module: Module, name: str) -> Kinds:
        if name in module.imported:
            where, original = module.imported[name]
            return self.global_of(self.core.module(where), original)
        if name in module.functions:
            result = self.core.annotated(module, module.functions[name].returns)
            return one("function", result, of=f"{module.path}.{name}")
        if name in module.classes:
            return one("class", of=f"{module.path}.{name}")
        constant = module.constants.get(name)
        if isinstance(constant, ast.AnnAssign):
            return self.core.annotated(module, constant.annotation)
        return Inference(self.core, module).of(constant.value) if constant else UNKNOWN

    def _attribute(self, node: ast.Attribute) -> Kinds:
        found: list[Kinds] = []
        for kind in self.of(node.value):
            if kind.name == "module":
                found.append(self.global_of(self.core.module(kind.of), node.attr))
            elif kind.name in ("object", "class"):
                place = (kind.of, node.attr)
                if place not in self.core.found:
                    self.core.found[place] = self._member(self.core.named(kind.of), node.attr)
                found.append(self.core.found[place])
            elif kind.name == "Any":
                found.append(UNKNOWN)
        return union(found)

    def _member(self, owner: Class, name: str) -> Kinds:
        module = self.core.modules[owner.path]
        if name in owner.methods:
            result = self.core.annotated(module, owner.methods[name].returns)
            return result if owner.is_property(name) else one("function", result)
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
        return one("bool") if isinstance(node.op, ast.Not) else self.of(node.operand)

    def _binop(self, node: ast.BinOp) -> Kinds:
        left, right = self.of(node.left), self.of(node.right)
        both = names(left) | names(right)
        if isinstance(node.op, ast.BitOr):
            return frozenset(kind for kind in left | right if kind.name == "dict")
        if isinstance(node.op, ast.Add):
            if both & ROWS:
                return self._row(left | right, element(left) | element(right))
            if "str" in both:
                return one("str")
        if isinstance(node.op, ast.Div) or "float" in both:
            return one("float")
        return one("int") if "int" in both else UNKNOWN

    def _row(self, kinds: Kinds, held: Kinds) -> Kinds:
        """A row of any length, made of such rows."""
        return one("tuple", held, of=ENDLESS) if names(kinds) == {"tuple"} else one("list", held)

    def _list(self, node: ast.List) -> Kinds:
        return one("list", union(self._spread(part) for part in node.elts))

    def _spread(self, part: ast.expr) -> Kinds:
        return element(self.of(part.value)) if isinstance(part, ast.Starred) else self.of(part)

    def _tuple(self, node: ast.Tuple) -> Kinds:
        if any(isinstance(part, ast.Starred) for part in node.elts):
            return one("tuple", union(self._spread(part) for part in node.elts), of=ENDLESS)
        return one("tuple", *(self.of(part) for part in node.elts))

    def _dict(self, node: ast.Dict) -> Kinds:
        keys, values = [], []
        for key, value in zip(node.keys, node.values, strict=True):
            kinds = self.of(value)
            keys.append(element(kinds) if key is None else self.of(key))
            values.append(held(kinds) if key is None else kinds)
        return one("dict", union(keys), union(values))

    def _subscript(self, node: ast.Subscript) -> Kinds:
        kinds = self.of(node.value)
        if isinstance(node.slice, ast.Slice):
            return one("str") if names(kinds) == {"str"} else self._row(kinds, element(kinds))
        rows = frozenset(kind for kind in kinds if kind.name in ("list", "tuple", "str"))
        place = whole_number(node.slice)
        return held(kinds) | (element(rows) if place is None else at(rows, place))

    def _listcomp(self, node: ast.ListComp | ast.GeneratorExp) -> Kinds:
        self.comprehend(node.generators)
        kinds = one("list", self.of(node.elt))
        self.leave()
        return kinds

    _generatorexp = _listcomp

    def _dictcomp(self, node: ast.DictComp) -> Kinds:
        self.comprehend(node.generators)
        kinds = one("dict", self.of(node.key), self.of(node.value))
        self.leave()
        return kinds

    def comprehend(self, generators: Sequence[ast.comprehension]) -> None:
        """Know a comprehension's own names, until `leave`."""
        self.scopes.append({})
        for part in generators:
            self.bind(part.target, element(self.of(part.iter)), self.scopes[-1])

    def _call(self, node: ast.Call) -> Kinds:
        called = self.of(node.func)
        results = [kind.parts[0] for kind in called if kind.name == "function" and kind.parts]
        results += [one("object", of=kind.of) for kind in called if kind.name == "class"]
        if results:
            return union(results)
        if isinstance(node.func, ast.Name):
            return self._builtin(node.func.id, node)
        if isinstance(node.func, ast.Attribute):
            return self._method(node.func, node)
        return UNKNOWN

    def given_back(self, function: ast.expr, given: Kinds) -> Kinds:
        """What a function or a lambda gives back when it is given this."""
        if not isinstance(function, ast.Lambda):
            return union(kind.parts[0] for kind in self.of(function) if kind.parts)
        self.scopes.append({arg.arg: given for arg in function.args.args})
        kinds = self.of(function.body)
        self.leave()
        return kinds

    def _builtin(self, name: str, node: ast.Call) -> Kinds:
        first = self.of(node.args[0]) if node.args else UNKNOWN
        if name in ("max", "min"):
            return element(first) if len(node.args) == 1 else union(map(self.of, node.args))
        if name in ("abs", "replace"):
            return first
        if name in ("list", "sorted", "reversed"):
            return one("list", element(first) if node.args else frozenset())
        if name == "tuple":
            return one("tuple", element(first) if node.args else frozenset(), of=ENDLESS)
        if name == "set":
            return one("set", element(first) if node.args else UNKNOWN)
        if name == "dict":
            kinds = frozenset(kind for kind in first if kind.name == "dict")
            pairs = element(first)
            return kinds or one("dict", at(pairs, 0), at(pairs, 1))
        if name == "enumerate":
            return one("list", one("tuple", one("int"), element(first)))
        if name == "zip":
            return one("list", one("tuple", *(element(self.of(arg)) for arg in node.args)))
        return _RESULTS.get(name, UNKNOWN)

    def _method(self, func: ast.Attribute, node: ast.Call) -> Kinds:
        owner = self.of(func.value)
        if func.attr in ("get", "pop", "setdefault") and names(owner) & {"dict", "Any"}:
            other = self.of(node.args[1]) if len(node.args) > 1 else one("None")
            return held(owner) | other
        if func.attr == "pop":
            return element(owner)
        if func.attr in ("keys", "values", "items"):
            keys, values = element(owner), held(owner)
            pair = one("tuple", keys, values)
            return one("list", {"keys": keys, "values": values, "items": pair}[func.attr])
        return _RESULTS.get(func.attr, UNKNOWN)


def whole_number(node: ast.expr) -> int | None:
    """The whole number written here, if it is one."""
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        positive = whole_number(node.operand)
        return None if positive is None else -positive
    value = node.value if isinstance(node, ast.Constant) else None
    return value if type(value) is int else None
