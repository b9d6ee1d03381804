"""Texts: counted and cut by code point, as Python does."""

import pytest
from hypothesis import strategies as st
from tiny_core import TEXTS, Cores

TEXT = [
    "(a: str) -> int: return len(a)",
    "(a: str, i: int) -> str: return a[i]",
    "(a: str) -> str: return a[0]",
    "(a: str) -> str: return a[-1]",
    "(a: str, i: int) -> str: return a[i:]",
    "(a: str, i: int) -> str: return a[:i]",
    "(a: str, i: int, j: int) -> str: return a[i:j]",
    "(a: str) -> str: return a[1:-1]",
    "(a: str) -> str: return a[-2:]",
    "(a: str, b: str) -> str: return a + b + 'c' + a",
    "(a: str, b: str) -> bool: return a == b",
    "(a: str, b: str) -> bool: return a != b",
    "(a: str, b: str) -> bool: return a in b",
    "(a: str, b: str) -> bool: return a not in b",
    "(a: str) -> str: return a.strip()",
    "(a: str, b: str) -> str: return a.strip(b)",
    "(a: str) -> str: return a.strip(' a\\ufeff🔧')",
    "(a: str, b: str) -> bool: return a.startswith(b)",
    "(a: str, b: str) -> bool: return a.endswith(b)",
    "(a: str) -> list[str]: return a.split('a')",
    "(a: str) -> list[str]: return a.split('🔧')",
    "(a: str) -> str: return a.replace('a', 'bb')",
    "(a: str, b: str, c: str) -> str: return a.replace(b, c)",
    "(a: str, b: str) -> str: return a.replace('', b)",
    "(a: str, b: list[str]) -> str: return a.join(b)",
    "(a: str, b: str) -> str: return ', '.join(one + a for one in b)",
    "(a: str) -> list[str]: return list(a)",
    "(a: str) -> list[str]: return [one for one in a if one != 'a']",
    "(a: str) -> str: return str(a)",
    "(a: int) -> str: return str(a)",
    "(a: int | None) -> str: return str(a)",
    "(a: bool | None) -> str: return f'{a}'",
    "(a: str | int) -> str: return str(a)",
    "(a: str, b: int) -> str: return f'{a} of {b}'",
    "(a: str) -> str: return f'{a}{a}'",
    "(a: str) -> str: return f'{{{a}}} `$${a}`'",
    "(a: str | None) -> str: return f'${a}'",
    "(a: int) -> str: return f'{a:02d}:{a // 7:05d}'",
    "(a: int) -> str: return f'{a:01d}'",
    "(a: int) -> str: return f'{a:010d}|{-a:03d}'",
    "(a: str, b: int) -> str: return f'{f\"{b}\"}-{a}'",
    "(a: str, b: bool) -> str: return f\"{'x' if b else f'`{a}`'}!\"",
    "(a: list[str]) -> str: return f'{\", \".join(a)}.'",
    "(a: str) -> str: return f'{a[0]}{a[1:]}'",
    "(a: str) -> str: return a.strip('`').replace('`', '${')",
    "(a: str | None) -> str: return 'none' if a is None else a",
    "(a: dict[str, str], b: str) -> str: return f'{a.get(b, \"`\")}{b}'",
    r"""(a: str) -> str: return a + '\u2028\x00\t\\`${a}\'"' + '\U0001f527'""",
]


@pytest.mark.parametrize("source", TEXT)
def test_texts(source: str, cores: Cores) -> None:
    cores.check(source)


def test_slices_near_the_ends(cores: Cores) -> None:
    near = st.integers(-7, 7)
    cores.check("(a: str, i: int, j: int) -> str: return a[i:j]", TEXTS, near, near)
    cores.check("(a: str, i: int) -> str: return a[i]", TEXTS, near)
    cores.check("(a: str, i: int) -> str: return a[-i:]", TEXTS, near)


@pytest.mark.parametrize("name", ["upper", "lower"])
def test_letters(name: str, cores: Cores) -> None:
    """Alike but for the few letters whose other case only the newer Unicode has."""
    tiny = cores.core(tiny=f"def f(a: str) -> str:\n    return a.{name}()\n")
    signs = [chr(i) for i in range(0x20000) if not 0xD800 <= i < 0xE000]
    answers = tiny.answers("f", [(sign,) for sign in signs])
    rows = list(zip(signs, *answers, strict=True))
    newer = [sign for sign, ours, theirs, _ in rows if ours != theirs]
    assert all(sign > "\u0180" for sign in newer)
    assert len(newer) < 200
    for sign, ours, theirs, script in rows:
        assert theirs == script
        assert ours == theirs or {"given": "'" + sign} in (ours, theirs)
    tiny.check("f", TEXTS.filter(lambda text: not set(text) & set(newer)))


@pytest.mark.parametrize("i", range(0, 0x3000, 0x400))
def test_what_is_stripped(i: int, cores: Cores) -> None:
    tiny = cores.core(tiny="def f(a: str) -> str:\n    return a.strip()\n")
    assert not tiny.differs("f", [(chr(sign),) for sign in [*range(i, i + 0x400), 0xFEFF]])
