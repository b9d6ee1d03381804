"""JSON of the index's rows: by a quicker library, which orjson is, and by Python's own where that
one refuses.

Both read the same values from what either writes. These differ, and rows have none but the first:
numbers below 0.0001 or from 1e16 on are written in another way; what is not a number becomes null;
a whole number past 64 bits is read as a float.
"""

import json
from typing import Any

import orjson

_OPTIONS = orjson.OPT_SORT_KEYS | orjson.OPT_PASSTHROUGH_DATACLASS
"""A dataclass as a dictionary of its own: orjson itself would not sort its fields."""
_encode = json.JSONEncoder(
    ensure_ascii=False, separators=(",", ":"), sort_keys=True, default=vars
).encode


def encoded(value: object) -> str:
    """A value with sorted names, without spaces; dataclasses within dataclasses too.
    `dataclasses.asdict` copies each value and takes as long as the fold."""
    try:
        return orjson.dumps(value, vars, _OPTIONS).decode()
    except TypeError:  # half a character, a whole number past 64 bits
        return _encode(value)


def decoded(text: str | bytes) -> Any:
    """The value of a text that `encoded` wrote, or several in one list; of any other JSON too."""
    try:
        return orjson.loads(text)
    except ValueError:
        return json.loads(text)
