"""One-time codes, and the tokens that paired devices hold.

A code is ten letters or digits: three that name it and seven that are secret (35 bits). It works
once, for ten minutes, for five tries. The token it is exchanged for is
`device.issued.secret.signature`: the signature (HMAC-SHA256 with a key of this server) is checked
before anything is looked up, and only the SHA-256 of the secret (256 bits) is kept.
"""

import hashlib
import hmac
import secrets
from base64 import urlsafe_b64encode
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from lowside.core.session.ulids import CROCKFORD_32
from lowside.web.access.kept import KEY_BYTES, Kept, kept_in
from lowside.web.access.people import (
    Device,
    Happening,
    PeopleError,
    Person,
    Role,
    Roll,
    TroubleError,
    checked_name,
)
from lowside.web.access.secret_file import SecretError

NUMBER_LENGTH = 3
CODE_LENGTH = 10
CODE_LIVES_MS = 600_000
TRIES_A_CODE = 5
TOKEN_LIVES_MS = 400 * 86_400_000
"""As long as browsers keep a cookie at most."""
TOKEN_RENEWED_AFTER_MS = 30 * 86_400_000
LONGEST_TOKEN = 200

WRONG_CODE = "This code is wrong, already used, or older than ten minutes. Ask for a new one."
TOO_MANY = "Too many wrong codes. Wait ten minutes, then ask for a new one."


class TooManyError(PeopleError):
    """Refused without looking at the code."""


@dataclass(frozen=True)
class Holder:
    """A device that is let in, and whose it is."""

    person: Person
    device: Device
    issued_at: int
    """When its token was signed [ms since 1970-01-01 UTC]."""


class Pairing:
    """People, their codes and their devices, in one data folder or where servers share them."""

    def __init__(self, kept: Kept | Path, now_ms: Callable[[], int]) -> None:
        if isinstance(kept, Path):
            kept = kept_in(kept)
        self._log = kept.people
        self._key_kept = kept.key
        self._now_ms = now_ms
        self._attempts = kept.tries

    # People

    def roll(self) -> Roll:
        """Everyone known now. Raises PeopleError when the log cannot be read."""
        return self._log.roll()

    def add(self, person: str, name: str, role: Role) -> None:
        """Add a person, once for each `person` (an identifier that is new for each one).

        Raises
            PeopleError: the name cannot be used, or nothing could be saved.
        """
        kept = checked_name(name)

        def decide(roll: Roll) -> list[Happening]:
            if person in roll.people:
                return []
            if any(p.name == kept and not p.removed for p in roll.people.values()):
                raise PeopleError(f"There is already someone called {kept}.")
            added: Happening = {"person": person, "name": kept, "role": role.value}
            return [self._happening("person.added") | added]

        self._log.write(decide)

    def set_role(self, person: str, role: Role) -> None:
        """Give a person another role; their devices have it from the next request."""

        def decide(roll: Roll) -> list[Happening]:
            _present(roll, person)
            return [self._happening("person.role_set") | {"person": person, "role": role.value}]

        self._log.write(decide)

    def remove(self, person: str) -> None:
        """Let none of a person's devices in any more."""

        def decide(roll: Roll) -> list[Happening]:
            _present(roll, person)
            return [self._happening("person.removed") | {"person": person}]

        self._log.write(decide)

    def revoke(self, device: str, why: str) -> None:
        """Let a device in no more. Doing it again changes nothing."""

        def decide(roll: Roll) -> list[Happening]:
            if device not in roll.devices:
                raise PeopleError("There is no such device.")
            if roll.devices[device].revoked != "":
                return []
            return [self._happening("device.revoked") | {"device": device, "why": why}]

        self._log.write(decide)

    def note_writers(self, device: str, names: Sequence[str]) -> None:
        """This device has these names as a writer of entries from now on."""

        def decide(_roll: Roll) -> list[Happening]:
            return [
                self._happening("device.writes") | {"device": device, "writer": name}
                for name in names
            ]

        self._log.write(decide)

    # Codes

    def make_code(self, person: str) -> str:
        """A new code for a person's next device, as it is read out: `7F3KQ-M2XW9`."""
        made = ""
        key = self._key()

        def decide(roll: Roll) -> list[Happening]:
            nonlocal made
            _present(roll, person)
            made = _random(CODE_LENGTH)
            while made[:NUMBER_LENGTH] in roll.codes and not self._over(roll, made):
                made = _random(CODE_LENGTH)
            code: Happening = {
                "code": made[:NUMBER_LENGTH],
                "person": person,
                "digest": _code_digest(key, made),
                "until": self._now_ms() + CODE_LIVES_MS,
            }
            return [self._happening("code.made") | code]

        self._log.write(decide)
        return f"{made[:5]}-{made[5:]}"

    def pair(self, typed: str, label: str, peer: str) -> str:
        """Exchange a code for a device's token.

        Args:
            typed: the code as someone typed it.
            label: what to call the device in lists.
            peer: address it came from, for counting wrong codes.

        Raises
            TooManyError: too many wrong codes came lately.
            PeopleError: the code is not good. Which of the reasons it is, is not told.
        """
        kept = checked_name(label)
        if not self._attempts.begin(peer, self._now_ms()):
            raise TooManyError(TOO_MANY)
        code = plain_code(typed)
        token = ""
        key = self._key()

        def decide(roll: Roll) -> list[Happening]:
            nonlocal token
            known = roll.codes.get(code[:NUMBER_LENGTH])
            right = hmac.compare_digest(
                _code_digest(key, code), known.digest if known is not None else "-" * 64
            )
            if known is None or known.spent or self._now_ms() >= known.until:
                return []
            if not right:
                told = [self._happening("code.tried") | {"code": known.number}]
                if known.tries + 1 >= TRIES_A_CODE:
                    told.append(self._happening("code.burnt") | {"code": known.number})
                return told
            person = roll.people.get(known.person)
            if person is None or person.removed:
                return []
            device = _random(16)
            secret = secrets.token_urlsafe(32)
            token = _signed(key, device, self._now_ms(), secret)
            paired: Happening = {
                "device": device,
                "person": person.id,
                "label": kept,
                "digest": _sha256(secret),
                "code": known.number,
            }
            return [self._happening("device.paired") | paired]

        self._log.write(decide)
        if token == "":
            raise PeopleError(WRONG_CODE)
        self._attempts.succeeded(peer)
        return token

    # Tokens

    def holder(self, token: str) -> Holder | None:
        """Whose token it is, `None` when it lets nobody in.

        Raises
            PeopleError: the log cannot be read.
        """
        if len(token) > LONGEST_TOKEN or not token.isascii() or token.count(".") != 3:
            return None
        if not self._key_kept.exists():
            return None  # nothing was ever signed
        signed, _, signature = token.rpartition(".")
        if not hmac.compare_digest(_signature(self._key(), signed), signature):
            return None
        name, issued, secret = signed.split(".")
        issued_at = int(issued)
        roll = self.roll()
        device = roll.devices.get(name)
        found = hmac.compare_digest(
            _sha256(secret), device.digest if device is not None else "-" * 64
        )
        if device is None or not found or self._now_ms() - issued_at > TOKEN_LIVES_MS:
            return None
        person = roll.holder(device)
        return None if person is None else Holder(person, device, issued_at)

    def renewed(self, token: str, holder: Holder) -> str:
        """The same token signed again when it is due, "" when it is not."""
        now = self._now_ms()
        if now - holder.issued_at < TOKEN_RENEWED_AFTER_MS:
            return ""
        return _signed(self._key(), holder.device.id, now, token.split(".")[2])

    # The parts

    def _over(self, roll: Roll, code: str) -> bool:
        known = roll.codes[code[:NUMBER_LENGTH]]
        return known.spent or self._now_ms() >= known.until

    def _happening(self, kind: str) -> Happening:
        return {"kind": kind, "at": self._now_ms()}

    def key_for_proofs(self) -> bytes:
        """A key for proofs of entries; empty when there is no key that can be used."""
        try:
            return _key_for_proofs(self._key())
        except (OSError, PeopleError, SecretError):
            return b""

    def _key(self) -> bytes:
        """This server's key, made with the first code. A new one locks every device out.

        Asked before anything is written that it signs: what a database did not commit is no key.
        """
        kept = self._key_kept
        if not kept.exists():

            def make(_roll: Roll) -> list[Happening]:
                kept.make()
                return []

            self._log.write(make)
        key = kept.read()
        if len(key) != KEY_BYTES:
            raise TroubleError(f"{kept.name} is damaged. Put it back from a copy.")
        return key


def plain_code(typed: str) -> str:
    """A code as someone typed it, without spaces and strokes, what looks alike read alike."""
    kept = "".join(c for c in typed[:40].upper() if c.isascii() and c.isalnum())
    return kept.replace("O", "0").replace("I", "1").replace("L", "1")[:CODE_LENGTH]


def _signed(key: bytes, device: str, issued_at: int, secret: str) -> str:
    signed = f"{device}.{issued_at}.{secret}"
    return f"{signed}.{_signature(key, signed)}"


def _signature(key: bytes, signed: str) -> str:
    digest = hmac.digest(key, b"device token 1\n" + signed.encode("ascii"), "sha256")
    return urlsafe_b64encode(digest).rstrip(b"=").decode("ascii")


def _code_digest(key: bytes, code: str) -> str:
    # Keyed: 35 bits are soon tried through by whoever gets hold of the log alone.
    return hmac.digest(key, b"code 1\n" + code.encode("utf-8"), "sha256").hex()


def _present(roll: Roll, person: str) -> Person:
    found = roll.people.get(person)
    if found is None or found.removed:
        raise PeopleError("There is no such person.")
    return found


def _random(length: int) -> str:
    return "".join(secrets.choice(CROCKFORD_32) for _ in range(length))


@lru_cache(maxsize=2)  # every sync asks
def _key_for_proofs(key: bytes) -> bytes:
    return hmac.digest(key, b"proofs of entries 1", "sha256")


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()
