"""Classes and modules: fields, methods, equality, imports, in both languages."""

import pytest
from tiny_core import Cores

CLASSES = {
    "fields, methods, properties": """
        from dataclasses import dataclass, field, replace

        @dataclass(frozen=True)
        class Point:
            x: float
            y: float = 0.0
            new: str = "n"
            tags: dict[str, int] = field(default_factory=dict)
            more: list[int] = field(default_factory=list)

            @property
            def sum(self) -> float:
                return self.x + self.y

            def moved(self, by: float, twice: bool = False) -> "Point":
                '''Elsewhere.'''
                return replace(self, x=self.x + by, y=self.y + by if twice else self.y)

        def f(a: float, b: float) -> list[object]:
            one = Point(a)
            other = Point(y=b, x=a, more=[1])
            one.tags["a"] = 1
            return [one, other, one.sum, other.moved(b), other.moved(twice=True, by=a).sum,
                    Point(a, b, "z") == Point(a, b, "z"), one == other, one.new]
    """,
    "equality": """
        from dataclasses import dataclass

        @dataclass(frozen=True)
        class A:
            x: int
            rows: tuple[int, ...] = ()

        @dataclass(frozen=True)
        class B:
            x: int
            rows: tuple[int, ...] = ()

        @dataclass(frozen=True)
        class Both:
            one: A | B
            other: A | None

        def f(x: int, y: int, b: bool) -> list[bool]:
            a = A(x) if b else B(x)
            both = Both(a, None)
            found = [both, Both(A(y), A(x))]
            return [a == A(x), a != B(x), a == A(y), both == Both(A(x), None), both in found,
                    Both(A(y), A(x)) in found, [a] == [A(x)], (a, x) == (B(y), y), a == None,
                    {"a": a} == {"a": A(x)}]
    """,
    "isinstance": """
        from dataclasses import dataclass

        @dataclass(frozen=True)
        class A:
            x: int

        @dataclass(frozen=True)
        class B:
            y: str

        def make(n: int) -> A | B | str | None:
            if n % 4 == 0:
                return A(n)
            if n % 4 == 1:
                return B(str(n))
            return "text" if n % 4 == 2 else None

        def f(n: int) -> list[object]:
            one = make(n)
            found: list[object] = [isinstance(one, A), isinstance(one, (A, B))]
            found.append(isinstance(one, B))
            if isinstance(one, A):
                return [*found, one.x + 1]
            if not isinstance(one, B):
                return [*found, one is None]
            return [*found, one.y + "!"]
    """,
    "made step by step": """
        class Book:
            def __init__(self, rows: list[int], name: str = "b") -> None:
                self.rows = rows
                self.name = name
                self.seen: dict[str, int] = {}
                self.total = 0

            @property
            def size(self) -> int:
                return len(self.rows) + self.total

            def add(self, n: int, to: str = "all") -> None:
                self.total += n
                self.seen[to] = self.seen.get(to, 0) + n
                self.rows.append(n)

            def both(self, n: int) -> int:
                self.add(n)
                self.add(to=self.name, n=1)
                return self.size

        ACTS = {"add": Book.add}

        def f(rows: list[int], n: int) -> list[object]:
            book = Book(name="all", rows=rows)
            other = book if n > 0 else Book([n])
            size = book.both(n)
            act = ACTS["add"]
            act(other, 5)
            return [size, book.seen, book.rows, book.total, other.size, other is book]
    """,
    "objects sorted by a key": """
        from dataclasses import dataclass

        @dataclass(frozen=True)
        class A:
            name: str
            n: int

        def f(rows: list[tuple[str, int]]) -> list[list[A]]:
            made = [A(name, n) for name, n in rows]
            other = list(made)
            other.sort(key=lambda a: (a.n % 3, a.name))
            return [sorted(made, key=lambda a: a.name), other, made]
    """,
    "defaults and parts of each kind": """
        from dataclasses import dataclass, field, replace

        NAME = "a `word`"
        LOW = -1.5
        ROW = (1, 2)

        @dataclass(frozen=True)
        class Inner:
            n: int = 7

        @dataclass(frozen=True)
        class Outer:
            name: str = NAME
            low: float = LOW
            row: tuple[int, ...] = ROW
            inner: Inner | None = None
            flag: bool = False
            seen: set[str] = field(default_factory=set)
            rows: dict[str, list[Inner]] = field(default_factory=dict)

            @property
            def numbers(self) -> list[int]:
                return [row[0].n for row in self.rows.values()]

        def f(a: str, n: int, b: bool) -> list[object]:
            one = Outer(flag=b)
            one.seen.add(a)
            one.rows.setdefault(a, []).append(Inner(n))
            other = replace(one, inner=Inner(), name=a)
            found = other.inner.n if other.inner is not None else 0
            return [one.name, one.low, one.row, one.inner, one.flag, a in one.seen, len(one.seen),
                    one.rows, other.rows[a][0].n + found, other.name, Outer() == Outer(a), one.rows]
    """,
    "odd field names": """
        from dataclasses import dataclass, replace

        @dataclass(frozen=True)
        class Odd:
            new: int
            default: int
            prototype: int
            length: int
            toString: int
            Map: int = 3

            def delete(self, function: int) -> int:
                return self.new - function

        def f(a: int) -> list[object]:
            odd = Odd(a, 1, 2, 3, toString=4)
            changed = replace(odd, new=5, length=a)
            return [odd, changed, odd == changed, odd.delete(function=2), changed.Map]
    """,
}


@pytest.mark.parametrize("name", CLASSES)
def test_classes(name: str, cores: Cores) -> None:
    cores.check(CLASSES[name])


def test_modules_that_import_each_other(cores: Cores) -> None:
    first = """
        from dataclasses import dataclass

        Names = dict[str, int]
        LIMIT = 7

        @dataclass(frozen=True)
        class Sized:
            n: int

        def delete(new: Names) -> int:
            return len(new)
    """
    second = """
        from lowside.core.room.first import LIMIT as limit, Names, Sized as Size, delete
        from lowside.core.room import first
        from lowside.core.room import first as new

        def g(sized: Size, names: "Names") -> list[object]:
            return [first.LIMIT + limit, sized == first.Sized(3), delete(names), new.delete(names)]

        def f(names: first.Names, first_: int) -> list[object]:
            sized = new.Sized(n=first_)
            return [*g(sized, names), isinstance(sized, Size), isinstance(sized, first.Sized)]

        def h(first: int) -> int:
            return first + 1
    """
    tiny = cores.core(first=first, second=second)
    tiny.check("f")
    tiny.check("h")
