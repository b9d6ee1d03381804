"""Small JSON files with a checksum inside, as a log has one in each line."""

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


def _sum(content: Mapping[str, Any]) -> str:
    rest = {name: value for name, value in content.items() if name != SUM}
    return checksum(canonical(rest)).decode("ascii")
