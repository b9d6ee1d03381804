"""A rule that is added to the core is on the phone, and nobody touched any JavaScript."""

import shutil
from pathlib import Path
from typing import Any

import strategies
from phone_core import answering, exactly, pairs, running_node, sent

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import FORM, Address, path
from lowside.core.pages.recording import Record, record_form
from lowside.core.session.fold import fold
from lowside.translate.phone import CORE
from lowside.web.phone.handbook import phone_handbook

SENTENCE = "No compressor here draws that much. Read the clamp again."
BEFORE = """\
    table = handbook.tables.get(system.refrigerant)
    if table is not None:
        found"""
RULE = """\
    if reading.compressor_a is not None and reading.compressor_a > 190.0:
        found.append(("compressor_amps", Finding("absurd_current", WARN, ())))
"""


def test_a_new_finding_in_the_core_is_on_the_phone(tmp_path: Path, handbook: Handbook) -> None:
    book = strategies.ready_to_charge(strategies.Book())
    typed = dict(next(e for e in reversed(book.events) if e.kind == "reading.taken").data)
    typed |= {"compressor_amps": "195", "compressor_amps_unit": "A", "step": ""}
    typed |= {"eid": "01JMADE00000000000000000EW"}
    target = Address(FORM, book.sid, "reading")
    state = fold(book.events, handbook)
    outcome = record_form(state, target, typed, handbook, state.entries[-1].moment)
    assert isinstance(outcome, Record), "the rule must be new"

    core = tmp_path / "core"
    shutil.copytree(CORE, core)
    _put(core / "judging" / "plausibility.py", BEFORE, RULE + BEFORE)
    start = "SENTENCES: dict[str, str] = {\n"
    line = f'    "absurd_current": "{SENTENCE}",\n'
    _put(core / "judging" / "sentences.py", start, start + line)
    with running_node() as node:
        node.load("core", answering("answers", core))
        node.ask("core", {"ask": "handbook", "text": phone_handbook(handbook).decode()})
        node.ask(
            "core",
            {"ask": "templates", "path": str(answering("answers").parents[1] / "templates.js")},
        )
        question: dict[str, Any] = {
            "ask": "pages",
            "events": sent(book.events),
            "others": [],
            "now": ["run", 0, 0, 0],
            "fresh": "01JMADE0000000000000FRESH0",
            "paths": [],
            "post": {"path": path(target), "typed": pairs(typed)},
        }
        answer = node.ask("core", question)
    assert "Refusal" in answer["outcome"]
    assert exactly(SENTENCE) in str(answer["outcome"])


def _put(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), "utf-8")
