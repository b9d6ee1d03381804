"""Names as JavaScript allows them, and short ones for the script that phones download."""

from collections.abc import Collection, Mapping
from itertools import chain, count, product
from string import ascii_letters, ascii_uppercase

_TAKEN = """
    arguments async await break case catch class const continue debugger default delete do enum eval
    export extends false finally for function if implements import in instanceof interface let
    new null package private protected public return static super switch this throw true try
    typeof undefined var void while with yield py Array Error Map Math Number Object Set String
""".split()  # noqa: SIM905  a list of single quotes is harder to read
"""Names that JavaScript or the written code gives a meaning of its own."""

RUNTIME = "python"
"""The module that has what Python has and JavaScript lacks."""


def safe(name: str) -> str:
    """A local name JavaScript allows; no name of Python has a `$`."""
    return name + "$" if name in _TAKEN else name


class ShortNames:
    """Gives each name a short one of its own, so that none hides another that it did not hide
    before.

    Args:
        first: the letters a short name begins with. Those of a function and of its module differ.
        kept: names that stay as they are, so that no short one may be like them.
    """

    def __init__(self, first: str, kept: Collection[str] = ()) -> None:
        longer = (product(first, *[ascii_letters] * length) for length in count())
        names = ("".join(letters) for letters in chain.from_iterable(longer))
        self._free = (name for name in names if name not in _TAKEN and name not in kept)
        self._known: dict[str, str] = {}

    def of(self, name: str) -> str:
        """The short name of a name, always the same."""
        if name not in self._known:
            self._known[name] = next(self._free)
        return self._known[name]


class SharedNames:
    """Short names for what the modules of one script define: no two of them are alike.

    Args:
        kept: names that other parts of the script use.
        values: module and name of what is written as its value wherever it is used.
        members: fields and methods that keep their names.
    """

    def __init__(
        self,
        kept: Collection[str],
        values: Mapping[tuple[str, str], str],
        members: Collection[str],
    ) -> None:
        self._short = ShortNames(ascii_uppercase, kept)
        self._values = values
        self._members = members
        self._short_members = ShortNames(ascii_uppercase, members)

    def of(self, path: str, name: str) -> str:
        """What the script has for this value, always the same."""
        return self._values.get((path, name)) or self._short.of(f"{path}.{name}")

    def member(self, name: str) -> str:
        """What the script calls a field or method: the same in every class."""
        return name if name in self._members else self._short_members.of(name)


class Runtime:
    """What the functions of `runtime.js` are called."""

    def __init__(self, shared: SharedNames | None) -> None:
        self._shared = shared

    def __getitem__(self, name: str) -> str:
        return self._shared.of(RUNTIME, name) if self._shared else f"py.{name}"
