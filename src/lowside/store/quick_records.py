"""Makes the core quicker in a process that works out thousands of sessions and ends then.

Its frozen dataclasses are no longer frozen there. Python sets each field of a frozen one by a call
of its own; without that a whole session takes a fifth less. Nothing sets a field later: mypy
sees to it, and everywhere else they stay frozen.

What was typed is understood once for each text: the same readings come again and again. The names
that entries of a kind have do too.
"""

import sys
from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from functools import lru_cache
from typing import Any

from lowside.core.handbook import fields as fields_of_forms
from lowside.core.handbook.fields import Field as FormField
from lowside.core.handbook.fields import Form
from lowside.core.numbers import units

CORE = "lowside.core."
TYPED = 20_000
"""Texts of numbers that are remembered, in 5 MB. Our choice: a reading has three or four digits."""

NAMES = 2_000
"""Sets of names that are remembered. Our choice: there are some dozens."""
ToBeRead = Callable[[Form, Mapping[str, str]], list[FormField]]


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
        del one.__setattr__, one.__delattr__
    units.parse = lru_cache(TYPED)(units.parse)
    find = fields_of_forms._to_be_read
    fields_of_forms._to_be_read = _by_names(find)  # type: ignore[assignment]
    return len(found)


def _by_names(find: ToBeRead) -> ToBeRead:
    """The same, asked once for each form and set of names: entries of a kind have the same."""
    found: dict[tuple[object, ...], tuple[Form, list[FormField]]] = {}

    def find_once(form: Form, typed: Mapping[str, str]) -> list[FormField]:
        key = (id(form), *typed)
        known = found.get(key)
        if known is None:
            if len(found) >= NAMES:
                found.clear()
            known = found[key] = (form, find(form, typed))  # kept, so its id is not given again
        return known[1]

    return find_once


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
    for each in fields(one):
        if each.default_factory is not MISSING:
            lines.append(f"    if {each.name} is MISSING: {each.name} = make_{each.name}()")
        lines.append(f"    self.{each.name} = {each.name}")
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
