"""Each engine's driver does what the tests take for granted."""

from pathlib import Path

import engines
import pytest
from engines import Browser, NoEngineError

PAGE = """<!doctype html><meta charset="utf-8"><h1>Here</h1>
<input id="one" value="old"><select id="choice"><option value="a">A<option value="b">B</select>
<details><summary>More</summary><label><input type="radio" name="r" value="1">One</label></details>
<div style="position: relative"><button id="under">Under</button>
<p style="position: absolute; inset: 0; margin: 0">over it</p></div>
"""
MODULE = "export const add = (a, b) => a + b;"


def test_a_module_is_asked_and_answers_in_json(browser: Browser) -> None:
    with engines.served({"/core.js": MODULE.encode()}) as site:
        browser.open(site)
        ask = "async (...given) => (await import('/core.js')).add(...given)"
        assert browser.evaluate(ask, 0.1, 0.2) == 0.1 + 0.2
        assert browser.evaluate(ask, "é", "‘") == "é‘"
        assert browser.evaluate("() => ({ none: null, list: [1, { two: 2 }] })") == {
            "none": None,
            "list": [1, {"two": 2}],
        }
        with pytest.raises(AssertionError, match="it broke"):
            browser.evaluate("() => { throw new Error('it broke'); }")


def test_taps_and_keys_arrive(browser: Browser) -> None:
    with engines.served({"/index.html": PAGE.encode()}) as site:
        browser.open(site)
        browser.type("#one", "Larkfield ‘É’ 12,5")
        assert browser.value("#one") == "Larkfield ‘É’ 12,5"
        browser.type("#one", "")
        assert browser.value("#one") == ""
        browser.choose("#choice", "b")
        assert browser.value("#choice") == "b"
        browser.tap("details:not([open]) > summary")
        browser.tap('label:has(> [value="1"])')
        assert browser.count("[name=r]:checked") == 1
        assert browser.read("h1") == "Here"
        assert browser.address() == site + "/"


def test_what_is_covered_cannot_be_tapped(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("waiting.WAITS_S", 3.0)
    with engines.served({"/index.html": PAGE.encode()}) as site:
        browser.open(site)
        with pytest.raises(AssertionError, match="over it"):
            browser.tap("#under")


def test_only_known_engines_can_be_asked_for(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("ENGINES", "webkit, chromium")
    assert engines.asked_for() == ("chromium", "webkit")
    monkeypatch.setenv("ENGINES", "")
    assert engines.asked_for() == engines.EVERY
    monkeypatch.setenv("ENGINES", "steam")
    with pytest.raises(ValueError, match="there is no steam"):
        engines.asked_for()
    monkeypatch.setenv("PATH", str(tmp_path))
    for name in ("firefox", "webkit"):
        with pytest.raises(NoEngineError, match="apt-get install"), engines.opened(name, tmp_path):
            pass
