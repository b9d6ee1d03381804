"""Long lists of numbers written short, without a bit of loss; read by `static/js/sw/unpack.js`.

The property tables are smooth, so the fourth differences of a column are small whole numbers, and
these compress to less than a third of the digits themselves. A list becomes
`{"~": "d;a,b,c,e;xx…"}`: its numbers times 10^d are whole; a, b, c and e begin the list and its
first to third differences; x x … are the fourth differences. A small one is one letter: 0 is `[`,
and the letters before and after it in ASCII follow, but for the backslash. Another is its digits
and a comma. A whole number below 2^53 divided by a power of ten is rounded as the decimal text
itself would be, so every number comes out as the same double. A row of a chart may begin with
cells that hold nothing: `…;n` at the end is how many.
"""

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any

SHORTEST = 8
"""Lists of fewer numbers stay as they are."""
ORDER = 4
LETTERS = 31
"""Differences up to this are one letter, and none of them is `"` or `;`. Tried: the smallest."""
MOST_DECIMALS = 15
LARGEST = 2**49
"""Beyond this, or with more decimals, a list stays as it is."""


def packed(value: Any) -> Any:
    """`value`, parsed from JSON with `parse_float=Decimal`, with its long lists of numbers packed.

    Numbers elsewhere become floats, ready for `json.dumps`.
    """
    if isinstance(value, dict):
        return {name: packed(item) for name, item in value.items()}
    if isinstance(value, list):
        holes = 0
        while holes < len(value) and value[holes] is None:
            holes += 1
        numbers = value[holes:]
        text = _packed_list(numbers) if _are_numbers(numbers) else None
        if text is None:
            return [packed(item) for item in value]
        return {"~": text + (f";{holes}" if holes else "")}
    return float(value) if isinstance(value, Decimal) else value


def _are_numbers(items: Sequence[Any]) -> bool:
    return len(items) >= SHORTEST and all(
        isinstance(item, Decimal | int) and not isinstance(item, bool) for item in items
    )


def _packed_list(numbers: Sequence[Decimal | int]) -> str | None:
    exact = [Decimal(number) for number in numbers]
    decimals = max(0, *(-int(number.normalize().as_tuple().exponent) for number in exact))
    whole = [int(number.scaleb(decimals)) for number in exact]
    negative_zero = any(number.is_zero() and number.is_signed() for number in exact)
    if negative_zero or decimals > MOST_DECIMALS or max(map(abs, whole)) > LARGEST:
        return None
    first = []
    for _ in range(ORDER):
        first.append(whole[0])
        whole = [after - before for before, after in pairwise(whole)]
    return f"{decimals};{','.join(map(str, first))};{''.join(map(_written, whole))}"


def _written(difference: int) -> str:
    if abs(difference) > LETTERS:
        return f"{difference},"
    return chr(ord("[") + difference + (difference > 0))
