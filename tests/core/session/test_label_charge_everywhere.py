"""The retrofit label's own charge is used wherever the plate's was, not in the total alone.

READ: 40 CFR 82.152: the full charge is what the appliance needs for normal operation, by the
manufacturer, by calculation of all parts, by measurement or by a range: of what is in it now, pipes
included. R-407C takes about 90 to 95 % of the weight of R-22 (a distributor's R-22 retrofit
brochure), so the old plate is no charge of the new refrigerant, but near enough for an estimate
where the label gives none: our choice.
"""

import pytest
from expert import YES, Bench
from strategies import PROCEDURE

from lowside.core.advice.outlook import Outlook, outlook_of
from lowside.core.handbook.fields import Fields
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import step_by_id
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.service_record import full_charge
from lowside.core.pages.screen import Screen
from lowside.core.pages.ticket import ticket_context
from lowside.core.pages.walks import walk_alerts
from lowside.core.session.gate import blocks

UNIT = {"metering": "txv", "capacity": "3 ton", "coil": "tube_fin", "receiver": "no"}
LINE = {"line_length": "40 ft", "line_included": "15 ft", "line_adder": "0.6 oz/ft"}
READING = {
    "suction_pressure": "66 psig",
    "suction_line": "63 °F",
    "liquid_pressure": "233 psig",
    "liquid_line": "107 °F",
    "outdoor_dry_bulb": "95 °F",
    "return_dry_bulb": "78 °F",
    "return_wet_bulb": "66 °F",
}
RECOVERY = (
    ("recovery_ready", dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")),
    (
        "recovery_cylinder",
        {
            "rc_water": "26.2 lb",
            "rc_tare": "24 lb",
            "rc_service": "400 psig",
            "rc_date": "06/2024",
            "rc_date_means": "tested",
            "rc_label": "RC-1",
        },
    ),
    ("recovery_contents", {"rc_before": "24 lb", "rc_inside": "empty"}),
)
"""Room for 16 to 21 lb, by the refrigerant."""


def retrofitted(
    handbook: Handbook, plate: str, label: str = "", inside: str = "R-422B", **more: str
) -> Bench:
    """An R-22 unit, or with `inside` empty still one, up to its target."""
    checks = {name: more.pop(name) for name in ("leak", "leak_refused") if name in more}
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    unit = {**UNIT, "refrigerant": "R-22", "nameplate_charge": plate, **more}
    unit |= {"retrofit_refrigerant": inside, "retrofit_charge": label}
    cylinder = {"cylinder_label": "C", "cylinder_refrigerant": inside or "R-22"}
    for form, typed in (
        ("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"}),
        ("unit", unit),
        ("machine", {"mode": "cooling", "compressor": "full", "kind": "split"}),
        ("target", {"method": "subcooling", "maker_subcooling": "10 °F"}),
        ("preconditions", {**YES, **checks}),
        ("cylinder", {**cylinder, "cylinder_tare": "7 lb", "withdrawal": "dip_tube"}),
        ("start_weight", {"gross": "27 lb"}),
        ("tare", {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "1 oz"}),
    ):
        assert bench.form(form, typed), bench.refused
    return bench


def outlook(bench: Bench) -> Outlook:
    bench.book.wait(900)
    assert bench.form("reading", READING), bench.refused
    found = outlook_of(bench.state(), bench.state().readings[0])
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("plate", "label", "pounds"),
    [("8 lb", "6 lb", 6.0), ("", "6 lb", 6.0), ("8 lb", "", 8.0), ("", "", 7.4737)],
)
def test_what_is_missing_and_the_cap_are_of_the_label(
    handbook: Handbook, plate: str, label: str, pounds: float
) -> None:
    """Without either: 2.5 lb a ton, common practice, no source."""
    found = outlook(retrofitted(handbook, plate, label))
    assert found.full_charge_kg / POUND_KG == pytest.approx(pounds, abs=1.0e-3)


def test_the_estimate_grows_with_the_label_and_not_with_the_plate(handbook: Handbook) -> None:
    of_six = outlook(retrofitted(handbook, "8 lb", "6 lb")).high_kg
    assert of_six == outlook(retrofitted(handbook, "12 lb", "6 lb")).high_kg
    assert of_six < outlook(retrofitted(handbook, "8 lb", "8 lb")).high_kg


def test_the_line_set_of_the_old_plate_adds_nothing_to_the_label(handbook: Handbook) -> None:
    """The label has the amount in the system (the brochure, step 11); the plate has not."""
    labeled = outlook(retrofitted(handbook, "8 lb", "6 lb", **LINE))
    assert labeled.full_charge_kg / POUND_KG == pytest.approx(6.0)
    plate = outlook(retrofitted(handbook, "8 lb", inside="", **LINE))
    assert plate.full_charge_kg / POUND_KG == pytest.approx(8.9375)


@pytest.mark.parametrize(("takes_off", "pounds"), [("", 7.25), ("yes", 7.25), ("no", 8.0)])
def test_a_shorter_line_set_takes_charge_off_the_estimate_unless_its_papers_do_not(
    handbook: Handbook, takes_off: str, pounds: float
) -> None:
    """By a table of one manufacturer it does, by another's nothing is added (READ: XPG20, MMY)."""
    line = {**LINE, "line_length": "5 ft", "line_included": "25 ft", "short_line": takes_off}
    found = outlook(retrofitted(handbook, "8 lb", inside="", **line))
    assert found.full_charge_kg / POUND_KG == pytest.approx(pounds)


LEAKS = {"leak": "leaking", "leak_refused": "Owner O. said no", "capacity": "5 ton"}


def told_of_the_leak(bench: Bench) -> str:
    return " ".join(each.cure for each in blocks(bench.state()) if each.code == "leaking")


@pytest.mark.parametrize(
    ("plate", "label", "told"),
    [
        ("16 lb", "14 lb", ""),
        ("14 lb", "16 lb", "40 CFR 84.106 applies"),
        ("14 lb", "", ""),
        ("16 lb", "", "40 CFR 84.106 applies"),
        ("", "", "or the retrofit label’s"),
        ("", "14 lb", ""),
    ],
)
def test_the_federal_sizes_are_held_against_the_label(
    handbook: Handbook, plate: str, label: str, told: str
) -> None:
    """40 CFR 84.106 begins at 15 lb of an HFC; R-422B has R-125 and R-134a. A label without an
    amount cannot be asked for one: the old plate counts then (our choice)."""
    found = told_of_the_leak(retrofitted(handbook, plate, label, **LEAKS))
    assert (found == "") == (told == "")
    assert told in found


@pytest.mark.parametrize(("plate", "rule"), [("49 lb", True), ("47 lb", False)])
def test_the_line_set_counts_for_the_federal_sizes(
    handbook: Handbook, plate: str, rule: bool
) -> None:
    """40 CFR 82.157 begins at 50 lb of an ozone-depleting one. 25 ft more at 0.8 oz are 1.25 lb."""
    line = {**LINE, "line_adder": "0.8 oz/ft"}
    bench = retrofitted(handbook, plate, inside="", **(LEAKS | line | {"capacity": "12 ton"}))
    assert ("40 CFR 82.157 applies" in told_of_the_leak(bench)) == rule
    bare = retrofitted(handbook, plate, inside="", **(LEAKS | {"capacity": "12 ton"}))
    assert told_of_the_leak(bare) == ""


@pytest.mark.parametrize(
    ("plate", "label", "told"),
    [
        ("24 lb", "22 lb", "22 lb"),
        ("30 lb", "12 lb", ""),
        ("12 lb", "30 lb", "30 lb"),
        ("30 lb", "", "30 lb"),
        ("12 lb", "", ""),
    ],
)
def test_the_recovery_cylinders_room_is_held_against_the_label(
    handbook: Handbook, plate: str, label: str, told: str
) -> None:
    bench = retrofitted(handbook, plate, label, capacity="10 ton")
    for form, typed in RECOVERY:
        assert bench.form(form, typed), bench.refused
    state = bench.state()
    procedure = handbook.procedures[state.procedure]
    screen = Screen(state, handbook, bench.now(), "0" * 26, (), None)
    step = step_by_id(procedure, "rec_contents")
    assert step is not None
    alerts = walk_alerts(screen, procedure, step)
    found = [each["text"] for each in alerts if each["word"] == "Not enough room."]
    assert [told in each for each in found] == ([] if told == "" else [True])


def test_the_record_says_whose_charge_the_plates_is(handbook: Handbook) -> None:
    def facts(bench: Bench) -> dict[str, str]:
        parts = ticket_context(bench.state(), handbook)["parts"]
        return {one["name"]: one["value"] for part in parts for one in part["facts"]}

    found = facts(retrofitted(handbook, "8 lb", "6 lb"))
    assert found["Nameplate charge"] == "8 lb 0.0 oz of R-22"
    assert found["Full charge by weight"] == "6 lb 0.0 oz"
    plain = facts(retrofitted(handbook, "8 lb", inside=""))
    assert plain["Nameplate charge"] == "8 lb 0.0 oz"


def test_a_labels_charge_that_would_not_be_used_is_asked_back(handbook: Handbook) -> None:
    """An amount that nothing would ever read is a slip: our choice."""
    bench = retrofitted(handbook, "8 lb", "6 lb")
    unit = {**UNIT, "refrigerant": "R-22", "nameplate_charge": "8 lb", "retrofit_charge": "6 lb"}
    assert not bench.form("unit", unit)
    assert bench.refused == "Choose one."
    assert not bench.form(
        "unit", {**unit, "retrofit_refrigerant": "R-422B", "retrofit_charge": "0 lb"}
    )
    assert bench.form("unit", {**unit, "retrofit_refrigerant": "R-422B"})
    assert bench.form("unit", {**unit, "retrofit_charge": ""})


def test_the_offices_full_charge_needs_no_target(handbook: Handbook) -> None:
    """What the labels say is known before there is a target or an elevation."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    unit = {**UNIT, **LINE, "refrigerant": "R-22", "nameplate_charge": "8 lb"}
    assert bench.form("unit", unit), bench.refused
    found = full_charge(bench.state(), Fields({}, {}, {}))
    assert (round((found.kg or 0.0) / POUND_KG, 4), found.how) == (8.9375, "Nameplate and line set")
    shorter = {**unit, "line_length": "1 ft", "line_included": "25 ft", "line_adder": "6 oz/ft"}
    assert bench.form("unit", {**shorter, "short_line": "yes"}), bench.refused
    slip = full_charge(bench.state(), Fields({}, {}, {}))
    assert round((slip.kg or 0.0) / POUND_KG, 4) == 8.0
    assert slip.how == "Nameplate, without the line set"
