"""The shop's own procedures on disk: one file for each revision. No file ever changes.

`DATA/procedures/<family>-<n>.json` is a whole procedure with four more fields:

- `family` and `revision`: which copy, and which save of it, from 1;
- `shipped`: id of the procedure it was made from;
- `offered`: whether new sessions may choose it.

A session names the id with the number, so an edit never reaches a session that has begun. Only the
newest revision of a family is offered.
"""

import json
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Procedure
from lowside.core.handbook.procedure_file import procedure_from
from lowside.core.handbook.saturation import PropertyTable
from lowside.core.hoses.procedure_verdict import ProcedureReview, judged
from lowside.procedures.lines import with_lines
from lowside.store import durable
from lowside.store.sealed import SUM, is_sound, sealed

FOLDER = "procedures"
PREFIX = "shop-"
LONGEST_SLUG = 32
VERDICTS_KEPT = 32
_PLAIN = "abcdefghijklmnopqrstuvwxyz0123456789"


class TakenError(Exception):
    """This revision exists already: somebody else saved meanwhile."""


@dataclass(frozen=True)
class Revision:
    """One save of a shop's own procedure."""

    family: str
    number: int
    shipped: str
    offered: bool
    procedure: Procedure


@dataclass(frozen=True)
class Shop:
    """Every readable revision by family, oldest first; a sentence for each unreadable file."""

    families: Mapping[str, tuple[Revision, ...]] = field(default_factory=dict)
    highest: Mapping[str, int] = field(default_factory=dict)
    """Highest number of each family's files, also of unreadable ones."""
    problems: tuple[str, ...] = ()

    def newest(self, family: str) -> Revision | None:
        """The last save of a family, `None` when there is no such family."""
        revisions = self.families.get(family, ())
        return revisions[-1] if revisions else None


def load_shop(folder: Path, handbook: Handbook) -> Shop:
    """Read the shop's procedures; the newest of each family is judged again.

    Args:
        folder: where they are; it need not exist.
        handbook: with the shipped procedures, cautions and tables.

    Returns
        What can be followed. `problems` names a file that cannot be read, and one that the hose
        model no longer passes. The latter is kept for sessions that began with it, and it is not
        offered.
    """
    paths = sorted(folder.glob("*.json")) if folder.is_dir() else []
    return shop_from(((path.stem, path.read_bytes) for path in paths), handbook)


def shop_from(saves: Iterable[tuple[str, Callable[[], bytes]]], handbook: Handbook) -> Shop:
    """As `load_shop`, from wherever revisions are kept: each one's id, and how to read it."""
    found: dict[str, list[Revision]] = {}
    problems: list[str] = []
    highest: dict[str, int] = {}
    for name, read in saves:
        family, _, number = name.rpartition("-")
        if number.isdecimal():
            highest[family] = max(highest.get(family, 0), int(number))
        try:
            revision = _revision(name, read(), handbook)
        except (OSError, ValueError) as error:
            problems.append(f"{name}.json is left aside: {error}")
            continue
        found.setdefault(revision.family, []).append(revision)
    families: dict[str, tuple[Revision, ...]] = {}
    for family, revisions in found.items():
        revisions.sort(key=lambda one: one.number)
        newest = revisions[-1]
        refusals = verdict_of(newest.procedure, newest.shipped, handbook).refusals
        if refusals and newest.offered:
            problems.append(
                f"“{newest.procedure.title}” is not offered any more: {refusals[0].sentence}"
            )
            revisions[-1] = replace(newest, offered=False)
        families[family] = tuple(revisions)
    return Shop(families, highest, tuple(problems))


def verdict_of(procedure: Procedure, shipped: str, handbook: Handbook) -> ProcedureReview:
    """What the model says of a shop's copy of a shipped procedure. Of the last few it is known: the
    model takes a quarter of a second, and each page about a procedure asks it."""
    same = replace(procedure, id=shipped, title="", retired=False)  # these it does not look at
    return _verdict_of(_Case(same, handbook.procedures[shipped], handbook.tables))


@dataclass(frozen=True)
class _Case:
    """What is judged. Two are equal when the model sees no difference."""

    procedure: Procedure
    shipped: Procedure
    tables: Mapping[str, PropertyTable]

    def __hash__(self) -> int:
        return hash(tuple(step.id for step in self.procedure.steps))

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, _Case)
            and self.shipped is other.shipped
            and self.tables is other.tables
            and self.procedure == other.procedure
        )


@lru_cache(maxsize=VERDICTS_KEPT)
def _verdict_of(case: _Case) -> ProcedureReview:
    return judged(case.procedure, case.shipped, case.tables)


def with_shop(handbook: Handbook, shop: Shop) -> Handbook:
    """The handbook with the shop's procedures: those that were saved or offered after copying come
    first, so the first is everyone's default. A fresh copy comes after the shipped ones."""
    offered: dict[str, Procedure] = {}
    fresh: dict[str, Procedure] = {}
    retired: dict[str, Procedure] = {}
    for revisions in shop.families.values():
        for one in revisions:
            if one.offered and one is revisions[-1] and one.number == 1:
                fresh[one.procedure.id] = replace(one.procedure, retired=False)
            elif one.offered and one is revisions[-1]:
                offered[one.procedure.id] = replace(one.procedure, retired=False)
            else:
                retired[one.procedure.id] = replace(one.procedure, retired=True)
    return replace(handbook, procedures={**offered, **handbook.procedures, **fresh, **retired})


def keep(folder: Path, revision: Revision) -> None:
    """Write a revision, whole or not at all, and wait for the disk.

    Raises
        TakenError: a revision of this number is there already.
        OSError: the disk refused; nothing changed.
    """
    durable.make_directories(folder)
    path = folder / (revision.procedure.id + ".json")
    fresh = folder / f"{path.name}.{os.getpid()}.new"
    try:
        with fresh.open("wb") as file:
            file.write(text_of(revision))
            file.flush()
            os.fsync(file.fileno())
        # A link is refused where a rename would replace what another program put there.
        os.link(fresh, path)
    except FileExistsError as error:
        raise TakenError(path.name) from error
    finally:
        fresh.unlink(missing_ok=True)
    durable.sync_directory(folder)


def text_of(revision: Revision) -> bytes:
    """A revision as it is kept."""
    text = json.dumps(sealed(_content(revision)), ensure_ascii=False, indent=1) + "\n"
    return text.encode()


def with_revision(shop: Shop, revision: Revision) -> Shop:
    """The shop after `revision` was kept."""
    earlier = shop.families.get(revision.family, ())
    return replace(
        shop,
        families={**shop.families, revision.family: (*earlier, revision)},
        highest={**shop.highest, revision.family: revision.number},
    )


def first_revision(shop: Shop, source: Procedure, shipped: str, title: str) -> Revision:
    """A copy under a name of its own."""
    family = _family(title, shop)
    procedure = replace(source, id=f"{family}-1", title=title, retired=False)
    return Revision(family, 1, shipped, True, procedure)


def next_revision(
    shop: Shop, last: Revision, procedure: Procedure, offered: bool = True
) -> Revision:
    """The save after `last`, the newest of its family."""
    number = shop.highest[last.family] + 1
    named = replace(procedure, id=f"{last.family}-{number}", retired=False)
    return Revision(last.family, number, last.shipped, offered, named)


def _family(title: str, shop: Shop) -> str:
    words = "".join(c if c in _PLAIN else " " for c in title.lower()).split()
    slug = PREFIX + ("-".join(words)[:LONGEST_SLUG].strip("-") or "own")
    family = slug
    count = 1
    while family in shop.highest:
        count += 1
        family = f"{slug}-{count}"
    return family


def _content(revision: Revision) -> dict[str, Any]:
    content = asdict(revision.procedure)
    del content["retired"]
    return {
        "family": revision.family,
        "revision": revision.number,
        "shipped": revision.shipped,
        "offered": revision.offered,
        **content,
    }


def _revision(name: str, content: bytes, handbook: Handbook) -> Revision:
    try:
        data = json.loads(content.decode("utf-8"))
    except json.JSONDecodeError as error:
        raise ValueError(f"not JSON, line {error.lineno}: {error.msg}") from error
    if not isinstance(data, dict):
        raise ValueError("it must be one object")
    if not is_sound(data):
        raise ValueError("its checksum does not match, so it was changed or damaged")
    data.pop(SUM, None)
    procedure = with_lines(procedure_from(data, handbook.cautions, name + ".json"))
    family, number, shipped = data.get("family"), data.get("revision"), data.get("shipped")
    offered = data.get("offered")
    if not isinstance(family, str) or not family.startswith(PREFIX):
        raise ValueError(f"field “family” must be a name that begins with “{PREFIX}”")
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise ValueError("field “revision” must be a number from 1")
    if procedure.id != f"{family}-{number}" or name != procedure.id:
        raise ValueError("field “id” must be the file’s name: family and revision")
    if not isinstance(shipped, str) or shipped not in handbook.procedures:
        raise ValueError(f"field “shipped” names no procedure, “{shipped}”")
    if not isinstance(offered, bool):
        raise ValueError("field “offered” must be true or false")
    _same_hardware(procedure, handbook.procedures[shipped])
    own = handbook.procedures[shipped]
    whole = replace(procedure, off_steps=own.off_steps, walk_steps=own.walk_steps)
    return Revision(family, number, shipped, offered, whole)


def _same_hardware(procedure: Procedure, shipped: Procedure) -> None:
    if procedure.volumes != shipped.volumes or procedure.valves != shipped.valves:
        raise ValueError(f"its hoses and valves are not those of “{shipped.id}”")
