"""A weigh-in and a recovery played through the real forms, for the tests of both walks."""

from collections.abc import Mapping

from expert import Bench
from strategies import CHECKED_ALWAYS, CIRCUIT, MACHINE, PROCEDURE

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.pages.addresses import STEP, Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session import weighing
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS
from lowside.core.session.other_cylinder import WEIGH_FIRST, first_before

FRESH = "01JD00000000000000000000AA"
READY = dict.fromkeys(("locked", "emptied", "hoses_off", "qualified", "protected"), "yes")
BURNS = dict.fromkeys(FLAMMABLE_QUESTIONS, "yes")
TEST = {
    "test_pressure": "150 psig",
    "test_end": "150 psig",
    "test_held": "15 min",
    "leak": "none_found",
}
VACUUM = {"vacuum_reached": "300 microns", "vacuum_end": "450 microns", "vacuum_time": "20 min"}
RECOVERY_CYLINDER = {
    "rc_water": "47.7 lb",
    "rc_tare": "27 lb",
    "rc_service": "400 psig",
    "rc_date": "06/2024",
    "rc_date_means": "tested",
    "rc_label": "RC-1",
}


def did(bench: Bench, form: str, **typed: str) -> None:
    assert bench.form(form, typed), bench.refused


def before_reading(
    handbook: Handbook,
    unit: Mapping[str, str],
    target: Mapping[str, str],
    machine: Mapping[str, str] = MACHINE,
    procedure: str = PROCEDURE,
    resolution: str = "0.5 oz",
) -> Bench:
    """An R-410A unit of 3 tons, or as `unit` says, ready for its first reading."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": procedure})
    did(bench, "job", site="S", unit_label="U", technician="T", elevation="0 ft")
    plate = {"refrigerant": "R-410A", "capacity": "3 ton", **CIRCUIT, **unit}
    did(bench, "unit", **plate)
    did(bench, "machine", **machine)
    did(bench, "target", **target)
    did(bench, "preconditions", **CHECKED_ALWAYS)
    did(
        bench,
        "cylinder",
        cylinder_label="C-1",
        cylinder_refrigerant=plate["refrigerant"],
        cylinder_tare="7 lb",
        withdrawal="invert",
    )
    did(bench, "start_weight", gross="27 lb")
    did(bench, "tare", scale_mode="gross", scale_reading="27.5 lb", scale_resolution=resolution)
    return bench


def refused(bench: Bench, form: str, **typed: str) -> str:
    assert not bench.form(form, typed), "accepted"
    return bench.refused


def weigh_before(bench: Bench) -> None:
    """The end weight of the cylinder in use, where it is asked before another is named."""
    state = bench.state()
    if first_before(state) == WEIGH_FIRST and state.start_weight is not None:
        did(bench, "end_weight", gross=f"{state.start_weight.kg:.3f} kg")


def cylinder(bench: Bench, label: str, refrigerant: str, gross: str) -> None:
    weigh_before(bench)
    did(
        bench,
        "cylinder",
        cylinder_label=label,
        cylinder_refrigerant=refrigerant,
        cylinder_tare="7 lb",
        withdrawal="invert",
    )
    did(bench, "start_weight", gross=gross)


def to_vacuum(bench: Bench, refrigerant: str = "R-410A", gross: str = "27 lb") -> Bench:
    """Ready, tested, evacuated, the charge known and the cylinder weighed."""
    did(bench, "weigh_ready", **(READY | (BURNS if refrigerant == "R-290" else {})))
    did(bench, "pressure_test", **TEST)
    did(bench, "weigh_total", coil_adder="0 lb", drier_adder="0 lb")
    cylinder(bench, "C", refrigerant, gross)
    did(bench, "vacuum_held", **VACUUM)
    return bench


def evacuated(handbook: Handbook, charge: str = "6 lb", refrigerant: str = "R-410A") -> Bench:
    """A unit of this charge with nothing in it, everything done before the first lot."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    did(bench, "job", site="S", unit_label="U", technician="T", elevation="0 ft")
    did(
        bench,
        "unit",
        refrigerant=refrigerant,
        metering="txv",
        coil="tube_fin",
        receiver="no",
        nameplate_charge=charge,
        line_length="15 ft",
        line_included="15 ft",
        line_adder="0.6 oz/ft",
    )
    did(bench, "machine", mode="cooling", compressor="full", kind="split")
    return to_vacuum(bench, refrigerant)


def ounces(bench: Bench) -> float:
    return weighing.charged_kg(bench.state()) / OUNCE_KG


def recover(bench: Bench, what: str, after: str, then: str) -> None:
    did(
        bench,
        "recovery_ready",
        **dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes"),
    )
    did(bench, "recovery_cylinder", **RECOVERY_CYLINDER)
    did(bench, "recovery_contents", rc_before="27 lb", rc_inside="empty")
    left = "0 psig" if what == "whole" else "110 psig"
    did(bench, "recovery_after", rc_after=after, rc_left=left, rc_what=what, rc_next=then)


def page_at(bench: Bench, kind: str, name: str) -> Page:
    screen = Screen(bench.state(), bench.handbook, bench.now(), FRESH, (), None)
    shown = view(screen, Address(kind, bench.book.sid, name))
    assert isinstance(shown, Page)
    return shown


def facts_at(bench: Bench, step: str) -> dict[str, str]:
    shown = page_at(bench, STEP, step)
    return {one["name"]: one["value"] for one in shown.context["facts"]}
