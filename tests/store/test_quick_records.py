"""Records made the quicker way are the same ones, and still frozen. In a process of its own."""

import subprocess
import sys

PROGRAM = """
import pickle, sys
from dataclasses import FrozenInstanceError, replace

sys.path[:0] = sys.argv[1:]
from office_cases import visit

from lowside.core.handbook.fields import Field
from lowside.core.session.events import Event, Moment
from lowside.outlining import outline
from lowside.store.quick_records import quicken
import lowside.core.session.fold as folding

events = visit(1, "2026-05-01", 2.0).events
before = (outline(events), pickle.dumps(folding.fold(events)), Moment("a", 1, 2), Field("x", "X"))
assert quicken() > 80
after = (outline(events), pickle.dumps(folding.fold(events)), Moment("a", 1, 2), Field("x", "X"))
assert before == after
assert hash(before[2]) == hash(after[2])
assert vars(after[3]) == vars(before[3])
assert replace(after[2], tz=5) == Moment("a", 1, 2, 5)
one, other = (Event("s", "d", 1, "e", "h", 1, 0, 1, "r", "k") for _ in range(2))
assert one.data == {} and one.data is not other.data
for wrong in ((), ("a", 1, 2, 3, 4)):
    try:
        Moment(*wrong)
    except TypeError:
        pass
    else:
        raise AssertionError(wrong)
try:
    after[2].tz = 3
except FrozenInstanceError:
    print("frozen")
"""


def test_records_made_the_quicker_way_are_the_same_and_frozen() -> None:
    here = [path for path in sys.path if path.endswith("support")]
    done = subprocess.run(
        (sys.executable, "-c", PROGRAM, *here), capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    assert done.stdout == "frozen\n"
