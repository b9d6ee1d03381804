"""A technician's hands: fill in the forms of a demo session as its pages offer them.

They know the pages and no engine, and wait only for what the act before cannot have shown already.
"""

import shutil
import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from engines import Browser
from waiting import until

from lowside.core.session.events import Event
from lowside.core.session.final_wait import WHY_EARLY
from lowside.core.session.taps import BY_ONE_TAP, READ_S
from lowside.demo import Move, Scenario, play, scenarios
from lowside.library import load_handbook
from lowside.outlining import outline
from lowside.store import Store

ONE_TAP = ("done", "shot_close", "shot_unweighed")
"""Forms that are only their button."""
TAPS_AGAIN_S = 15.0
OF_A_SHOT = ("shot_open", "shot_close", "shot_weigh")
FORM_IDS = ("step-form", "shot-form", "weigh-form", "reading-form")
ARRIVED = "footer.thumb :is(a, button)"
"""The end of every field page: once it is there, what comes before it is there too."""
NEXT_PAGE = 'body:not(:has([name="eid"][value="{eid}"])) ' + ARRIVED
FIGURES = """() => Object.fromEntries([...document.querySelectorAll(".figure")].map(figure =>
    [figure.querySelector("h2").innerText, figure.querySelector(".figure-value b").innerText]))"""


def scenario_named(name: str) -> Scenario:
    return next(scenario for scenario in scenarios() if scenario.name == name)


def up_to_now(scenario: Scenario, moves: int, ago_s: float = 0.0) -> list[Event]:
    """Its first `moves` as if they had just been made, the last of them `ago_s` ago."""
    made = scenario.moves[:moves]
    lasted = timedelta(seconds=sum(move.after_s for move in made) + ago_s)
    began = datetime.now(scenario.start.tzinfo) - lasted
    return play(replace(scenario, moves=made, start=began), load_handbook())


def hold_only(data: Path, events: Sequence[Event]) -> None:
    """Leave nothing in a stopped server's folder but these events."""
    shutil.rmtree(data)
    data.mkdir()
    store = Store.open(data, outline)
    store.append(events)
    store.close()


def begin(browser: Browser) -> str:
    """Start a session from home, where the browser is; its sid."""
    browser.tap('form[action="/start"] button')
    browser.wait('form[action$="/form/job"]')
    until(lambda: "/s/" in browser.address(), "the address is a session's")
    return browser.address().rsplit("/", 1)[1]


def make(browser: Browser, move: Move) -> None:
    """Fill in one form and send it."""
    if is_saved(browser, move):
        return
    reach(browser, move)
    send(browser, move)


def is_saved(browser: Browser, move: Move) -> bool:
    """Whether nothing is left to do: the form before saved this one too, as weights that agree need
    nothing typed, or the page says to wait before another shot, and these hands do not wait."""
    browser.wait(ARRIVED)
    if move.form in OF_A_SHOT:
        return browser.count(_form(move)) == 0
    return move.form == "reconcile" and not move.typed and browser.count(_form(move)) == 0


def reach(browser: Browser, move: Move) -> None:
    """Be where the form is: on the page that is next, or one tap from it."""
    browser.wait(ARRIVED)
    if move.form == "reading" and browser.count(_form(move)) == 0:
        browser.tap('footer.thumb a[href*="/form/reading"]')
    browser.wait(_form(move))
    browser.wait(ARRIVED)


def send(browser: Browser, move: Move) -> None:
    """Fill in the form that is there, and see that the next page came of it."""
    form = _form(move)
    says_it = ""
    for name, text in move.typed.items():
        button = f'button[form="step-form"][name="{name}"][value="{text}"]'
        if browser.count(button) > 0:
            says_it = button
        else:
            _fill(browser, form, name, text)
    if move.form in BY_ONE_TAP or not move.typed:
        time.sleep(READ_S + 0.1)
    eid = browser.value(f'{form} [name="eid"]')
    usual = f"{form} button" if move.form in ONE_TAP else ""
    if move.form == "reconcile" and not move.typed:
        _fill(browser, form, "explanation", "Fewer shots than the end weight is of")
    if move.form == "final_reading":
        # These hands do not wait a quarter of an hour, so they are asked why.
        browser.tap(_button(browser, form))
        _fill(browser, form, WHY_EARLY, "The site closes")
        eid = browser.value(f'{form} [name="eid"]')
    _tap_until_gone(browser, says_it or usual or _button(browser, form), eid)
    assert browser.count(".problem") == 0, browser.read(".problem")


def _tap_until_gone(browser: Browser, button: str, eid: str) -> None:
    """Tap, and once more when nothing came of it: a tap within a second of a new page counts for
    the page before, and a wait that ends makes the page anew at a moment of its own."""
    browser.tap(button)
    tapped = time.monotonic()
    again = False

    def gone() -> bool:
        nonlocal again
        if browser.count(NEXT_PAGE.format(eid=eid)) > 0:
            return True
        if not again and time.monotonic() > tapped + TAPS_AGAIN_S:
            again = True
            browser.tap(button)
        return False

    until(gone, f"another page than that of {eid}")


def figures(browser: Browser) -> dict[str, str]:
    """Name and value of each big figure."""
    browser.wait(".figure")
    return dict(browser.evaluate(FIGURES))


def _form(move: Move) -> str:
    return f'form[action$="/form/{move.form}"]'


def _button(browser: Browser, form: str) -> str:
    for name in FORM_IDS:
        if browser.count(f"{form}#{name}") > 0:
            return f'button[form="{name}"]'
    raise AssertionError(f"no button for {form}")


def _fill(browser: Browser, form: str, name: str, text: str) -> None:
    field = f'{form} [name="{name}"]'
    browser.wait(field)
    if name.endswith("_unit"):
        assert browser.value(field) == text
        return
    folded = f'{form} details:not([open]):has([name="{name}"])'
    if browser.count(folded) > 0:
        browser.tap(f"{folded} > summary")
    if browser.count(f'{form} select[name="{name}"]') > 0:
        browser.choose(field, text)
    elif browser.count(f'{form} [type="radio"][name="{name}"]') > 0:
        browser.tap(f'{form} label:has(> [name="{name}"][value="{text}"])')
    else:
        browser.type(field, text)
