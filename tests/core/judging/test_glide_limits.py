"""Air, freezing and the switch are held against the midpoint of a blend's glide.

READ: a training article on blends takes the midpoint of dew and bubble for the coil below return
air and for condensing above ambient, and dew and bubble for superheat and subcooling; a compressor
manufacturer says evaporating and condensing temperatures of R-407C must be called dew or mean, and
that the mean is more or less the average temperature (MT compressors p. 77). The readings of each
row are one machine: the same coil and the same condenser, whatever boils in it (computed). R-22 and
R-290 have no glide.
"""

from collections.abc import Mapping

import pytest
from expert import WORDS, YES, Bench
from gliding import at_midpoint
from strategies import PROCEDURE

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import bubble_temperature, dew_temperature
from lowside.core.judging.by_target import midpoint
from lowside.core.judging.charge import Assessment
from lowside.core.numbers.units import PSI_PA

AIR_PA = 101325.0
WIDE = ("R-407C", "R-448A", "R-454C", "R-455A")
REFRIGERANTS = ("R-22", "R-32", "R-410A", "R-454B", *WIDE)
OUTDOORS = (75.0, 95.0, 105.0)


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


def judged(
    handbook: Handbook,
    refrigerant: str,
    signs: tuple[float, float, float, float],
    outdoor: float = 95.0,
    indoor: float = 78.0,
    unit: Mapping[str, str] | None = None,
) -> tuple[str, Assessment, str, bool]:
    """Advice, judgment, why, and whether a shot can be started, of one reading by the real forms.
    `signs` [°F]: coil below return air, superheat, condensing above outdoor air, subcooling."""
    below, superheat, lift, subcooling = signs
    table = handbook.tables[refrigerant]
    suction, dew, _ = at_midpoint(table, kelvin(indoor - below))
    liquid, _, bubble = at_midpoint(table, kelvin(outdoor + lift))
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    forms: list[tuple[str, Mapping[str, str]]] = [
        ("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"}),
        (
            "unit",
            {
                "refrigerant": refrigerant,
                "metering": "txv",
                "capacity": "3 ton",
                "nameplate_charge": "8 lb",
                "coil": "tube_fin",
                "receiver": "no",
                **(unit or {}),
            },
        ),
        ("machine", {"mode": "cooling", "compressor": "full", "kind": "split"}),
        ("target", {"method": "subcooling", "maker_subcooling": "10 °F"}),
        ("preconditions", YES),
        (
            "cylinder",
            {
                "cylinder_label": "C",
                "cylinder_refrigerant": refrigerant,
                "cylinder_tare": "7 lb",
                "withdrawal": "dip_tube",
            },
        ),
        ("start_weight", {"gross": "27 lb"}),
        (
            "tare",
            {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "0.25 oz"},
        ),
        (
            "reading",
            {
                "suction_pressure": f"{(suction - AIR_PA) / PSI_PA:.2f} psig",
                "suction_line": f"{dew * 1.8 - 459.67 + superheat:.2f} °F",
                "liquid_pressure": f"{(liquid - AIR_PA) / PSI_PA:.2f} psig",
                "liquid_line": f"{bubble * 1.8 - 459.67 - subcooling:.2f} °F",
                "outdoor_dry_bulb": f"{outdoor} °F",
                "return_dry_bulb": f"{indoor} °F",
                "return_wet_bulb": f"{indoor - 12.0} °F",
            },
        ),
    ]
    for name, typed in forms:
        if name == "reading":
            bench.book.wait(900)
        assert bench.form(name, typed), (name, bench.refused)
    bench.form("decide", {"decision": "add"})
    advice = bench.advice()
    found = bench.state().readings[-1].assessment
    assert found is not None
    return WORDS[advice.action], found, advice.reasons[0], bench.form("shot_open", {})


@pytest.mark.parametrize("outdoor", OUTDOORS)
@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
@pytest.mark.parametrize(
    ("signs", "verdict"),
    [
        ((33.0, 10.0, 18.0, 10.0), "on_target"),  # 35 ± 5 °F and 15 to 22 °F: manufacturers' tables
        ((35.0, 12.0, 28.0, 9.0), "on_target"),  # an old unit (common practice, no source)
        ((28.5, 9.0, 18.0, 10.0), "on_target"),  # the tables' 28 to 30 °F in damp air
        ((35.0, 14.0, 17.0, 5.0), "add"),
        ((38.0, 20.0, 14.0, 2.0), "add"),
        ((43.0, 28.0, 11.0, 0.0), "add"),  # starved
    ],
)
def test_a_sound_unit_is_judged_alike_whatever_boils_in_it(
    handbook: Handbook,
    refrigerant: str,
    signs: tuple[float, float, float, float],
    verdict: str,
    outdoor: float,
) -> None:
    """The control: full and short units, none turned away for its glide."""
    action, found, why, starts = judged(handbook, refrigerant, signs, outdoor)
    assert found.verdict == verdict, why
    assert starts == (action == "add") == (verdict == "add"), why


@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
@pytest.mark.parametrize(
    ("signs", "outdoor", "indoor", "code", "named"),
    [
        # Superheat of a fed coil right below freezing: ice (U-5 IOM p. 17; the limits are ours).
        ((41.0, 6.0, 17.0, 4.0), 95.0, 72.0, "iced", "averages 31.0 °F, below freezing"),
        # 46 °F below return air with the superheat of a fed valve (35 ± 5 °F at 400 cfm/ton).
        ((46.0, 6.0, 17.0, 4.0), 95.0, 80.0, "low_airflow", "mean coil temperature low (34.0 °F)"),
        # 33 °F above outdoor air (a manufacturer's table 15 to 22 °F, old units 30).
        (
            (35.0, 12.0, 33.0, 4.0),
            95.0,
            78.0,
            "low_outdoor_airflow",
            "mean condensing above outdoor",
        ),
        # Both sides too close to their air: a service table's weak compressor.
        ((20.0, 10.0, 9.0, 4.0), 95.0, 78.0, "weak_compressor", "coil temperature high (58.0 °F)"),
        # 9 °F below return air: no coil cools so (physics; the limit is ours).
        (
            (9.0, 5.0, 17.0, 10.0),
            95.0,
            78.0,
            "coil_near_return",
            "69.0 °F on average and return",
        ),
        # 590 psig of R-410A less the gauge's error (4HP14 506318-03 p. 14), carried over: ours.
        ((38.0, 14.0, 28.0, 5.0), 119.0, 78.0, "near_switch", "at 147.0 °F on average"),
        ((38.0, 14.0, 22.0, 5.0), 119.0, 78.0, "plate_first", "at 141.0 °F on average"),
    ],
)
def test_a_fault_is_one_whatever_boils_in_it(
    handbook: Handbook,
    refrigerant: str,
    signs: tuple[float, float, float, float],
    outdoor: float,
    indoor: float,
    code: str,
    named: str,
) -> None:
    """Old: a wide-glide blend was fed in the first three, and turned away when sound."""
    limit = {"high_side_limit": "900 psig"} if code == "near_switch" else {}
    action, found, why, starts = judged(handbook, refrigerant, signs, outdoor, indoor, limit)
    assert (action, found.reason_finding.code, starts) == ("do_not_add", code, False), why
    assert named in why


@pytest.mark.parametrize("refrigerant", WIDE)
def test_superheat_stays_from_dew_and_subcooling_from_bubble(
    handbook: Handbook, refrigerant: str
) -> None:
    _, found, _, _ = judged(handbook, refrigerant, (35.0, 14.0, 17.0, 5.0))
    assert isinstance(found.measured.superheat_k, float)
    assert isinstance(found.measured.subcooling_k, float)
    assert found.measured.superheat_k * 1.8 == pytest.approx(14.0, abs=0.05)
    assert found.measured.subcooling_k * 1.8 == pytest.approx(5.0, abs=0.05)
    assert found.measured.coil_k == pytest.approx(kelvin(43.0), abs=0.02)
    assert found.measured.condensing_k == pytest.approx(kelvin(112.0), abs=0.02)


@pytest.mark.parametrize("refrigerant", ["R-22", "R-32", "R-290", "R-134a"])
def test_without_glide_it_is_the_same_to_the_last_bit(handbook: Handbook, refrigerant: str) -> None:
    table = handbook.tables[refrigerant]
    for share in range(1, 50):
        pressure = table.lowest_pa + (table.highest_pa - table.lowest_pa) * share / 50.0
        dew = dew_temperature(table, pressure)
        bubble = bubble_temperature(table, pressure)
        assert isinstance(dew, float)
        assert isinstance(bubble, float)
        assert midpoint(dew, bubble) == dew == bubble


def test_a_liquid_line_can_be_no_colder_than_the_air_so_the_bubble_point_counts(
    handbook: Handbook,
) -> None:
    """Physics. R-455A whose midpoint is 3 °F above outdoor air condenses down to below it."""
    _, found, why, starts = judged(handbook, "R-455A", (38.0, 30.0, 3.0, -8.0))
    assert "condensing_below_outdoor" in [each.code for each in found.findings]
    assert not starts, why
