"""Functions, loops and names: what a name holds where, in both languages."""

import pytest
from tiny_core import Cores

STATEMENTS = {
    "assigned in branches": """
        def f(a: int, b: bool) -> int:
            if b:
                x = a
            elif a > 0:
                x = 2
            else:
                x = 3
            return x
    """,
    "assigned in branches and used in each": """
        def f(a: int, b: bool) -> list[int]:
            found: list[int] = []
            if b:
                x = a
                found.append(x)
            else:
                x = -a
                x = x * 2
                found.append(x)
            for _ in range(2):
                x = 7
                found.append(x)
            return found
    """,
    "assigned before and in a branch": """
        def f(a: int, b: bool) -> int:
            x = 0
            y: int = 1
            if b:
                x = a
                y += x
            return x + y
    """,
    "carried from one turn to the next": """
        def f(a: list[int]) -> list[int]:
            found: list[int] = []
            for one in a:
                if one > 0:
                    last = one
                if len(found) > 0 or one > 0:
                    found.append(last)
            return found
    """,
    "branches and then a comprehension of the same name": """
        def f(a: list[int], b: bool) -> list[int]:
            if b:
                x = a
            else:
                x = [1, 2]
            y = [x + 1 for x in x]
            return y
    """,
    "a comprehension's name does not leak": """
        def f(a: list[str], b: int) -> list[str]:
            one = b
            texts = [one + "!" for one in a]
            return [*texts, f"{one}", *{one: one for one in a}, f"{one + 1:03d}"]
    """,
    "the loop's name afterwards": """
        def f(a: list[int]) -> int:
            one = -1
            for one in a:
                if one > 2:
                    break
            return one
    """,
    "one name of two afterwards": """
        def f(a: list[tuple[str, int]]) -> list[int]:
            found: list[int] = []
            name = ""
            for name, n in a:
                found.append(n)
            return [*found, len(name)]
    """,
    "one name of two assigned before": """
        def f(a: tuple[int, str]) -> str:
            text = "a"
            if a[0] > 0:
                n, text = a
                text = text + str(n)
            return text
    """,
    "a loop's name used again": """
        def f(a: list[int], b: list[str]) -> list[str]:
            found: list[str] = []
            for one in a:
                found.append(str(one))
            for one in a:
                one = one + 1
                found.append(str(one))
            for name in b:
                for one in a:
                    found.append(name + str(one))
            return found
    """,
    "a loop over what the turn before gave": """
        def f(a: list[int]) -> list[int]:
            found: list[int] = []
            for one in a:
                for last in [one] if len(found) == 0 else [last, one + last]:
                    found.append(last)
            return found
    """,
    "a branch that asks what the turn before gave": """
        def f(a: list[int]) -> list[int]:
            found: list[int] = []
            for one in a:
                if len(found) > 0:
                    if last > one:
                        last = one
                        found.append(last)
                else:
                    last = one
                    found.append(last)
            return found
    """,
    "a loop over what its name held": """
        def f(a: list[int], c: list[list[int]]) -> int:
            for a in [a, [1]]:
                pass
            for c in [c, c + c]:
                a.extend(c[0])
            return len(a)
    """,
    "counting": """
        def f(a: int) -> list[int]:
            found: list[int] = []
            n = a % 6
            for i in range(n):
                n = 2
                found.append(i)
            for i in range(1, n):
                for j in range(i, 5):
                    found.append(i * j)
            for i in range(n, -1, -1):
                if i == 1:
                    continue
                found.append(i)
            for i in range(-3, n + 3, 2):
                found.append(i)
            for i in range(4, -2, -3):
                found.append(i)
            return found
    """,
    "names beside the counter's": """
        def f(a: int) -> list[int]:
            found: list[int] = []
            end_i = a % 5
            i_end = 7
            for i in range(end_i):
                end_i = 1
                found.append(i + end_i + i_end)
            return found
    """,
    "counters in functions made in each turn": """
        def f(a: list[int]) -> list[list[int]]:
            found: list[list[int]] = []
            for i in range(len(a)):
                found.append(sorted(a, key=lambda one: one * (1 - i * 2)))
            return found
    """,
    "while": """
        def f(a: int) -> list[int]:
            found: list[int] = []
            left = a % 20
            while left > 0:
                left -= 3
                if left == 5:
                    continue
                if left == 4:
                    break
                found.append(left)
            return [*found, left]
    """,
    "a list that grows while it is gone through": """
        def f(a: list[int]) -> list[int]:
            for one in a:
                if len(a) < 9:
                    a.append(one + 1)
            return a
    """,
    "over a dict, a text, pairs": """
        def f(a: dict[str, int], b: str) -> list[str]:
            found: list[str] = []
            for name in a:
                found.append(name)
            for name, n in a.items():
                found.append(f"{name}{n}")
            for n in a.values():
                found.append(str(n))
            for sign in b:
                found.append(sign)
            for i, sign in enumerate(b):
                found.append(sign + str(i))
            for name, sign in zip(list(a), list(a), strict=True):
                found.append(name + sign)
            for sign in reversed(b):
                found.append(sign)
            return found
    """,
    "nothing is given back": """
        def put(a: list[int], b: int) -> None:
            if b > 0:
                a.append(b)
                return
            pass

        def maybe(a: int) -> int | None:
            '''A docstring.'''
            if a > 0:
                return a
            return None

        def nothing(a: int) -> None:
            return None

        def f(a: list[int], b: int) -> list[int | None]:
            put(a, b)
            nothing(b)
            return [*a, maybe(b)]
    """,
    "raise": """
        def f(a: int, b: str) -> int:
            if a < 0:
                raise ValueError(f"{a} is below zero")
            if b == "":
                raise ValueError("nothing")
            return a
    """,
    "words of JavaScript": """
        def delete(new: int, class_: int = 1) -> int:
            return new - class_

        def f(new: int, void: str, let: list[int], arguments: int) -> list[int]:
            Map = new
            py = [new, *let]
            function = {"typeof": Map, "default": 3}
            undefined, this = (1, 2)
            async_: int = 5
            for var in py:
                this += var
            for Array in range(arguments % 3):
                py.append(Array)
            null = [export for export in py if export]
            switch = delete(class_=4, new=undefined)
            return [*null, this, len(void), function["default"], switch, async_, delete(async_)]
    """,
    "names that a dollar or a line may follow": """
        def f(new: int, new_: int, i: int) -> list[int]:
            end_i = 3
            return [new - new_ + end_i for i in range(i % 3)]
    """,
    "locals named like what the module has": """
        SIZE = 3

        def other(a: int) -> int:
            return a + SIZE

        def f(a: int, other: int) -> int:
            SIZE = other * 2
            return SIZE + a
    """,
    "defaults": """
        EMPTY: tuple[int, ...] = ()
        LIMIT = 3

        def g(a: int, b: int = -2, c: str = "x", d: int | None = None, e: tuple[int, ...] = EMPTY,
              h: int = LIMIT) -> list[int | None]:
            return [a, b, len(c), d, len(e), h]

        def f(a: int) -> list[list[int | None]]:
            return [g(a), g(a, 1), g(a, c="yy"), g(d=a, a=1), g(1, e=(1, 2), d=3), g(a, h=1, b=5)]
    """,
    "functions given": """
        from collections.abc import Callable

        def twice(a: int) -> int:
            return a * 2

        def each(a: list[int], by: Callable[[int], int]) -> list[int]:
            return [by(one) for one in a]

        def f(a: list[int], b: int) -> list[list[int]]:
            return [each(a, twice), each(a, lambda one: one + b), each(by=twice, a=[b]),
                    sorted(a, key=twice)]
    """,
    "constants wherever a value goes": """
        from dataclasses import dataclass

        ONE = 1
        HALF = 0.5
        TICK = "`"
        WORD = "${b}\\\\ °"
        LONG = "a sentence that is said at two places"
        AGAIN = LONG
        BELOW = -3
        PLACE = 2

        @dataclass(frozen=True)
        class Held:
            n: int = ONE
            word: str = WORD

            def more(self, by: int = PLACE) -> int:
                return self.n + by * PLACE - -ONE

        def g(a: int, b: str = LONG, c: float = HALF) -> list[object]:
            return [a, b, c]

        def f(a: int, b: str, rows: list[int]) -> list[object]:
            x = ONE
            x += PLACE
            x -= BELOW
            named = {WORD: ONE, b: PLACE, TICK: a}
            named[LONG] = a
            found: list[object] = [f"{ONE}{TICK}{WORD}{b}{LONG}", f"{PLACE:02d}", -PLACE, -HALF]
            for i in range(ONE, PLACE + 3):
                found.append(i * HALF)
            while x > BELOW:
                x -= PLACE
            if b == TICK or a == ONE or not b:
                found.append(TICK + WORD)
            found.extend([ONE for one in [BELOW, a] if one > ONE])
            found.append([n for n in rows if n in (ONE, PLACE, BELOW)])
            ends = rows[:PLACE] + rows[-ONE:] + [ONE if a > PLACE else BELOW]
            return [*found, ends, x, named, WORD.upper(), len(LONG), LONG[PLACE], LONG[ONE:PLACE],
                    g(a), g(ONE, c=HALF), Held(), Held().more(), Held(PLACE).more(ONE), AGAIN == b,
                    b in LONG, TICK in b, ONE < a < PLACE, min(a, ONE), a // PLACE, a % PLACE,
                    sorted(rows, key=lambda n: n * BELOW), a * ONE, a * BELOW, HALF * a, str(PLACE)]
    """,
    "constants of the module": """
        NAMES = {"a": 1, "10": 2}
        MORE: dict[str, int] = {**NAMES, "2": 3}
        PAIRS: tuple[tuple[str, int], ...] = (("x", 1), ("y", 2))
        Rows = list[int]
        MINUS = -0.0

        def f(a: Rows) -> list[object]:
            return [NAMES, MORE, [one for one, _ in PAIRS], a, MINUS]
    """,
}


@pytest.mark.parametrize("name", STATEMENTS)
def test_statements(name: str, cores: Cores) -> None:
    cores.check(STATEMENTS[name])
