"""Makes the core's frozen dataclasses quicker to make, in a process that makes millions of them.

Python sets each field of a frozen one by a call of its own. Setting them in the instance's
dictionary takes a third of that, and a tenth less for a whole session. They stay frozen.
"""

import sys
from dataclasses import MISSING, Field, fields, is_dataclass
from typing import Any

CORE = "lowside.core."


def quicken() -> int:
    """Give every frozen dataclass of the core that is imported a quicker `__init__`.

    Returns
        How many.
    """
    found = {
        one
        for name, module in list(sys.modules.items())
        if name.startswith(CORE)
        for one in vars(module).values()
        if isinstance(one, type) and one.__module__ == name and _is_plain(one)
    }
    for one in found:
        one.__init__ = _init_of(one)  # type: ignore[misc]
    return len(found)


def _is_plain(one: type[Any]) -> bool:
    """Whether it does nothing but set its fields."""
    return (
        is_dataclass(one)
        and one.__dataclass_params__.frozen  # type: ignore[attr-defined]
        and not hasattr(one, "__post_init__")
        and not hasattr(one, "__slots__")
        and all(each.init and not each.kw_only for each in fields(one))
    )


def _init_of(one: type[Any]) -> Any:
    known: dict[str, Any] = {"MISSING": MISSING}
    lines = [f"def __init__(self, {', '.join(_argument(each, known) for each in fields(one))}):"]
    lines += ["    its = self.__dict__"]
    for each in fields(one):
        if each.default_factory is not MISSING:
            lines.append(f"    if {each.name} is MISSING: {each.name} = make_{each.name}()")
        lines.append(f"    its[{each.name!r}] = {each.name}")
    exec("\n".join(lines), known)
    return known["__init__"]


def _argument(each: "Field[Any]", known: dict[str, Any]) -> str:
    if each.default is not MISSING:
        known[f"usual_{each.name}"] = each.default
        return f"{each.name}=usual_{each.name}"
    if each.default_factory is not MISSING:
        known[f"make_{each.name}"] = each.default_factory
        return f"{each.name}=MISSING"
    return each.name
