"""Which rule covers a unit, what its record holds, and that nothing recalled is ever applied."""

import json
from importlib.resources import files

import pytest
from office_cases import visit
from strategies import Book

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.coverage import (
    APPLIES,
    BELOW_LEAST,
    EXEMPT,
    NOT_YET,
    OTHER_SUBSTANCE,
    UNKNOWN_STANDING,
    UnitFacts,
    applicability,
)
from lowside.core.office.dates import day_of
from lowside.core.office.law import Law, law_of
from lowside.core.office.rule_set import USES, rule_set_from
from lowside.core.office.service_record import addition, own_record
from lowside.core.session.federal import HFC_LIMIT_KG, OZONE_LIMIT_KG
from lowside.core.session.fold import fold
from lowside.core.session.state import State
from lowside.core.session.unit import designation
from lowside.library import load_rules

RULES = load_rules()
CHILLER = {"use": "comfort_cooling", "light": "no", "method": "annualizing"}


def law(handbook: Handbook, *books: Book) -> Law:
    """What the rules say of the last of these visits to one unit."""
    states: list[State] = [fold(book.events) for book in books]
    additions = [one for one in map(addition, states) if one is not None]
    records = [one for one in map(own_record, states) if one is not None]
    newest = states[-1]
    refrigerant = handbook.refrigerants.get(designation(newest.unit_texts))
    return law_of(newest, refrigerant, additions, records, RULES)


def standings(
    handbook: Handbook, name: str, pounds: float | None, use: str, light: str, day: str
) -> dict[str, str]:
    found = day_of(day)
    assert found is not None
    kilograms = None if pounds is None else pounds * POUND_KG
    unit = UnitFacts(handbook.refrigerants.get(name), kilograms, use, light)  # type: ignore[arg-type]
    return {
        one.coverage.name.removeprefix("40 CFR "): one.standing
        for one in applicability(unit, found, RULES, UnitChoice())
    }


OZONE, HFC = "82.157", "84.106"

SITUATIONS = (
    # A home split unit of R-410A: under 15 lb, and exempt besides.
    ("R-410A", 8.0, "comfort_cooling", "yes", "2026-05-01", HFC, BELOW_LEAST),
    ("R-410A", 40.0, "comfort_cooling", "yes", "2026-05-01", HFC, EXEMPT),
    ("R-410A", 40.0, "comfort_cooling", "", "2026-05-01", HFC, UNKNOWN_STANDING),
    ("R-410A", 40.0, "comfort_cooling", "no", "2026-05-01", HFC, APPLIES),
    ("R-410A", 14.99, "comfort_cooling", "no", "2026-05-01", HFC, BELOW_LEAST),
    ("R-410A", 15.0, "comfort_cooling", "no", "2026-01-01", HFC, APPLIES),
    ("R-410A", 15.0, "comfort_cooling", "no", "2025-12-31", HFC, NOT_YET),
    ("R-410A", None, "comfort_cooling", "no", "2026-05-01", HFC, UNKNOWN_STANDING),
    # A blend with an HFC counts whatever its own GWP; a pure HFO below 53 does not.
    ("R-454C", 20.0, "commercial_refrigeration", "", "2026-05-01", HFC, APPLIES),
    ("R-1234yf", 90.0, "comfort_cooling", "no", "2026-05-01", HFC, OTHER_SUBSTANCE),
    ("R-290", 90.0, "commercial_refrigeration", "", "2026-05-01", HFC, OTHER_SUBSTANCE),
    # Saying “light commercial” of a supermarket rack exempts nothing.
    ("R-404A", 90.0, "commercial_refrigeration", "yes", "2026-05-01", HFC, APPLIES),
    ("R-22", 50.0, "comfort_cooling", "yes", "2026-05-01", OZONE, APPLIES),
    ("R-22", 49.9, "comfort_cooling", "yes", "2026-05-01", OZONE, BELOW_LEAST),
    ("R-22", 90.0, "comfort_cooling", "no", "2020-04-09", OZONE, NOT_YET),
    ("R-22", 90.0, "comfort_cooling", "no", "2026-05-01", HFC, OTHER_SUBSTANCE),
    ("R-410A", 90.0, "comfort_cooling", "no", "2026-05-01", OZONE, OTHER_SUBSTANCE),
    ("R-999X", 90.0, "comfort_cooling", "no", "2026-05-01", OZONE, UNKNOWN_STANDING),
)


@pytest.mark.parametrize(("name", "pounds", "use", "light", "day", "section", "wanted"), SITUATIONS)
def test_what_covers_a_unit(
    handbook: Handbook,
    name: str,
    pounds: float | None,
    use: str,
    light: str,
    day: str,
    section: str,
    wanted: str,
) -> None:
    assert standings(handbook, name, pounds, use, light, day)[section] == wanted


def test_the_limits_are_those_the_phone_asks_by() -> None:
    by_name = {one.name: one for one in RULES.coverages}
    assert by_name["40 CFR 82.157"].least_charge_kg == pytest.approx(OZONE_LIMIT_KG)
    assert by_name["40 CFR 84.106"].least_charge_kg == pytest.approx(HFC_LIMIT_KG)
    assert by_name["40 CFR 84.106"].gwp_over == 53.0


@pytest.mark.parametrize("coverage", RULES.coverages, ids=lambda one: one.name)
def test_thresholds_are_ten_twenty_and_thirty_percent(coverage: object) -> None:
    percents = {use: coverage.thresholds[use].percent for use in USES}  # type: ignore[attr-defined]
    assert percents == {
        "comfort_cooling": 10.0,
        "commercial_refrigeration": 20.0,
        "industrial_process": 30.0,
        "transport": 10.0,
        "other": 10.0,
    }


def test_every_rule_has_a_citation_and_says_how_it_is_known() -> None:
    for rule in RULES.rules:
        assert rule.citation != ""
        assert rule.basis in ("READ", "COMPUTED", "MEMORY")
    assert any(not rule.verified for rule in RULES.rules)


@pytest.mark.parametrize("name", ["scope", "least_charge", "exempt", "counts_from", "rolling"])
def test_a_rule_from_memory_gives_no_figure(name: str) -> None:
    data = json.loads(files("lowside").joinpath("data", "regulations_us.json").read_text("utf-8"))
    recalled = next(rule["id"] for rule in data["rules"] if rule["basis"] == "MEMORY")
    data["coverages"][1][name] = recalled
    with pytest.raises(ValueError, match="memory"):
        rule_set_from(data)


def test_a_chiller_over_ten_percent_must_be_repaired(handbook: Handbook) -> None:
    found = law(
        handbook,
        visit(1, "2026-01-10", 2.0, record=CHILLER),
        visit(2, "2026-05-10", 3.0, record=CHILLER),
    )
    assert found.covered_by is not None
    assert found.level == "stop"
    assert "must be repaired" in found.verdict
    assert "40 CFR 84.106(c)(2)(iii)" in found.verdict
    (line,) = found.rates
    assert "15.21 % a year" in line.sentence
    assert any(not rule.verified for rule in found.covered_by.then)


def test_while_the_use_is_not_said_the_strictest_threshold_holds(handbook: Handbook) -> None:
    found = law(handbook, visit(1, "2026-05-10", 7.0, record={"light": "no"}))
    assert found.level == "stop"
    assert "the strictest" in found.verdict


def test_a_home_unit_has_no_federal_duty(handbook: Handbook) -> None:
    found = law(handbook, visit(1, "2026-05-10", 2.0, nameplate_lb="8"))
    assert found.level == "good"
    assert "No federal leak-rate rule" in found.verdict
    assert [line.rate is not None for line in found.rates] == [True, True]


@pytest.mark.parametrize(
    ("name", "day"),
    [("R-410A", "2025-12-31"), ("R-410A", "2016-11-24"), ("R-22", "2020-04-09"),
     ("R-290", "2016-11-24")],
)  # fmt: skip
def test_before_the_rules_kept_here_nothing_is_decided(
    handbook: Handbook, name: str, day: str
) -> None:
    found = law(handbook, visit(1, day, 2.0, refrigerant=name, record=CHILLER))
    assert found.level == "warn"
    assert found.verdict == (
        f"Not decided. The date is {day}, and no rule kept here for its refrigerant is that old. "
        "Check the date."
    )


@pytest.mark.parametrize(("name", "day"), [("R-290", "2020-04-10"), ("R-22", "2025-12-31")])
def test_a_rule_that_never_was_about_its_refrigerant_leaves_nothing_open(
    handbook: Handbook, name: str, day: str
) -> None:
    found = law(handbook, visit(1, day, 2.0, refrigerant=name, nameplate_lb="40"))
    assert found.level == "good"
    assert "No federal leak-rate rule" in found.verdict


def test_a_missing_fact_decides_nothing(handbook: Handbook) -> None:
    for record in (None, {"use": "comfort_cooling"}):
        found = law(handbook, visit(1, "2026-05-10", 2.0, record=record))
        assert found.level == "warn"
        assert "Not decided" in found.verdict


def test_the_technicians_answer_about_the_exemption_is_used(handbook: Handbook) -> None:
    book = visit(1, "2026-05-10", 2.0)
    book.form("preconditions", leak="leaking", leak_exempt="yes")
    assert "No federal leak-rate rule" in law(handbook, book).verdict


def test_seasonal_variance_has_no_rate(handbook: Handbook) -> None:
    found = law(handbook, visit(1, "2026-05-10", 30.0, record={**CHILLER, "why": "seasonal"}))
    assert found.level == "good"
    assert found.rates == ()


def test_an_unweighed_shot_leaves_it_open(handbook: Handbook) -> None:
    book = visit(1, "2026-05-10", 2.0, record=CHILLER, weighed=False)
    found = law(handbook, book)
    assert found.level == "warn"
    assert "how much is not known" in {line.rule.id: line.value for line in found.service}["R26"]


def test_the_record_holds_every_field_the_rule_asks_for(handbook: Handbook) -> None:
    written = CHILLER | {
        "owner": "Mill Lane Offices",
        "address": "4 Mill Lane",
        "full_charge": "60",
        "full_charge_unit": "lb",
        "full_charge_how": "weighed",
        "why": "leak",
        "parts": "Suction service valve",
        "service": "Packing replaced",
        "certification": "Universal 0000",
    }
    found = law(handbook, visit(1, "2026-05-10", 3.0, record=written))
    values = {line.rule.id: line.value for line in (*found.service, *found.unit)}
    assert "" not in values.values()
    assert values["R21"] == "CH-1, Mill Lane, 4 Mill Lane"
    assert values["R22"] == "2026-05-10"
    assert values["R25"] == "I. Varga, certification Universal 0000"
    assert values["R26"] == "3 lb 0.0 oz R-410A added. Refrigerant was lost"
    assert values["R27"] == "60 lb 0.0 oz. Measured by weight"
    assert "5.00 % a year" in values["R28"]
    assert values["R15"] == "2026-05-10: 60 lb 0.0 oz, Measured by weight"


def test_what_is_true_of_the_unit_is_taken_over_and_what_was_done_is_not(
    handbook: Handbook,
) -> None:
    first = visit(1, "2026-01-10", 2.0, record=CHILLER | {"owner": "A. Owner", "parts": "Valve"})
    found = law(handbook, first, visit(2, "2026-05-10", 3.0))
    assert found.written.unit_from is not None
    values = {line.rule.id: line.value for line in (*found.service, *found.unit)}
    assert values["R11"] == "A. Owner"
    assert values["R23"] == ""
    assert found.level == "stop"


def test_a_range_counts_with_its_midpoint(handbook: Handbook) -> None:
    written = CHILLER | {
        "full_charge_how": "range",
        "full_charge_low": "50",
        "full_charge_low_unit": "lb",
        "full_charge_high": "70",
        "full_charge_high_unit": "lb",
    }
    found = law(handbook, visit(1, "2026-05-10", 3.0, record=written))
    assert found.full.kg == pytest.approx(60.0 * POUND_KG)
    assert {line.rule.id: line.value for line in found.unit}["R14"] == (
        "50 lb 0.0 oz to 70 lb 0.0 oz, midpoint 60 lb 0.0 oz"
    )


def test_a_chronic_leak_is_named_with_its_report(handbook: Handbook) -> None:
    found = law(handbook, visit(1, "2026-05-10", 80.0, record=CHILLER))
    assert "In 2026 133 % of the full charge was added." in found.year
    assert "40 CFR 84.106(m)" in found.year


def test_the_responsible_persons_decision_is_shown(handbook: Handbook) -> None:
    written = CHILLER | {"ruling": "not", "ruling_why": "Sold in May", "responsible": "B. Chief"}
    found = law(handbook, visit(1, "2026-05-10", 9.0, record=written))
    assert found.decided == "B. Chief: The rule does not apply. Sold in May"
