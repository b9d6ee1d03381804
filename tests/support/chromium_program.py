"""Which Chromium the tests and the pictures run in."""

import os
import shutil

NONE = "No Chromium: run scripts/need-engines.sh, or set LOWSIDE_CHROMIUM."


def chromium_program() -> str | None:
    """Its path; None when there is none.

    The headless shell comes first: it is the same engine without a browser's own windows, which
    nobody sees here, and takes a third of the processor time to start and to draw.
    """
    named = os.environ.get("LOWSIDE_CHROMIUM")
    return named or shutil.which("chromium-headless-shell") or shutil.which("chromium")
