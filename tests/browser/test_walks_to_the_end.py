"""Recovery and weigh-in on a phone-sized screen, each from home to its end."""

from typing import TYPE_CHECKING

import hands
import pytest
from cylinder_cases import stamp_of_last_year
from engines.chromium import Tab
from playwright.sync_api import Page, expect
from test_main_job import picture

from lowside.demo import Move

if TYPE_CHECKING:
    from .conftest import OpenPhone, StartServer

YES = dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")
TO_THE_MACHINE = (
    Move(0, "job", "job", {"site": "Mill Lane", "unit_label": "AC-1", "technician": "Ines Varga"}
         | {"elevation": "0"}),
    Move(0, "unit", "unit", {"refrigerant": "R-410A", "metering": "txv", "nameplate_charge": "6 lb",
         "coil": "tube_fin", "receiver": "no"}),
    Move(0, "machine", "machine", {"mode": "heating", "compressor": "full", "kind": "package",
         "port": "suction_port"}),
)  # fmt: skip
RECOVERY = (
    Move(0, "recovery_ready", "rec_ready", YES),
    Move(0, "recovery_cylinder", "rec_cylinder", {"rc_water": "47.7 lb", "rc_tare": "27 lb",
         "rc_service": "400", "rc_date": stamp_of_last_year(), "rc_date_means": "tested",
         "rc_label": "RC-1"}),
    Move(0, "recovery_contents", "rec_contents", {"rc_before": "27 lb", "rc_inside": "empty"}),
    Move(0, "done", "rec_run", {}),
    Move(0, "recovery_after", "rec_after", {"rc_after": "31 lb", "rc_left": "0",
         "rc_what": "whole", "rc_next": "weigh_in"}),
)  # fmt: skip
WEIGH_IN = (
    Move(0, "weigh_ready", "wi_ready", YES | {"emptied": "yes"}),
    Move(0, "pressure_test", "wi_pressure", {"test_pressure": "150", "test_end": "150",
         "test_held": "20", "leak": "none_found"}),
    Move(0, "weigh_total", "wi_total", {"coil_adder": "0 oz", "drier_adder": "0 oz"}),
    Move(0, "cylinder", "wi_cylinder", {"cylinder_label": "C-1", "cylinder_refrigerant": "R-410A",
         "cylinder_tare": "7 lb", "withdrawal": "invert"}),
    Move(0, "start_weight", "wi_start_weight", {"gross": "27 lb"}),
    Move(0, "vacuum_held", "wi_vacuum", {"vacuum_reached": "250", "vacuum_end": "400",
         "vacuum_time": "20"}),
    Move(0, "charge_off", "wi_break", {"charged_off": "5 lb"}),
    Move(0, "charge_run", "wi_run", {"runs_well": "yes"}),
    Move(0, "charge_rest", "wi_rest", {"charged_rest": "0 lb"}),
    Move(0, "done", "wi_off", {}),
    Move(0, "end_weight", "wi_end_weight", {"gross": "22 lb"}),
    Move(0, "charge_result", "wi_result", {"explanation": "1 lb did not go in, unit off"}),
)  # fmt: skip
DRAWN = ("rec_run", "wi_pressure", "wi_vacuum", "wi_break", "wi_rest")


def begun(page: Page, walk: str) -> Tab:
    """From home over the unit's questions to the first step of a walk, as its link leads there."""
    tab = Tab(page)
    page.goto("/")
    hands.begin(tab)
    for move in TO_THE_MACHINE:
        hands.make(tab, move)
    tab.tap(f'a[href$="/step/{walk}"]')
    return tab


def walked(page: Page, tab: Tab, moves: tuple[Move, ...]) -> None:
    for move in moves:
        hands.reach(tab, move)
        expect(page.locator("svg.hoses-picture")).to_have_count(1 if move.step in DRAWN else 0)
        picture(page, "walk", move.step)
        hands.send(tab, move)


@pytest.mark.parametrize(
    ("first", "moves", "ends_at", "color_scheme"),
    [
        ("rec_ready", RECOVERY, "Ready to weigh in", "light"),
        ("wi_ready", WEIGH_IN, "Sign and close", "dark"),
    ],
)
def test_a_walk_from_home_to_its_end(
    first: str,
    moves: tuple[Move, ...],
    ends_at: str,
    color_scheme: str,
    open_phone: "OpenPhone",
    start_server: "StartServer",
) -> None:
    page = open_phone(start_server().url, color_scheme)
    tab = begun(page, first)
    walked(page, tab, moves)
    expect(page.get_by_role("heading", name=ends_at)).to_be_visible()
