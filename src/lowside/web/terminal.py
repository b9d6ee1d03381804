"""Sentences for whoever started the server: what a stranger who asks need not know."""

import sys


class Terminal:
    """Says a sentence on standard error, and the same one only once in a row."""

    def __init__(self) -> None:
        self._last = ""

    def tell(self, sentence: str) -> None:
        if sentence != self._last:
            self._last = sentence
            print(sentence, file=sys.stderr, flush=True)
