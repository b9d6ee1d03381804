"""Lists, tuples, dicts, sets and what runs over them."""

import pytest
from hypothesis import strategies as st
from tiny_core import SMALL, TEXTS, Cores

ROWS = [
    "(a: list[int]) -> int: return len(a)",
    "(a: list[int]) -> int: return a[0]",
    "(a: tuple[int, ...]) -> int: return a[-1]",
    "(a: list[int | None], b: int) -> int | None: return a[b]",
    "(a: tuple[int, str]) -> str: return a[1]",
    "(a: tuple[int, str]) -> str: return a[-1]",
    "(a: list[str], b: list[str]) -> list[str]: return a + b",
    "(a: tuple[int, str], b: tuple[str, ...]) -> tuple[int | str, ...]: return a + b + (1,)",
    "(a: list[int], b: list[int]) -> list[int]: return [0, *a, -1, *b]",
    "(a: list[int]) -> tuple[int, ...]: return (*a, 5)",
    "(a: list[int]) -> list[list[int]]: return [a, list(a), [*a]]",
    "(a: tuple[int, ...]) -> list[int]: return list(a)",
    "(a: list[int]) -> tuple[int, ...]: return tuple(a)",
    "() -> tuple[int, ...]: return tuple([]) + ()",
    "(a: list[int], b: list[int]) -> bool: return a == b",
    "(a: list[list[int]], b: list[list[int]]) -> bool: return a != b",
    "(a: list[tuple[str, float]], b: list[tuple[str, float]]) -> bool: return a == b",
    "(a: list[list[int]], b: list[int]) -> bool: return b in a",
    "(a: list[int], b: int) -> bool: return b in a",
    "(a: list[float], b: float) -> bool: return b not in a",
    "(a: tuple[str, ...], b: str) -> bool: return b in a",
    "(a: list[str], b: str) -> int: return a.index(b)",
    "(a: list[list[int]], b: list[int]) -> int: return a.index(b)",
    "(a: str) -> bool: return a in ('a', 'b', '', '10')",
    "(a: str | None) -> bool: return a in (None, 'a')",
    "(a: list[int], b: int) -> list[int]: return [one + b for one in a if one > 0 if one != 3]",
    "(a: list[str]) -> list[str]: return [a for a in a]",
    "(a: list[tuple[str, int]]) -> list[str]: return [name for name, n in a if n]",
    "(a: list[tuple[str, tuple[int, int]]]) -> list[int]: return [x + y for _, (x, y) in a]",
    "(a: list[str]) -> list[tuple[int, str]]: return [(i, one) for i, one in enumerate(a)]",
    "(a: str) -> list[str]: return [f'{i}{x}' for i, (x, _) in enumerate([(b, 1) for b in a])]",
    "(a: list[int]) -> list[int]: return [one for one in reversed(a)]",
    "(a: list[int]) -> list[int]: return list(reversed(a)) + a",
    "(a: list[int], b: list[str]) -> list[tuple[int, str]]: return list(zip(a, b, strict=True))",
    "(a: int) -> list[int]: return list(range(a % 9))",
    "(a: int, b: int) -> list[int]: return [i * i for i in range(a % 9, b % 9)]",
    "(a: list[int]) -> bool: return any(one > 3 for one in a)",
    "(a: list[str]) -> bool: return all(one for one in a if one != 'a')",
    "(a: list[list[int]]) -> list[bool]: return [all(x > 3 for x in row) for row in a]",
    "(a: list[int]) -> list[int]: return sorted(a)",
    "(a: list[str]) -> list[str]: return sorted(a)",
    "(a: list[bool]) -> list[bool]: return sorted(a)",
    "(a: dict[str, int]) -> list[str]: return sorted(a)",
    "(a: list[tuple[str, int]]) -> list[tuple[str, int]]: return sorted(a)",
    "(a: list[tuple[int, str]]) -> list[object]: return sorted(a, key=lambda one: one[0] % 2)",
    "(a: list[str]) -> list[str]: return sorted(a, key=lambda one: (len(one), one))",
    "(a: list[float]) -> list[float]: return sorted(a)",
    "(a: list[tuple[float, int]]) -> list[tuple[float, int]]: return sorted(a)",
    "(a: list[str]) -> list[str]: return sorted(one + 'a' for one in a)",
    "(a: str) -> list[str]: return sorted(a)",
    "(a: str) -> int: return len(set(a))",
    "(a: list[int]) -> int: return len(set(one % 3 for one in a))",
    "(a: list[int]) -> list[int]: return list(one * 2 for one in a if one > 1)",
    "(a: list[int]) -> tuple[int, ...]: return tuple(one * 2 for one in a if one > 1)",
    "(a: list[int]) -> list[int]: return [i for i in reversed(range(len(a)))]",
    "(a: list[int]) -> list[tuple[int, int]]: return [(i, j) for i, j in enumerate(range(len(a)))]",
    "(a: tuple[int, ...]) -> list[int]: return list(reversed(a))",
    "(a: tuple[int, ...], b: int) -> int: return a.index(b)",
    "(a: list[list[int]]) -> list[list[int]]: return [[x + 1 for x in b if x > 0] for b in a if b]",
    "(a: list[list[int]]) -> bool: return any(any(x == 3 for x in b) for b in a)",
    "(a: list[int | None]) -> list[int]: return [one for one in a if one is not None]",
    "(a: list[str | None], b: str | None) -> bool: return b in a",
    "(a: tuple[int, str], b: tuple[int, str]) -> bool: return a == b or a != b and a[0] == b[0]",
    "(a: list[tuple[int, list[str]]], b: list[tuple[int, list[str]]]) -> bool: return a == b",
    "() -> list[object]: return [list(), tuple(), dict(), len(set())]",
]


@pytest.mark.parametrize("source", ROWS)
def test_rows(source: str, cores: Cores) -> None:
    cores.check(source)


NEAR = st.integers(-6, 6)


@pytest.mark.parametrize("kind", ["list[str]", "tuple[str, ...]", "str"])
def test_places_and_slices(kind: str, cores: Cores) -> None:
    rows = st.lists(TEXTS, max_size=5)
    given = {"list[str]": rows, "tuple[str, ...]": rows.map(tuple), "str": TEXTS}[kind]
    cores.check(f"(a: {kind}, i: int) -> str: return a[i]", given, NEAR)
    cores.check(f"(a: {kind}, i: int) -> str: return a[i - 1] + a[-i] + a[len(a) - 1]", given, NEAR)
    for cut in ("i:j", "i:", ":j", "-i:", ":-1", "i + 1 : j * 2"):
        cores.check(f"(a: {kind}, i: int, j: int) -> {kind}: return a[{cut}]", given, NEAR, NEAR)


CHANGES = [
    "a.append(b)",
    "a.extend([b, 7])",
    "a.extend(a)",
    "a.extend(one + 1 for one in [b])",
    "a.extend(range(b))",
    "a.extend({b: 1, 7: 2})",
    "a.append(len(a))\n            a.extend((b, *a))",
    "a.insert(b, 5)",
    "a.insert(-1, b)",
    "a.reverse()",
    "a.sort()",
    "a.sort(key=lambda one: -one)",
    "a[b] = 5",
    "a[-1] = b",
    "a[0] += b",
    "a.append(a.pop())",
    "a = a + [b]",
    "c = a\n            c.append(b)",
    "c = list(a)\n            c.append(b)",
    "c = [*a]\n            c.sort()",
]


@pytest.mark.parametrize("change", CHANGES)
def test_changes_of_a_list(change: str, cores: Cores) -> None:
    source = f"""
        def f(a: list[int], b: int) -> list[int]:
            {change}
            return a
    """
    cores.check(source, st.lists(SMALL, max_size=5), NEAR)


DICTS = [
    "(a: dict[str, int]) -> int: return len(a)",
    "(a: dict[str, int], b: str) -> int: return a[b]",
    "(a: dict[int, str], b: int) -> str: return a[b]",
    "(a: dict[str, int], b: str) -> bool: return b in a",
    "(a: dict[str, int], b: str) -> bool: return b not in a",
    "(a: dict[str, int], b: str) -> int | None: return a.get(b)",
    "(a: dict[str, int], b: str) -> int: return a.get(b, 7)",
    "(a: dict[str, int | None], b: str) -> int | None: return a.get(b, 7)",
    "(a: dict[str, int | None], b: str) -> int | None: return a.get(b)",
    "(a: dict[str, int], b: dict[str, int], c: str) -> int: return a.get(c, b['a'])",
    "(a: dict[str, list[int]], b: str) -> list[int]: return a.get(b, [])",
    "(a: dict[str, int], b: dict[str, int]) -> bool: return a == b",
    "(a: dict[str, list[int]], b: dict[str, list[int]]) -> bool: return a != b",
    "(a: dict[str, int], b: dict[str, int]) -> dict[str, int]: return a | b",
    "(a: dict[str, int], b: dict[str, int]) -> dict[str, int]: return {**a, '10': 1, **b, 'a': 2}",
    "(a: str, b: str) -> dict[str, int]: return {a: 1, b: 2, '2': 3, '1': 4, '__proto__': 5}",
    "(a: int, b: int) -> dict[int, str]: return {a: 'a', b: 'b', 3: 'c', -1: 'd'}",
    "() -> dict[str, int]: return {}",
    "(a: dict[str, int]) -> dict[str, int]: return dict(a)",
    "(a: list[str]) -> dict[str, int]: return {one: i for i, one in enumerate(a)}",
    "(a: dict[str, int]) -> dict[int, str]: return {n: name for name, n in a.items() if n > 0}",
    "(a: dict[str, int]) -> list[str]: return list(a)",
    "(a: dict[str, int]) -> list[str]: return list(a.keys()) + [one for one in a]",
    "(a: dict[str, int]) -> tuple[int, ...]: return tuple(a.values())",
    "(a: dict[str, int]) -> list[tuple[str, int]]: return list(a.items())",
    "(a: dict[str, int]) -> list[object]: return sorted(a.items(), key=lambda b: b[1])",
    "(a: dict[str, int]) -> list[str]: return list(reversed(list(a)))",
    "(a: dict[str, int], b: int) -> bool: return b in a.values()",
    "(a: dict[str, dict[str, int]], b: str) -> int: return a[b]['a']",
    "(a: dict[str, str]) -> str: return ','.join(a) + ';'.join(a.values())",
    "(a: dict[str | None, int], b: str | None) -> int | None: return a.get(b)",
    "(a: dict[str, tuple[int, str]], b: str) -> str: return a[b][1]",
    "(a: dict[int, int]) -> dict[int, int]: return {-n: key for key, n in a.items()}",
    "(a: list[tuple[str, int]]) -> dict[str, int]: return {name: n for name, n in a}",
    "(a: dict[str, int]) -> list[str]: return [name for name in a if a[name] > 0]",
    "(a: dict[str, int]) -> bool: return all(n > 0 for n in a.values())",
    "(a: dict[str, int]) -> list[str]: return [f'{i}{b}{n}' for i, (b, n) in enumerate(a.items())]",
    "(a: dict[str, int]) -> list[tuple[str, int]]: return list(zip(a, a.values(), strict=True))",
    "(a: dict[str, dict[str, list[int]]]) -> bool: return a == {'a': {'b': [1]}} or not a",
    "(a: dict[str, float]) -> dict[str, list[float]]: return {b: [n, -n] for b, n in a.items()}",
]


@pytest.mark.parametrize("source", DICTS)
def test_dicts(source: str, cores: Cores) -> None:
    cores.check(source)


DICT_CHANGES = [
    "a[b] = c",
    "a[b] = a[b] + c",
    "a[b] -= c",
    "c = a.setdefault(b, c)",
    "c = a.pop(b)",
    "c = a.pop(b, 7)",
    "a.pop(b, None)",
    "a.pop('a')",
    "a = a | {b: c}",
    "for name in list(a):\n                a.pop(name)",
    "for name, n in a.items():\n                a[name] = n + c",
]


@pytest.mark.parametrize("change", DICT_CHANGES)
def test_changes_of_a_dict(change: str, cores: Cores) -> None:
    cores.check(f"""
        def f(a: dict[str, int], b: str, c: int) -> tuple[dict[str, int], int]:
            {change}
            return (a, c)
    """)


def test_stored_none_is_there(cores: Cores) -> None:
    cores.check("""
        def f(a: dict[str, int | None], b: str) -> list[int | None]:
            found = [a.get(b, 3), a.setdefault(b, 4)]
            found.append(a.pop(b, 5))
            return [*found, len(a), a.get(b, 6)]
    """)


def test_lists_in_a_dict(cores: Cores) -> None:
    cores.check("""
        def f(a: list[tuple[str, int]]) -> dict[str, list[int]]:
            groups: dict[str, list[int]] = {}
            for name, n in a:
                groups.setdefault(name, []).append(n)
            return groups
    """)


def test_sets(cores: Cores) -> None:
    cores.check("""
        def f(a: list[str], b: str, c: list[int]) -> list[int | bool]:
            seen: set[str] = set()
            found: list[int | bool] = [len(seen)]
            for one in a:
                found.append(one in seen)
                seen.add(one)
            numbers = set([n % 5 for n in c if n])
            same = set(a) == seen and numbers == set([n % 5 for n in c if n])
            return [*found, len(seen), b not in seen, len(numbers), 3 in numbers, same]
    """)


def test_rows_of_unknown_length_taken_apart(cores: Cores) -> None:
    cores.check(
        """
        def f(a: list[int], b: tuple[int, str]) -> list[int]:
            n, text = b
            x, y = a
            x, y = y, x
            return [x, y, n, len(text)]
    """,
        st.lists(SMALL, min_size=1, max_size=3),
        st.tuples(SMALL, TEXTS),
    )


def test_values_of_a_file(cores: Cores) -> None:
    """`Any` is what JSON holds: a wrong kind is an error on both sides, not a figure."""
    cores.check(
        """
        from typing import Any

        def f(data: dict[str, Any]) -> list[object]:
            rows = [(str(row["name"]), float(row["n"]) * 2.0, int(row["n"])) for row in data["a"]]
            more = {name: bool(one) for name, one in data["b"].items()}
            last = data["a"][-1]
            said = str(last["name"]) + last["name"] + f"{last['name']}"
            same = [last["n"] == 3, data["a"] == [], last == {"name": "a", "n": 1}]
            return [rows, more, data.get("c", 3), "a" in data["b"], last["n"] * 1.5, len(data["b"]),
                    said, same, 0.5 + last["n"], [one for one in data["b"]], not data["b"]]
    """,
        st.fixed_dictionaries(
            {
                "a": st.lists(st.fixed_dictionaries({"name": TEXTS, "n": SMALL}), max_size=3),
                "b": st.dictionaries(
                    TEXTS, st.none() | TEXTS | SMALL | st.lists(SMALL), max_size=3
                ),
            }
        ),
    )
