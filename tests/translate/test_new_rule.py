"""A rule that is added to the core is on the phone, and nobody touched any JavaScript."""

import shutil
from pathlib import Path
from typing import Any

import strategies
from made_up_sessions import FRESH, SID, charging_step
from phone_core import exactly, pairs, running_core, script_of, sent

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import FORM, Address, path
from lowside.core.pages.recording import Record, record_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import Page, view
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.rendering import render
from lowside.translate.phone import CORE

SENTENCES = "SENTENCES: dict[str, str] = {\n"

SAID = "The motor hums at {amps}. No unit of ours does."
BY_HAND = '    return [Finding("drier", REFUSE)] if reading.drier == COLDER else []\n'
FINDING = f"""\
    if reading.compressor_a is not None and reading.compressor_a > 19.0:
        return [Finding("humming", WARN, (Fact("amps", "current", reading.compressor_a),))]
{BY_HAND}"""

REFUSED = "No compressor here draws that much. Read the clamp again."
BEFORE = """\
    if not fields.numbers and not fields.problems:
        return "Nothing"""
LIMIT = f"""\
    if fields.numbers.get("compressor_amps", 0.0) > 190.0:
        return "{REFUSED}"
{BEFORE}"""


def test_a_new_finding_in_the_core_is_on_the_phones_page(
    tmp_path: Path, handbook: Handbook
) -> None:
    core = shutil.copytree(CORE, tmp_path / "core")
    _put(core / "judging" / "conditions.py", BY_HAND, FINDING)
    _put(core / "judging" / "sentences.py", SENTENCES, f'{SENTENCES}    "humming": "{SAID}",\n')
    script = script_of(core, tmp_path / "script")
    book = strategies.ready_to_charge(strategies.Book(sid=SID))
    where = charging_step(handbook)
    for amps, times in (("18.9", 0), ("19.1", 1)):
        book.form("reading", **strategies.READING, compressor_amps=f"{amps} A")
        shown = _asked(script, handbook, book, [path(where)], path(where), {})["pages"][0][1]
        assert "Subcooling" in shown
        assert shown.count("The motor hums at 19.1 A. No unit of ours does.") == times
        state = fold(book.events, handbook)
        ours = view(Screen(state, handbook, Moment("run", 0, 0), FRESH, (), None), where)
        assert isinstance(ours, Page)
        assert "motor hums" not in render(ours.template, ours.context), "the rule must be new"


def test_a_new_limit_in_the_core_is_on_the_phone(tmp_path: Path, handbook: Handbook) -> None:
    book = strategies.ready_to_charge(strategies.Book())
    typed = dict(next(e for e in reversed(book.events) if e.kind == "reading.taken").data)
    typed |= {"compressor_amps": "195", "compressor_amps_unit": "A", "step": ""}
    typed |= {"eid": "01JMADE00000000000000000EW"}
    target = Address(FORM, book.sid, "reading")
    state = fold(book.events, handbook)
    outcome = record_form(state, target, typed, handbook, state.entries[-1].moment)
    assert isinstance(outcome, Record), "the rule must be new"

    core = shutil.copytree(CORE, tmp_path / "core")
    _put(core / "session" / "entry.py", BEFORE, LIMIT)
    script = script_of(core, tmp_path / "script")
    answer = _asked(script, handbook, book, [], path(target), typed)
    assert "Refusal" in answer["outcome"]
    assert exactly(REFUSED) in str(answer["outcome"])


def _asked(
    script: Path,
    handbook: Handbook,
    book: strategies.Book,
    paths: list[str],
    post: str,
    typed: dict[str, str],
) -> Any:
    """What the phone's script, made from this core, shows and makes of a form."""
    with running_core(script.with_suffix(".mjs"), handbook) as node:
        return node.ask(
            "core",
            {
                "ask": "pages",
                "events": sent(book.events),
                "others": [],
                "now": ["run", 0, 0, 0],
                "fresh": FRESH,
                "paths": paths,
                "post": {"path": post, "typed": pairs(typed)},
            },
        )


def _put(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), "utf-8")
