"""What is made the quicker way is the same. In a process of its own."""

import subprocess
import sys

PROGRAM = """
import pickle, sys
from itertools import product
from dataclasses import replace

sys.path[:0] = sys.argv[1:]
from office_cases import visit

from lowside.core.handbook.fields import Field, read_fields
from lowside.core.handbook.forms import FORMS
from lowside.core.numbers import units
from lowside.core.numbers.units import MASS
from lowside.core.session.events import Event, Moment
from lowside.outlining import outline
from lowside.store.quick_records import quicken
import lowside.core.session.fold as folding

events = visit(1, "2026-05-01", 2.0).events
parse = units.parse
before = (outline(events), pickle.dumps(folding.fold(events)), Moment("a", 1, 2), Field("x", "X"))
say = {"text": "x", "gross": "7"}
read = [read_fields(form, say) for form in FORMS.values()]
assert quicken() > 80
assert [read_fields(form, say) for _ in (1, 2) for form in FORMS.values()] == [*read, *read]
after = (outline(events), pickle.dumps(folding.fold(events)), Moment("a", 1, 2), Field("x", "X"))
assert before == after
assert hash(before[2]) == hash(after[2])
assert vars(after[3]) == vars(before[3])
assert replace(after[2], tz=5) == Moment("a", 1, 2, 5)
one, other = (Event("s", "d", 1, "e", "h", 1, 0, 1, "r", "k") for _ in range(2))
assert one.data == {} and one.data is not other.data
for wrong in ((), ("a", 1, 2, 3, 4, 5, 6, 7)):
    try:
        Moment(*wrong)
    except TypeError:
        pass
    else:
        raise AssertionError(wrong)
after[2].tz = 3  # no longer frozen: that is what makes it quicker
assert after[2] == Moment("a", 1, 2, 3)
typed = ("54.5", "5,280", "", " 7 ", "23 lb 4 oz", "12")
units.parse.cache_clear()
told = [units.parse(*each) for _ in (1, 2) for each in product(("mass", "length"), typed, MASS)]
assert told == [parse(*each) for _ in (1, 2) for each in product(("mass", "length"), typed, MASS)]
assert units.parse.cache_info().hits == len(told) / 2
print("the same")
"""


def test_records_and_numbers_made_the_quicker_way_are_the_same() -> None:
    here = [path for path in sys.path if path.endswith("support")]
    done = subprocess.run(
        (sys.executable, "-c", PROGRAM, *here), capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    assert done.stdout == "the same\n"
