"""Under which names a device may hand over entries: those it used first.

A phone makes its own name as a writer of entries. The first device that sends under a name has it.
So nobody can send an entry under another's name, which would keep the real one out.
"""

from collections.abc import Iterable
from contextlib import suppress

from lowside.core.session.events import writer_of
from lowside.web.access.guard import Visitor
from lowside.web.access.pairing import Pairing
from lowside.web.access.people import PeopleError, Roll

MOST_NAMES = 1000
"""Of one device; each is a line that every start reads. A phone has one, and another when it was
reset. Our choice."""
HERE = "this machine"
"""In place of a device: the browsers on this machine, which are not paired."""
SERVER = "this server"
"""In place of a device: the server itself, under each name that it has had."""

SERVERS_NAME = "This entry names this server as its writer. A device writes under its own name."
MANY_NAMES = "This device has sent entries under too many names. The entry stays here."
ANOTHERS_NAME = (
    "Another device sent entries under this name before. If this is that device and it was paired "
    "again, block its earlier pairing on the People page of the office. The entry stays here."
)


def names_refused(
    pairing: Pairing, visitor: Visitor, names: Iterable[str], server: str
) -> dict[str, str]:
    """Of these writers' names, those this visitor may not send under, each with the reason.

    The server's own name is noted: should it get another one, nobody writes under the old one.
    A name that nobody has is the visitor's from now on. One whose device was blocked, or whose
    person was removed, may be taken over: a phone changes hands with what it still holds.

    Raises
        PeopleError: the names cannot be read or saved.
    """
    asked = set(names)
    device = visitor.device or HERE
    refused = {name: SERVERS_NAME for name in asked if writer_of(name) == writer_of(server)}
    try:
        roll = pairing.roll()
    except PeopleError:
        if visitor.owner:
            return refused  # this machine works on when nobody else is let in
        raise
    own = writer_of(server)
    if asked and roll.writers.get(own) != SERVER:
        with suppress(PeopleError):  # the next question notes it
            pairing.note_writers(SERVER, [own])
    earlier = {name for name in asked if roll.writers.get(writer_of(name)) == SERVER}
    refused |= dict.fromkeys(earlier, SERVERS_NAME)
    free = []
    for name in sorted(asked - refused.keys()):
        holder = roll.writers.get(name)
        if holder is None or not _is_held(roll, holder, device):
            free.append(name)
        elif holder != device and not _of_one_person(roll, holder, device):
            refused[name] = ANOTHERS_NAME
    if free and visitor.device != "":
        left = max(MOST_NAMES - sum(1 for each in roll.writers.values() if each == device), 0)
        refused |= dict.fromkeys(free[left:], MANY_NAMES)
        free = free[:left]
    if free:
        pairing.note_writers(device, free)
    return refused


def _is_held(roll: Roll, holder: str, device: str) -> bool:
    """Whether the one that has the name still comes in."""
    if holder in (HERE, device):
        return True
    known = roll.devices.get(holder)
    return known is not None and roll.holder(known) is not None


def _of_one_person(roll: Roll, one: str, other: str) -> bool:
    found = [roll.devices.get(each) for each in (one, other)]
    people = [device.person for device in found if device is not None]
    return len(people) == 2 and people[0] == people[1]
