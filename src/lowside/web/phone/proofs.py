"""Proof that this server gave out an entry, so that it takes it back from whoever holds it.

After a restore from a copy the server lacks entries that phones were sent. A phone may write under
its own name alone. But what it was sent goes with a proof: a keyed digest of the whole entry.
Nobody without the server's key can make one. So only what was stored here once comes back.
"""

import hmac
from base64 import urlsafe_b64encode

from lowside.core.session.events import Event
from lowside.store.codec import canonical_event

PROOF_BYTES = 16
"""128 bits. Our choice."""
LONGEST_PROOF = 22
"""Letters."""


def proof_of(event: Event, key: bytes) -> str:
    """The proof that goes with an entry; "" without a key."""
    if key == b"":
        return ""
    digest = hmac.digest(key, b"entry 1\n" + canonical_event(event), "sha256")
    return urlsafe_b64encode(digest[:PROOF_BYTES]).rstrip(b"=").decode("ascii")


def is_proven(event: Event, proof: str, key: bytes) -> bool:
    """Whether this server gave out this entry with this proof."""
    if proof == "":
        return False
    right = proof_of(event, key)
    return right != "" and hmac.compare_digest(right.encode(), proof.encode())
