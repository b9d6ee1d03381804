"""What an annotation may say, and that each is read alike: kinds decide how a value is asked."""

import pytest
from hypothesis import strategies as st
from tiny_core import NUMBERS, TEXTS, Cores


@pytest.mark.parametrize("given", ["a", "tuple(a)", "['c', *a]", "(*a, 'c')", "[]", "()"])
@pytest.mark.parametrize("kind", ["Sequence[str]", "Iterable[str]"])
def test_rows_that_may_be_lists_or_tuples(kind: str, given: str, cores: Cores) -> None:
    asked = "len(a), a[1:], a[-1] if len(a) > 0 else '', not a," if "Seq" in kind else ""
    cores.check(f"""
        from collections.abc import Iterable, Sequence

        def g(a: {kind}) -> list[object]:
            found = [one + "!" for one in a]
            for i, one in enumerate(a):
                found.append(f"{{i}}{{one}}")
            return [found, {asked}
                    "a" in a, sorted(a), ",".join(a), [*a, "x"], len(set(a)),
                    any(one == "b" for one in a), list(reversed(list(a)))]

        def f(a: list[str]) -> list[object]:
            return g({given})
    """)


@pytest.mark.parametrize("kind", ["Mapping[str, float]", "dict[str, float]"])
def test_mappings(kind: str, cores: Cores) -> None:
    cores.check(
        f"""
        from collections.abc import Mapping

        def g(a: {kind}, name: str) -> list[object]:
            found: list[object] = [one for one in a]
            for key, value in a.items():
                found.append(key)
                found.append(value * 2.0)
            return [*found, len(a), name in a, a.get(name), a.get(name, 0.5), dict(a), bool(a),
                    {{**a, "new": 1.5}}, list(a.values()), a == dict(a), sorted(a)]

        def f(a: dict[str, float], name: str) -> list[object]:
            return [g(a, name), g({{}}, name)]
    """,
        st.dictionaries(TEXTS, NUMBERS, max_size=5),
        TEXTS,
    )


def test_mappings_of_mappings(cores: Cores) -> None:
    cores.check("""
        from collections.abc import Mapping, Sequence

        Tables = Mapping[str, Mapping[int, Sequence[str]]]

        def g(a: Tables, name: str, n: int) -> list[object]:
            inner = a.get(name)
            if inner is None:
                return [name in a, len(a)]
            row = inner.get(n, ())
            return [len(inner), n in inner, len(row), [*row], list(inner)]

        def f(a: dict[str, dict[int, tuple[str, ...]]], name: str, n: int) -> list[object]:
            return [g(a, name, n), g(a, "a", n % 2), g({"a": {0: ()}}, "a", n % 2)]
    """)


def test_literals(cores: Cores) -> None:
    """A closed set of words or numbers is asked as what its members are."""
    cores.check("""
        from typing import Literal

        Word = Literal["low", "high", "10", "🔧"]
        Count = Literal[1, 2, 30]
        Way = Word | None
        LOW: Word = "low"

        def g(a: Word, way: Way, n: Count, flag: Literal[True, False] = True) -> list[object]:
            found: list[object] = [a == LOW, a != "high", len(a), a + "!", f"{a} {n:03d}", n + 1]
            names: dict[Word, int] = {"low": 1, "10": 2}
            if flag and way:
                found.append(way + a)
            found.append(names.get(a, 0))
            return [*found, way is None, way in (LOW, None), a in ("low", "🔧"), sorted([a, "a"])]

        def f(a: Literal["low", "high", "10", "🔧"], b: bool, n: Literal[1, 2, 30]) -> list[object]:
            return [g(a, None, n), g(a, a if b else None, n, flag=b)]
    """)


def test_names_of_types(cores: Cores) -> None:
    """An alias, a text in quotes and another module's name say what the type itself does."""
    first = """
        from dataclasses import dataclass
        from typing import Literal

        Side = Literal["a", "b"]
        Rows = list["Pair"]
        Found = dict[str, Rows] | None

        @dataclass(frozen=True)
        class Pair:
            side: Side
            n: float
    """
    second = """
        from collections.abc import Callable, Mapping
        from typing import Any
        from lowside.core.room import first
        from lowside.core.room.first import Found, Pair, Rows, Side

        Maker = Callable[[Side, float], Pair]

        def made(side: Side, n: float) -> "Pair":
            return Pair(side, n)

        def grouped(rows: first.Rows, by: Maker) -> "Found":
            groups: dict[str, Rows] = {}
            for row in rows:
                groups.setdefault(row.side, []).append(by(row.side, row.n * 2.0))
            return groups if len(groups) > 0 else None

        def f(a: list[float], side: bool, data: Mapping[str, Any]) -> list[object]:
            rows: Rows = [first.Pair("a" if side and n > 0.0 else "b", n) for n in a]
            found = grouped(rows, made)
            if found is None:
                return [len(data)]
            return [found, len(found), found.get("a", []), [one.n for one in rows], "n" in data]
    """
    tiny = cores.core(first=first, second=second)
    data = st.dictionaries(TEXTS | st.just("n"), st.none() | TEXTS, max_size=2)
    tiny.check("f", st.lists(NUMBERS, max_size=4), st.booleans(), data)


def test_what_is_not_a_list_is_made_one_where_a_list_goes(cores: Cores) -> None:
    cores.check("""
        from collections.abc import Iterable, Sequence

        def g(a: Sequence[str]) -> list[object]:
            return [len(a), [*a], a[0] if len(a) > 0 else None]

        def h(a: Iterable[str]) -> list[str]:
            return [one + "!" for one in a]

        def f(a: str, b: dict[str, int]) -> list[object]:
            return [g(list(a)), g(list(b)), h(list(a)), h(tuple(b)), h([one for one in b])]
    """)


def test_rows_and_dicts_that_do_not_say_of_what(cores: Cores) -> None:
    """A bare `list` is one as far as its length, its order and its parts go."""
    cores.check("""
        def g(a: list, b: dict, c: tuple) -> list[object]:
            return [len(a), a[1:], [*a, 1], len(b), list(b), not a, len(c), c[:1]]

        def f(a: list[str], b: dict[str, int], c: tuple[int, ...]) -> list[object]:
            return g(a, b, c)
    """)
