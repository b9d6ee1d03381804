"""Small JSON files with a checksum inside, as a log has one in each line."""

import json
from collections.abc import Mapping
from typing import Any

from lowside.store.codec import canonical, checksum

SUM = "sum"


def sealed(content: Mapping[str, Any]) -> dict[str, Any]:
    """The object with a checksum over everything else in it."""
    return {**content, SUM: _sum(content)}


def is_sound(content: Mapping[str, Any]) -> bool:
    """Whether nothing in it was changed. One without a checksum is from before there were any."""
    return SUM not in content or content[SUM] == _sum(content)


def why_unsound(content: bytes) -> str:
    """What is wrong with such a file, as the rest of a sentence; empty when nothing is."""
    try:
        read = json.loads(content)
    except (ValueError, RecursionError):
        return "is not JSON, so it was damaged"
    is_whole = isinstance(read, dict) and is_sound(read)
    return "" if is_whole else "was changed or damaged. It is not offered"


def _sum(content: Mapping[str, Any]) -> str:
    rest = {name: value for name, value in content.items() if name != SUM}
    return checksum(canonical(rest)).decode("ascii")
