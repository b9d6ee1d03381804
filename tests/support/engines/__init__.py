"""Three browser engines behind one small interface, so that a test is written once.

    with engines.served({"/core.js": core}) as site, engines.opened("webkit", folder) as browser:
        browser.open(site)
        browser.evaluate("async () => (await import('/core.js')).answer()")

`ENGINES=chromium,firefox` in the environment asks for some of them; without it all are asked for.
"""

from engines.browser import Browser, NoEngineError
from engines.choice import EVERY, asked_for, opened
from engines.serving import served

__all__ = ["EVERY", "Browser", "NoEngineError", "asked_for", "opened", "served"]
