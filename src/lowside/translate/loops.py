"""What runs over many values: lists and tuples written out, comprehensions, loops, lambdas."""

import ast
from collections.abc import Callable, Sequence
from typing import TypeGuard

from lowside.translate.atoms import Atoms
from lowside.translate.kinds import ENDLESS, ROWS, Kinds, at, element, names


class Loops(Atoms):
    """Adds what yields values one after the other."""

    def _tuple(self, node: ast.Tuple | ast.List) -> str:
        return f"[{', '.join(self._part(part) for part in node.elts)}]"

    _list = _tuple

    def _part(self, part: ast.expr) -> str:
        return (
            f"...{self.iterated(part.value)}" if isinstance(part, ast.Starred) else self.value(part)
        )

    def _listcomp(self, node: ast.ListComp | ast.GeneratorExp) -> str:
        return self._comprehension(node.generators, lambda: self.value(node.elt))

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
        if len(parts) > 1:
            raise self.error(parts[1].target, "a comprehension has one `for`; write loops")
        part = parts[0]
        text = self.array(part.iter)
        self.unpacked(part.target, element(self.kinds.of(part.iter)))
        self.kinds.comprehend([part])
        each = self.value(part.target)
        head = f"{each} =>" if each.isidentifier() else f"({each}) =>"
        for condition in part.ifs:
            text += f".filter({head} {self.test(condition)})"
        value = made()
        if finish != "map" or value != self.value(part.target) or not part.ifs:
            text += f".{finish}({head} {value})"
        self.kinds.leave()
        return text

    def quantified(self, node: ast.Call, word: str) -> str:
        """`any` and `all` of a comprehension."""
        inside = node.args[0]
        if not isinstance(inside, ast.GeneratorExp):
            raise self.error(node, "any and all take a comprehension with one `for`")
        return self._comprehension(inside.generators, lambda: self.test(inside.elt), word)

    def iterated(self, node: ast.expr) -> str:
        """What a `for … of` runs over."""
        lazy = self._lazy(node)
        if lazy is not None:
            return lazy[0]
        found = names(self.kinds.of(node))
        if found == {"Any"}:
            return f"{self.py['each']}({self.value(node)})"
        if not found or not found <= {"list", "tuple", "str"}:
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
            return f"{self.py['zip']}({self.array(node.args[0])}, {self.array(node.args[1])})", True
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and not node.args:
            name = {"items": "entries", "keys": "keys", "values": "values"}.get(node.func.attr)
            owner = names(self.kinds.of(node.func.value))
            if name is not None and owner and owner <= {"dict", "Any"}:
                return f"{self.inner(node.func.value)}.{name}()", False
        if names(self.kinds.of(node)) == {"dict"}:
            return f"{self.inner(node)}.keys()", False
        return None

    def unpacked(self, target: ast.expr, kinds: Kinds) -> None:
        """Python counts what it takes apart; JavaScript does not, so the count must be known."""
        if isinstance(target, ast.Name):
            return
        if not isinstance(target, ast.Tuple) or not kinds:
            raise self.error(target, "give each value a name of its own first")
        for kind in kinds:
            known = kind.name == "tuple" and kind.of != ENDLESS
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
        takes = ", ".join(self.local(arg.arg) for arg in node.args.args)
        head = takes if takes.isidentifier() else f"({takes})"
        text = f"{head} => {self.inner(node.body)}"
        self.kinds.leave()
        return text

    def argument(self, node: ast.expr, wanted: Kinds = frozenset()) -> str:
        """An argument; a lambda learns from the annotation what it will be given."""
        if isinstance(node, ast.Lambda):
            for kind in wanted:
                if kind.name == "function":
                    return self._function(node, kind.parts[1:])
        return self.fitting(node, wanted)

    def fitting(self, node: ast.expr, wanted: Kinds) -> str:
        """A value where an annotation says what kind it is."""
        if names(wanted) == {"float"} and names(self.kinds.of(node)) == {"int"}:
            # As a whole number Python would make 0 of `-x`, JavaScript −0.
            raise self.error(node, "a whole number where a float goes: write 0.0 or float(n)")
        if any(kind.name == "list" for kind in wanted):
            # mypy lets them pass for Iterable or Sequence; JavaScript counts and asks each its way.
            other = names(self.kinds.of(node)) - names(wanted) & {"str", "dict", "set"}
            if other:
                raise self.error(node, f"a {min(other)} where a list goes: write list(...)")
        return self.value(node)


def _calls(node: ast.expr, name: str) -> TypeGuard[ast.Call]:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name
