"""Proof that this server gave out an entry, so that it takes it back from whoever holds it.

After a restore from a copy the server lacks entries that phones were sent. A phone may write under
its own name alone. But what it was sent goes with a proof: a keyed digest of the whole entry.
Nobody without the server's key can make one. So only what was stored here once comes back.
"""

import hashlib
import hmac
from base64 import urlsafe_b64encode
from collections.abc import Sequence
from functools import lru_cache

from lowside.core.session.events import Event
from lowside.store.codec import canonical_event

PROOF_BYTES = 16
"""128 bits. Our choice."""
LONGEST_PROOF = 22
"""Letters."""
_PROOF = "_proof"
"""Beside an event's fields: the key, and its proof by it. All phones are sent the same."""
_NOT_MADE = (b"", "")


def proofs_of(events: Sequence[Event], key: bytes) -> list[str]:
    """The proof that goes with each of these entries; "" without a key."""
    if key == b"":
        return [""] * len(events)
    return [
        made[1]
        if (made := event.__dict__.get(_PROOF, _NOT_MADE))[0] == key
        else _proof_of(event, key)
        for event in events
    ]


def _proof_of(event: Event, key: bytes) -> str:
    inner, outer = _hashes(key)
    digest, keyed = inner.copy(), outer.copy()
    digest.update(canonical_event(event))
    keyed.update(digest.digest())
    proof = urlsafe_b64encode(keyed.digest()[:PROOF_BYTES]).rstrip(b"=").decode("ascii")
    event.__dict__[_PROOF] = (key, proof)
    return proof


@lru_cache(maxsize=4)
def _hashes(key: bytes) -> tuple["hashlib._Hash", "hashlib._Hash"]:
    """The two hashes of HMAC-SHA256 (RFC 2104) with this key and the beginning of every text.

    Made once: `hmac.digest` makes them for each entry, which takes as long as the rest.
    """
    block = key.ljust(hashlib.sha256().block_size, b"\0")
    inner = hashlib.sha256(bytes(byte ^ 0x36 for byte in block) + b"entry 1\n")
    return inner, hashlib.sha256(bytes(byte ^ 0x5C for byte in block))


def is_proven(event: Event, proof: str, key: bytes) -> bool:
    """Whether this server gave out this entry with this proof."""
    if proof == "":
        return False
    right = proofs_of([event], key)[0]
    return right != "" and hmac.compare_digest(right.encode(), proof.encode())
