"""What a phone and the server agree on when the phone hands over its entries."""

VERSION = 1
"""Of the questions and answers."""

MOST_EVENTS = 100
"""Entries in one question."""

MOST_WANTED = 20
"""Sessions in one question."""

STORED = "stored"
ALREADY = "already"
QUARANTINED = "quarantined"
REFUSED = "refused"

MAY_FORGET = (STORED, ALREADY, QUARANTINED)
"""What can become of an entry so that its sender need not keep a copy to send again."""
