"""`lowside people …`: the same as the office page, for a server without a screen.

It writes to the log beside a running server, which sees it at the next request.
"""

import sys
from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from urllib.parse import quote

import qrcode

from lowside.store import StoreError
from lowside.store.choosing import open_shared
from lowside.store.moved import why_moved
from lowside.web.access.guard import PAIR
from lowside.web.access.kept import Kept, kept_in, kept_with
from lowside.web.access.last_address import known_address
from lowside.web.access.pairing import Pairing
from lowside.web.access.people import PeopleError, Role, Roll
from lowside.web.access.secret_file import SecretError
from lowside.web.clock import Clock, new_ulid


def people_command(chosen: Namespace) -> int:
    """Do what `chosen.action` says; the exit code."""
    clock = Clock()
    if not (chosen.store or chosen.data.is_dir()):
        print(f"There is no data folder {chosen.data}.", file=sys.stderr)
        return 1
    if not chosen.store and (elsewhere := why_moved(chosen.data)):
        print(elsewhere, file=sys.stderr)
        return 1
    try:
        with _kept(chosen) as kept:
            _do(chosen, Pairing(kept, lambda: clock.now().at), clock)
    except (PeopleError, SecretError, StoreError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def _do(chosen: Namespace, pairing: Pairing, clock: Clock) -> None:
    if chosen.action == "list":
        _print_list(pairing.roll())
    elif chosen.action == "add":
        pairing.add(new_ulid(clock.now().at), chosen.name, Role(chosen.role))
        _print_code(pairing, chosen)
    elif chosen.action == "code":
        _print_code(pairing, chosen)
    elif chosen.action == "role":
        pairing.set_role(_person(pairing, chosen.name), Role(chosen.role))
    elif chosen.action == "remove":
        pairing.remove(_person(pairing, chosen.name))
    elif chosen.action == "revoke":
        pairing.revoke(chosen.device, "revoked")


@contextmanager
def _kept(chosen: Namespace) -> Iterator[Kept]:
    if not chosen.store:
        yield kept_in(chosen.data)
    else:
        with open_shared(chosen.store) as shared:
            yield kept_with(shared)


def _person(pairing: Pairing, name: str) -> str:
    wanted = " ".join(name.split())
    for person in pairing.roll().people.values():
        if person.name == wanted and not person.removed:
            return person.id
    raise PeopleError(f"There is nobody called {wanted}. See lowside people list.")


def _print_code(pairing: Pairing, chosen: Namespace) -> None:
    code = pairing.make_code(_person(pairing, chosen.name))
    print(f"Pairing code for {chosen.name}: {code}")
    print("It works once, for ten minutes.")
    address = known_address(chosen.data)
    if address == "":
        print("No phone can reach this server yet: see lowside serve --lan.")
        return
    page = address.rstrip("/") + PAIR
    print(f"On the phone open {page} and type it, or point the camera at this:")
    picture = qrcode.QRCode(border=2)
    picture.add_data(f"{page}?code={quote(code)}")
    picture.print_ascii(invert=True)


def _print_list(roll: Roll) -> None:
    for person in roll.people.values():
        if person.removed:
            continue
        print(f"{person.name} · {person.role.value}")
        for device in roll.devices.values():
            if device.person == person.id:
                at = datetime.fromtimestamp(device.paired_at / 1000.0, UTC)
                state = f" · {device.revoked}" if device.revoked else ""
                print(f"  {device.id}  {device.label} · paired {at:%Y-%m-%d %H:%M} UTC{state}")
