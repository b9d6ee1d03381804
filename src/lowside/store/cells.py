"""Text that a spreadsheet shows and never runs."""

import re

STARTS = "=+-@|%\uff1d\uff0b\uff0d\uff20\u2212"
"""First characters by which a spreadsheet may take a text for a formula or a command; the
full-width ones count in some locales."""
UNSEEN = (
    "\ufeff\u200b\u200c\u200d\u2060\u00ad\u180e\u200e\u200f\u202a\u202b\u202c\u202d\u202e"
    "\u2066\u2067\u2068\u2069\u2028\u2029"
)
"""Characters without a width: a formula behind one is still a formula to some programs."""
CONTROL = re.compile("[\x00-\x1f\x7f-\x9f]")


def safe_cell(value: object) -> object:
    """The value for one cell of a CSV file; a text that could run gets an apostrophe in front.

    Control characters and line ends become spaces: programs drop NUL and read on. Where lists are
    parted by `;`, a text is cut there and its rest begins a cell, so that gets one too.
    """
    if not isinstance(value, str):
        return value
    text = CONTROL.sub(" ", value)
    return ";".join("'" + part if _begins_a_formula(part) else part for part in text.split(";"))


def _begins_a_formula(part: str) -> bool:
    seen = part.lstrip(UNSEEN + ' \u00a0\u3000"')
    return seen != "" and seen[0] in STARTS
