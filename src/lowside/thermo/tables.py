"""The property tables on disk: built once, cached, read without CoolProp.

The cache's key holds CoolProp's version, the builder's source and the compositions. So a change of
any of them builds again. A damaged file in the cache counts as absent.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import Any

from lowside.cache import cache_folder, write_whole
from lowside.core.handbook.psychrometrics import PsychrometricTable, psychrometric_table_from
from lowside.core.handbook.saturation import COLUMNS, RULE_COLUMNS, PropertyTable, table_from

Components = tuple[tuple[str, float], ...]

_BUILDER = (
    "thermo/coolprop.py",
    "thermo/sweep.py",
    "thermo/build.py",
    "core/handbook/saturation.py",
)


@dataclass(frozen=True)
class Properties:
    """What the core judges by: tables by designation in list order, moist air, and the hash of
    both. Every session records the hash. `reports` says how each table was checked."""

    tables: Mapping[str, PropertyTable]
    psychrometrics: PsychrometricTable
    version: str
    reports: tuple[Mapping[str, Any], ...]


def load_properties() -> Properties:
    """The cached tables. They are built first when there are none (about 20 s).

    Raises
        OSError: the cache folder cannot be written.
    """
    return properties_from(_content(rebuild=False))


def build_properties() -> Properties:
    """Build again, whatever is cached."""
    return properties_from(_content(rebuild=True))


def properties_json() -> bytes:
    """The tables for the phone: UTF-8 JSON with `version`, `made_with`, `refrigerants` and
    `psychrometrics`, for `table_from` with `RULE_COLUMNS` and for `psychrometric_table_from`."""
    content = {key: part for key, part in _content(rebuild=False).items() if key != "reports"}
    unasked = set(COLUMNS) - set(RULE_COLUMNS)
    content["refrigerants"] = [
        {key: part for key, part in table.items() if key not in unasked}
        for table in content["refrigerants"]
    ]
    return _canonical(content)


def properties_json_path() -> Path:
    """Where the cached file is, or will be once built."""
    return cache_folder() / f"properties-{_key()}.json"


def compositions() -> dict[str, Components]:
    """Components of every refrigerant in `data/refrigerants.json`, in its order."""
    text = files("lowside").joinpath("data", "refrigerants.json").read_text(encoding="utf-8")
    return {
        entry["designation"]: tuple(
            (part["designation"], float(part["mass_percent"])) for part in entry["components"]
        )
        for entry in json.loads(text)["refrigerants"]
    }


def properties_from(content: Mapping[str, Any]) -> Properties:
    """The tables of a tables file.

    Raises
        KeyError, ValueError: it is not a tables file.
    """
    tables = {data["refrigerant"]: table_from(data, COLUMNS) for data in content["refrigerants"]}
    return Properties(
        tables,
        psychrometric_table_from(content["psychrometrics"]),
        str(content["version"]),
        tuple(content["reports"]),
    )


def _content(rebuild: bool) -> dict[str, Any]:
    path = properties_json_path()
    cached = None if rebuild else _read(path)
    if cached is not None:
        return cached
    # CoolProp takes a second to import. Only this function needs it.
    from lowside.thermo.build import build  # noqa: PLC0415

    content = build(compositions())
    content["version"] = _version(content)
    write_whole(path, _canonical(content))
    return content


def _read(path: Path) -> dict[str, Any] | None:
    try:
        content = json.loads(path.read_bytes())
    except (FileNotFoundError, ValueError):
        return None
    if not isinstance(content, dict) or "reports" not in content:
        return None
    return content if content.get("version") == _version(content) else None


def _version(content: Mapping[str, Any]) -> str:
    numbers = {key: content.get(key) for key in ("refrigerants", "psychrometrics")}
    return hashlib.sha256(_canonical(numbers)).hexdigest()[:12]


def _key() -> str:
    digest = hashlib.sha256()
    package = files("lowside")
    for name in _BUILDER:
        digest.update(package.joinpath(*name.split("/")).read_bytes())
    digest.update(_canonical(compositions()))
    return f"{version('CoolProp')}-{digest.hexdigest()[:12]}"


def _canonical(content: Any) -> bytes:
    return json.dumps(content, separators=(",", ":"), sort_keys=True).encode()
