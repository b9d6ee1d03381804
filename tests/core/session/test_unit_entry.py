"""A slip in capacity or charge would make every shot too large: they are compared at the form."""

import pytest
from strategies import CIRCUIT, Book, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.entry import Refused, accept
from lowside.core.session.fold import fold


@pytest.mark.parametrize(
    ("capacity", "charge", "told"),
    [
        ("3 ton", "8 lb", ""),
        ("3 ton", "1 lb", ""),
        ("3 ton", "0.8 lb", "does not go with 3.0 ton"),
        ("36 ton", "12 lb", "36,000 Btu/h are 3 tons"),
        ("3 ton", "35.9 lb", ""),
        ("3 ton", "36.1 lb", "does not go with 3.0 ton"),
        ("36 ton", "8 lb", "36,000 Btu/h are 3 tons"),
        ("36 ton", "", "A 36 in a model number is 36,000 Btu/h"),
        ("12.5 ton", "", ""),
        ("25 ton", "60 lb", ""),
        ("10.5 kW", "3.6 kg", ""),
        ("", "8 lb", ""),
    ],
)
def test_capacity_and_charge_go_together(
    handbook: Handbook, capacity: str, charge: str, told: str
) -> None:
    book = Book()
    book.write("session.started", {"procedure": "hand-valved-three-port"})
    typed = {"refrigerant": "R-410A", "metering": "txv", **CIRCUIT}
    typed |= {"capacity": capacity} if capacity else {}
    typed |= {"nameplate_charge": charge} if charge else {}
    outcome = accept(fold(book.events, handbook), "unit", with_units("unit", typed), handbook)
    said = outcome.problems.get("nameplate_charge", "") if isinstance(outcome, Refused) else ""
    assert told in said
    assert isinstance(outcome, Refused) is (told != "")
