"""Whole numbers up to two to the 53: exact in both languages, wherever one can be."""

import pytest
from hypothesis import strategies as st
from tiny_core import TEXTS, WHOLE, Cores

LARGEST = 2**53
EDGES = st.sampled_from((LARGEST, -LARGEST, LARGEST - 1, 1 - LARGEST, 2**32, 2**32 - 1, -(2**31)))
BIG = EDGES | WHOLE
"""Beside the ends of what is exact, those of what JavaScript's own bit signs can hold."""
HALF = st.integers(-(2**52), 2**52) | st.sampled_from((2**52, -(2**52), 2**31, 2**32, 0))
"""Two of them make a sum that is exact."""

ARITHMETIC = [
    "a + b",
    "a - b",
    "-a",
    "a - -b",
    "-a - b",
    "abs(a)",
    "abs(a - b)",
    "max(a, b)",
    "min(a, b, 0)",
    "a // 3 + b % 7",
    "a if a > b else b",
    "int(float(a)) - a + b",
]


@pytest.mark.parametrize("source", ARITHMETIC)
def test_arithmetic(source: str, cores: Cores) -> None:
    cores.check(f"(a: int, b: int) -> int: return {source}", HALF, HALF)
    cores.check(f"(a: int, b: int) -> str: return f'{{{source}}}'", HALF, HALF)


@st.composite
def factors(draw: st.DrawFn) -> tuple[int, int]:
    a = draw(BIG)
    most = LARGEST // max(abs(a), 1)
    b = draw(st.integers(-most, most) | st.sampled_from((most, -most, 0)))
    return (a, b) if draw(st.booleans()) else (b, a)


def test_products(cores: Cores) -> None:
    cores.check("(a: tuple[int, int]) -> int: return a[0] * a[1]", factors())
    cores.check("(a: tuple[int, int]) -> str: return str(a[0] * a[1])", factors())


def test_augmented_assignment(cores: Cores) -> None:
    cores.check(
        """
        def f(a: int, b: int, c: tuple[int, int]) -> list[str]:
            x = a
            x += b
            y = a
            y -= b
            z = c[0]
            z *= c[1]
            v, w = a, a
            v //= 7
            w %= 1000
            return [str(one) for one in (x, y, z, v, w)]
    """,
        HALF,
        HALF,
        factors(),
    )


def test_sums_in_a_loop(cores: Cores) -> None:
    part = st.integers(-(2**50), 2**50) | st.sampled_from((2**50, -(2**50)))
    source = """
        def f(a: list[int]) -> list[str]:
            total = 0
            for one in a:
                total += one
            return [str(total), f"{total:05d}", str(max(a)), str(min(a))]
    """
    cores.check(source, st.lists(part, max_size=8))


TEXT = [
    "(a: int) -> str: return str(a)",
    "(a: int) -> str: return f'{a}'",
    "(a: int) -> str: return f'{a:03d} {a:020d}'",
    "(a: int | None) -> str: return f'{a}'",
    "(a: int) -> int: return int(str(a))",
    "(a: int) -> int: return int(a)",
    "(a: int) -> float: return float(a)",
    "(a: int) -> float: return a * 0.1",
    "(a: int) -> float: return a / 3",
    "(a: int) -> int: return int(a / 2)",
]


@pytest.mark.parametrize("source", TEXT)
def test_texts_and_floats(source: str, cores: Cores) -> None:
    cores.check(source, BIG)


def test_floor_and_root(cores: Cores) -> None:
    source = """
        from math import floor, sqrt

        def f(a: int) -> list[float]:
            root = sqrt(abs(a))
            return [root, float(floor(root)), float(floor(a / 2)), float(floor(-a / 2))]
    """
    cores.check(source, BIG)


CONDITIONS = [
    "a < b",
    "a <= b",
    "a == b",
    "a != b",
    "a - 1 < a < a + 1",
    "bool(a)",
    "not a",
    "a in (9007199254740992, -9007199254740991, 4294967296)",
]


@pytest.mark.parametrize("source", CONDITIONS)
def test_conditions(source: str, cores: Cores) -> None:
    less = BIG.map(lambda one: max(min(one, LARGEST - 1), 1 - LARGEST))
    cores.check(f"(a: int, b: int) -> bool: return {source}", less, less | less.map(lambda b: b))


ROWS = [
    "sorted(a)",
    "sorted(a, key=lambda one: -one)",
    "sorted(a, key=lambda one: (one % 2, one))",
    "[one for one in a if one > 4294967296]",
    "[a[0], a[-1], len(a)]",
    "[a.index(b)]",
    "[*a, b, 9007199254740992, -9007199254740992, 9007199254740991]",
    "[1 if b in a else 0]",
    "[1 if [b] == a else 0, 1 if a == [b, b] else 0]",
    "[one for one in reversed(a)]",
    "[one for _, one in enumerate(a)]",
    "[one + other for one, other in zip([n // 2 for n in a], [n // 2 for n in a], strict=True)]",
    "[1 if any(one == b for one in a) else 0, 1 if all(one < b for one in a) else 0]",
]


@pytest.mark.parametrize("source", ROWS)
def test_rows(source: str, cores: Cores) -> None:
    some = st.sampled_from((LARGEST, LARGEST - 1, -LARGEST, 2**32))
    row = st.lists(BIG | some, max_size=5)
    cores.check(f"(a: list[int], b: int) -> list[int]: return {source}", row, BIG | some)


def test_keys_and_sets(cores: Cores) -> None:
    cores.check(
        """
        def f(a: dict[int, str], b: int, c: list[int]) -> list[object]:
            seen = set(c)
            seen.add(b)
            more = {one: one // 2 for one in c}
            more[b] = b
            found = [a.get(b), a.get(b, "no"), b in a, b in seen, len(seen), b - 1 in seen]
            a[b] = a.setdefault(b, "new") + "!"
            return [*found, a[b], a, more, {b: 1, 9007199254740991: 2}, a.pop(b), a, sorted(a)]
    """,
        st.dictionaries(BIG, TEXTS, max_size=4),
        st.integers(1 - LARGEST, LARGEST) | st.sampled_from((LARGEST, LARGEST - 1, 2**32)),
        st.lists(BIG, max_size=4),
    )


def test_ranges(cores: Cores) -> None:
    cores.check(
        """
        def f(a: int, b: int) -> list[list[int]]:
            up: list[int] = []
            for i in range(a, a + b % 5):
                up.append(i)
            for i in range(a + 4, a, -3):
                up.append(i)
            return [up, list(range(a, a + b % 5)), [i for i in range(a - 2, a)]]
    """,
        st.integers(3 - LARGEST, LARGEST - 5) | st.sampled_from((2**31 - 2, 2**32 - 2)),
        BIG,
    )


def test_objects_and_names(cores: Cores) -> None:
    cores.check(
        """
        from dataclasses import dataclass, replace

        MOST = 9007199254740992
        LEAST = -9007199254740991

        @dataclass(frozen=True)
        class Counted:
            n: int
            most: int = MOST

            @property
            def left(self) -> int:
                return self.most - abs(self.n)

        def f(a: int, b: int) -> list[object]:
            one = Counted(a)
            other = replace(one, n=b, most=4503599627370496)
            return [one, other, one == Counted(b), one.left, MOST, LEAST, other.n == a,
                    (a, b) == (b, a), {"n": a} == {"n": b}, [a, [b]] == [b, [a]]]
    """,
        BIG,
        BIG,
    )
