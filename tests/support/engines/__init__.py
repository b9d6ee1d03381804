"""Three browser engines behind one small interface, so that a test is written once.

    with engines.opened("webkit", tmp_path) as browser:
        browser.open("http://localhost:8000/")
        browser.evaluate("async () => (await import('/core.js')).answer()")

`ENGINES=chromium,firefox` in the environment asks for some of them; without it all are asked for.
"""

from engines.browser import Browser, NoEngineError
from engines.choice import EVERY, asked_for, opened

__all__ = ["EVERY", "Browser", "NoEngineError", "asked_for", "opened"]
