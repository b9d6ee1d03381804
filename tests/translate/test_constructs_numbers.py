"""Numbers and conditions: Python's meaning in JavaScript, to the last bit."""

import pytest
from hypothesis import strategies as st
from tiny_core import NUMBERS, SMALL, WHOLE, Cores

ARITHMETIC = [
    "(a: float, b: float) -> float: return a + b",
    "(a: float, b: float) -> float: return a - b",
    "(a: float, b: float) -> float: return a * b",
    "(a: float, b: float) -> float: return a / (1.5 if b == 0.0 else b)",
    "(a: float, b: float, c: float) -> float: return a - (b - c)",
    "(a: float, b: float, c: float) -> float: return a - b - c",
    "(a: float, b: float, c: float) -> float: return a * (b * c)",
    "(a: float, b: float, c: float) -> float: return (a + b) * c - a",
    "(a: float, b: float) -> float: return -a * -b",
    "(a: float) -> float: return -(-a)",
    "(a: float) -> float: return 0.1 + a * 3.0 - 1e16",
    "(a: float, b: int) -> float: return a * b + b",
    "(a: int, b: int) -> int: return a + b",
    "(a: int, b: int) -> int: return a - b",
    "(a: int, b: int) -> int: return a - (b - a)",
    "(a: int, b: int) -> int: return a * b",
    "(a: int) -> int: return a * -3",
    "(a: int) -> int: return a * 0",
    "(a: int) -> int: return 7 * a",
    "(a: int) -> int: return -a",
    "(a: int) -> int: return -(-a)",
    "(a: int) -> int: return -0 + a",
    "(a: int, b: int) -> float: return a / (2 if b == 0 else b)",
    "(a: int, b: int) -> int: return a // b",
    "(a: int, b: int) -> int: return a % b",
    "(a: int) -> int: return a // 60 * 60 + a % 60",
    "(a: int) -> int: return -a // 7 - -a % 7",
    "(a: float, b: float) -> float: return max(a, b)",
    "(a: float, b: float) -> float: return min(a, b)",
    "(a: float, b: float, c: float) -> float: return max(a, min(b, c), 0.0, -0.0)",
    "(a: int, b: float) -> float: return min(b, a, 3)",
    "(a: list[float]) -> float: return max(a)",
    "(a: list[float]) -> float: return min(one * 2.0 for one in a)",
    "(a: dict[str, float]) -> float: return max(a.values())",
    "(a: float) -> float: return abs(a)",
    "(a: int) -> int: return abs(a)",
    "(a: float) -> int: return int(a)",
    "(a: int) -> int: return int(a)",
    "(a: int) -> float: return float(a)",
    "(a: float) -> float: return float(int(a)) + a",
]


@pytest.mark.parametrize("source", ARITHMETIC)
def test_arithmetic(source: str, cores: Cores) -> None:
    cores.check(source)


@pytest.mark.parametrize("operator", ["//", "%"])
def test_whole_division_up_to_two_to_the_53(operator: str, cores: Cores) -> None:
    cores.check(f"(a: int, b: int) -> int: return a {operator} b", WHOLE, WHOLE)


@pytest.mark.parametrize("operator", ["<", "<=", ">", ">=", "==", "!="])
def test_comparisons(operator: str, cores: Cores) -> None:
    anything = NUMBERS | st.sampled_from((float("nan"), float("inf"), -float("inf")))
    cores.check(f"(a: float, b: float) -> bool: return a {operator} b", anything, anything)
    cores.check(f"(a: int, b: int) -> bool: return a {operator} b", WHOLE, WHOLE)
    cores.check(f"(a: int, b: float) -> bool: return a {operator} b")


@pytest.mark.parametrize("name", ["floor", "sqrt"])
def test_functions_of_math(name: str, cores: Cores) -> None:
    cores.check(f"""
        from math import {name}

        def f(a: float) -> float:
            return float({name}(a))
    """)


def test_text_read_as_a_whole_number(cores: Cores) -> None:
    typed = st.text(st.sampled_from("0123456789_+- \x1c\ufeffe.x🔧"), max_size=9) | SMALL.map(str)
    cores.check("(a: str) -> int: return int(a)", typed)


def test_whole_numbers_over_the_edges_of_int(cores: Cores) -> None:
    edges = st.sampled_from((-0.5, 0.5, -0.0, 1e15 + 0.5, -(2.0**52) - 0.5, float("inf")))
    cores.check("(a: float) -> int: return int(a)", edges | NUMBERS)


CONDITIONS = [
    "(a: int, b: int, c: int) -> bool: return a < b < c",
    "(a: int, b: int, c: int) -> bool: return a < b == c != a",
    "(a: float) -> bool: return 0.0 <= a <= 1.0 or not a < 5.0",
    "(a: bool, b: bool) -> bool: return a and b or not a and not b",
    "(a: bool, b: bool, c: bool) -> bool: return (a or b) and (b or c)",
    "(a: bool, b: bool) -> bool: return not (a and b)",
    "(a: bool, b: bool) -> bool: return a == b",
    "(a: bool, b: bool) -> bool: return (not a) == b",
    "(a: bool, b: bool, c: bool) -> bool: return a != (b == c)",
    "(a: int, b: int) -> bool: return not a == b",
    "(a: bool, b: int, c: int) -> int: return b if a else c",
    "(a: bool, b: bool) -> int: return 1 if a else 2 if b else 3",
    "(a: bool, b: bool) -> int: return (1 if a else 2) if b else 3",
    "(a: bool, b: bool) -> int: return 1 if (a if b else not a) else 2",
    "(a: bool, b: int) -> int: return (1 if a else 2) + b * (3 if a else 4)",
    "(a: int | None) -> bool: return a is None",
    "(a: int | None) -> bool: return a is not None and a > 0",
    "(a: int | None, b: int | None) -> bool: return a == b",
    "(a: int | str, b: int | str) -> bool: return a == b",
    "(a: bool | None) -> bool: return a is True",
    "(a: bool) -> bool: return a is not False",
]


@pytest.mark.parametrize("source", CONDITIONS)
def test_conditions(source: str, cores: Cores) -> None:
    cores.check(source)


TRUTHS = ["int", "float", "str", "bool", "list[int]", "dict[str, int]", "tuple[int, ...]"]
TRUTHS += ["int | None", "float | None", "str | None", "list[int] | None", "dict[str, int] | None"]
TRUTHS += ["int | str", "bool | list[str] | None"]


@pytest.mark.parametrize("kind", TRUTHS)
def test_truth(kind: str, cores: Cores) -> None:
    cores.check(f"""
        def f(a: {kind}, b: bool) -> list[bool]:
            found = [bool(a), not a, not (not a)]
            if a and b:
                found.append(True)
            elif a or b:
                found.append(False)
            while a:
                found.append(b)
                break
            return [*found, True if a else False]
    """)


def test_truth_of_sets_and_objects(cores: Cores) -> None:
    cores.check("""
        from dataclasses import dataclass

        @dataclass(frozen=True)
        class Empty:
            pass

        def f(a: list[int], b: bool) -> list[bool]:
            made = Empty() if b else None
            return [bool(set(a)), bool(made), not made, not set(a)]
    """)


AUGMENTED = [("float", "+="), ("float", "-="), ("float", "*="), ("int", "+="), ("int", "*=")]
AUGMENTED += [("int", "//="), ("int", "%="), ("str", "+="), ("tuple[int, ...]", "+=")]


@pytest.mark.parametrize(("kind", "operator"), AUGMENTED)
def test_augmented_assignment(kind: str, operator: str, cores: Cores) -> None:
    cores.check(f"""
        def f(a: {kind}, b: {kind}) -> {kind}:
            a {operator} b
            return a
    """)
    cores.check(f"""
        def f(a: dict[str, {kind}], b: {kind}, name: str) -> dict[str, {kind}]:
            a[name] = b
            a[name] {operator} b
            return a
    """)
