"""Which readings are high or low, and what that looks like: each limit on both sides, in the °F
of its source (docs/charge.md)."""

from dataclasses import replace

import pytest
from charge_cases import (
    DEGREE,
    FIXED_UNIT,
    NOTHING,
    UNKNOWN,
    VALVE_UNIT,
    air,
    codes,
    kelvin,
)

from lowside.core.handbook.system import (
    EEV,
    FIXED,
    TXV,
    System,
)
from lowside.core.judging.by_target import Measured
from lowside.core.judging.contrary import contrary
from lowside.core.judging.faults import (
    HIGH,
    LOW,
    NORMAL,
    NOT_KNOWN,
    Signs,
    approach_contradicted,
    condensing_below_outdoor,
    finding_of,
    head_level,
    pattern,
    signs_of,
    split_level,
    suction_level,
)
from lowside.core.judging.findings import Finding
from lowside.core.judging.targets import (
    APPROACH,
    SUBCOOLING,
    SUPERHEAT,
    NoTarget,
    Target,
)


class TestSigns:
    @pytest.mark.parametrize(
        ("dew", "indoor", "level"),
        [
            (34.9, 80.0, LOW),
            (35.1, 80.0, NORMAL),
            (57.9, 80.0, NORMAL),
            (58.1, 80.0, HIGH),
            (31.9, None, LOW),
            (32.1, None, NORMAL),
            (59.9, None, NORMAL),
            (60.1, None, HIGH),
        ],
    )
    def test_of_the_low_side(self, dew: float, indoor: float | None, level: str) -> None:
        """45 and 22 °F below return air; freezing and 60 °F without it."""
        found = suction_level(kelvin(dew), None if indoor is None else kelvin(indoor))
        assert found == level

    @pytest.mark.parametrize(
        ("bubble", "outdoor", "level"),
        [
            (104.9, 95.0, LOW),
            (105.1, 95.0, NORMAL),
            (129.9, 95.0, NORMAL),
            (130.1, 95.0, HIGH),
            (99.9, 60.0, NORMAL),
            (100.1, 60.0, HIGH),
        ],
    )
    def test_of_the_high_side(self, bubble: float, outdoor: float, level: str) -> None:
        """10 to 35 °F above outdoor air, and never high below 100 °F."""
        assert head_level(kelvin(bubble), kelvin(outdoor)) == level

    @pytest.mark.parametrize(
        ("split", "level"), [(15.9, LOW), (16.1, NORMAL), (21.9, NORMAL), (22.1, HIGH)]
    )
    def test_of_the_air(self, split: float, level: str) -> None:
        """19 ± 3 °F."""
        assert split_level((split * DEGREE, 19.0 * DEGREE)) == level
        assert split_level(None) == NOT_KNOWN

    @pytest.mark.parametrize(
        ("unit", "target", "subcooling", "level"),
        [
            (FIXED_UNIT, None, 4.9, LOW),
            (FIXED_UNIT, None, 5.1, NORMAL),
            (FIXED_UNIT, None, 17.9, NORMAL),
            (FIXED_UNIT, None, 18.1, HIGH),
            (VALVE_UNIT, None, 6.9, LOW),
            (VALVE_UNIT, None, 7.1, NORMAL),
            (VALVE_UNIT, None, 12.9, NORMAL),
            (VALVE_UNIT, None, 13.1, HIGH),
            (VALVE_UNIT, SUBCOOLING, 13.9, LOW),
            (VALVE_UNIT, SUBCOOLING, 14.1, NORMAL),
            (VALVE_UNIT, SUBCOOLING, 16.1, HIGH),
            (VALVE_UNIT, SUPERHEAT, 13.1, HIGH),
        ],
    )
    def test_of_subcooling(
        self, unit: System, target: str | None, subcooling: float, level: str
    ) -> None:
        """5 to 18 °F; the manufacturer's 10 ± 3 °F; a target of 15 ± 1 °F."""
        of = NoTarget(Finding("x", "shows"))
        aim: Target | NoTarget = of
        if target is not None:
            aim = Target(target, 15.0 * DEGREE, 1.0 * DEGREE, of.reason)  # type: ignore[arg-type]
        measured = Measured(UNKNOWN, subcooling * DEGREE, None, None, None, None)
        found = signs_of(unit, NOTHING, measured, aim, None, None)
        assert found.subcooling == level
        assert found.subcooling_k == subcooling * DEGREE
        assert (found.superheat, found.suction, found.head) == (NOT_KNOWN,) * 3
        assert (found.superheat_k, found.coil_k, found.above_outdoor_k, found.split_k) == (0.0,) * 4
        assert not found.split_sure

    @pytest.mark.parametrize(("supply", "sure"), [(50.0, True), (50.4, False)])
    def test_a_split_is_sure_past_both_thermometers_errors(self, supply: float, sure: bool) -> None:
        """20 and 3 °F, and the errors of 1.376 and 1.35 °F: 25.73 °F. 76 less 50 °F are 26 °F."""
        seen = air(95.0, 76.0, supply_dry_bulb_k=kelvin(supply))
        split = ((76.0 - supply) * DEGREE, 20.0 * DEGREE)
        of = NoTarget(Finding("x", "shows"))
        measured = Measured(8.0, UNKNOWN, None, None, kelvin(40.0), kelvin(115.0))
        found = signs_of(FIXED_UNIT, seen, measured, of, (4.0, 9.0), split)
        assert found.split_sure == sure
        assert found.split_k == split[0]
        assert (found.superheat, found.superheat_k) == (NORMAL, 8.0)
        assert found.coil_k == kelvin(40.0)
        assert (found.head, found.suction) == (NORMAL, NORMAL)
        assert found.above_outdoor_k == pytest.approx(20.0 * DEGREE)
        assert found.subcooling_k == 0.0

    @pytest.mark.parametrize(("bubble", "told"), [(92.3, False), (92.1, True)])
    def test_condensing_colder_than_the_air(self, bubble: float, told: bool) -> None:
        """95 °F, less twice 1.395 °F."""
        found = condensing_below_outdoor(air(95.0), kelvin(bubble), None)
        assert codes(found) == (["condensing_below_outdoor"] if told else [])
        weak = Finding("weak_compressor", "refuse")
        assert condensing_below_outdoor(air(95.0), kelvin(60.0), weak) == []
        other = Finding("undercharge", "shows")
        assert condensing_below_outdoor(air(95.0), kelvin(60.0), other) != []
        assert condensing_below_outdoor(air(), kelvin(60.0), None) == []
        assert condensing_below_outdoor(air(95.0), None, None) == []

    @pytest.mark.parametrize(
        ("maker", "subcooling", "above", "told"),
        [
            (None, 12.0, 9.0, True),
            (None, 11.9, 9.0, False),
            (10.0, 10.0, 9.0, True),
            (10.0, 9.9, 7.0, False),
            (10.0, 9.9, 9.0, True),
            (10.0, 8.0, 10.1, True),
            (10.0, 8.0, 9.9, False),
            (None, 11.0, 12.1, True),
            (None, 11.0, 11.9, False),
            (10.0, 10.0, 5.9, False),
        ],
    )
    def test_an_approach_that_subcooling_contradicts(
        self, maker: float | None, subcooling: float, above: float, told: bool
    ) -> None:
        """A target of 5 ± 1 °F; enough are 12 °F, or the manufacturer's. With the approach back at
        its target, subcooling would be more than 18 °F, or more than the manufacturer's and 3."""
        unit = replace(FIXED_UNIT, maker_subcooling_k=None if maker is None else maker * DEGREE)
        target = Target(APPROACH, 5.0 * DEGREE, 1.0 * DEGREE, Finding("x", "shows"))
        seen = air(95.0, liquid_line_k=kelvin(95.0 + above))
        found = approach_contradicted(unit, target, seen, subcooling * DEGREE)
        assert codes(found) == (["approach_contradicted"] if told else [])
        assert approach_contradicted(unit, target, seen, UNKNOWN) == []
        assert approach_contradicted(unit, target, NOTHING, 20.0) == []
        other = replace(target, quantity=SUPERHEAT)
        assert approach_contradicted(unit, other, seen, 20.0) == []


def stand(**known: object) -> Signs:
    at_rest: dict[str, object] = {
        "superheat": NORMAL,
        "subcooling": NORMAL,
        "suction": NORMAL,
        "head": NORMAL,
        "split": NORMAL,
        "superheat_k": 12.0 * DEGREE,
        "subcooling_k": 8.0 * DEGREE,
        "coil_k": kelvin(45.0),
        "above_outdoor_k": 20.0 * DEGREE,
        "split_k": 19.0 * DEGREE,
    }
    return Signs(**(at_rest | known))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("metering", "known", "code"),
    [
        (FIXED, {}, None),
        (FIXED, {"suction": LOW}, "suction_low"),
        (FIXED, {"suction": LOW, "superheat": LOW}, "low_airflow"),
        (FIXED, {"suction": LOW, "superheat": LOW, "subcooling": LOW}, "overfed"),
        (FIXED, {"suction": LOW, "superheat": LOW, "split": LOW}, "low_superheat"),
        (FIXED, {"suction": LOW, "split": HIGH}, "low_airflow"),
        (FIXED, {"suction": LOW, "split": HIGH, "superheat": HIGH}, "airflow_first"),
        (FIXED, {"split": HIGH, "superheat": HIGH, "split_sure": False}, None),
        (FIXED, {"split": HIGH, "subcooling": LOW}, "airflow_first"),
        (FIXED, {"split": HIGH}, None),
        (FIXED, {"head": HIGH}, "high_head"),
        (FIXED, {"head": HIGH, "subcooling": LOW}, "low_outdoor_airflow"),
        (FIXED, {"head": HIGH, "subcooling": HIGH}, "restriction_overcharge"),
        (TXV, {"head": HIGH, "subcooling": HIGH}, "overcharge"),
        (TXV, {"head": HIGH, "subcooling": HIGH, "superheat": HIGH}, "restriction_overcharge"),
        (FIXED, {"head": HIGH, "subcooling": HIGH, "superheat": LOW}, "overcharge"),
        (FIXED, {"subcooling": HIGH}, "subcooling_high"),
        (EEV, {"subcooling": HIGH}, "overcharge"),
        (TXV, {"subcooling": LOW}, "undercharge_valve"),
        (FIXED, {"subcooling": LOW}, None),
        (TXV, {"superheat": LOW}, "valve_floods"),
        (FIXED, {"superheat": LOW, "subcooling": HIGH}, "overcharge"),
        (FIXED, {"suction": HIGH, "head": LOW}, "weak_compressor"),
        (FIXED, {"suction": HIGH}, None),
        (FIXED, {"superheat": HIGH, "subcooling": NOT_KNOWN}, "subcooling_needed"),
        (TXV, {"superheat": HIGH, "subcooling": NOT_KNOWN}, "valve_superheat_high"),
        (TXV, {"superheat": HIGH}, "valve_superheat_high"),
    ],
)
def test_what_the_signs_look_like(
    metering: str, known: dict[str, object], code: str | None
) -> None:
    found = pattern(stand(**known), metering, maker_subcooling=False)  # type: ignore[arg-type]
    assert (None if found is None else found.code) == code


class TestContrary:
    """What does not go with missing charge [°F]."""

    SHORT = Finding("undercharge", "shows")

    @staticmethod
    def ask(metering: str = FIXED, wet: float | None = 60.0, **known: object) -> str | None:
        signs = stand(**({"subcooling": LOW, "subcooling_k": 2.0 * DEGREE} | known))
        found = contrary(
            signs,
            TestContrary.SHORT,
            air(95.0, 80.0),
            UNKNOWN if wet is None else kelvin(wet),
            (5.0 * DEGREE, 20.0 * DEGREE),
            replace(FIXED_UNIT, metering=metering),  # type: ignore[arg-type]
        )
        return None if found is None else found.code

    @pytest.mark.parametrize(("lift", "code"), [(31.9, None), (32.1, "low_outdoor_airflow")])
    def test_a_high_side_of_a_whole_charge(self, lift: float, code: str | None) -> None:
        assert self.ask(above_outdoor_k=lift * DEGREE) == code
        assert self.ask(above_outdoor_k=lift * DEGREE, head=NOT_KNOWN) is None

    @pytest.mark.parametrize(
        ("lift", "dew", "wet", "code"),
        [
            (13.9, 53.6, 60.0, "weak_compressor"),
            (13.9, 53.4, 60.0, None),
            (14.1, 53.6, 60.0, None),
            (13.9, 53.6, 67.0, "weak_compressor"),
            (13.9, 53.6, 67.2, None),
            (13.9, 55.6, 69.0, "weak_compressor"),
            (13.9, 53.6, None, "weak_compressor"),
            (13.9, 53.4, None, None),
        ],
    )
    def test_both_sides_together(
        self, lift: float, dew: float, wet: float | None, code: str | None
    ) -> None:
        """80 °F less 53.5 °F are 26.5 °F; above 67 °F of wet bulb degree by degree less."""
        found = self.ask(wet=wet, above_outdoor_k=lift * DEGREE, coil_k=kelvin(dew))
        assert found == code
        unseen = self.ask(
            wet=wet, above_outdoor_k=lift * DEGREE, coil_k=kelvin(dew), suction=NOT_KNOWN
        )
        assert unseen is None

    @pytest.mark.parametrize(
        ("superheat", "metering", "code"),
        [(14.9, TXV, "low_airflow"), (15.1, TXV, None), (14.9, FIXED, None)],
    )
    def test_a_cold_coil_behind_a_fed_valve(
        self, superheat: float, metering: str, code: str | None
    ) -> None:
        known = {"suction": LOW, "superheat_k": superheat * DEGREE, "coil_k": kelvin(33.0)}
        assert self.ask(metering, **known) == code
        fed = known | {"subcooling": NORMAL}
        assert self.ask(metering, **fed) is None
        frozen = fed | {"coil_k": kelvin(31.0)}
        assert self.ask(metering, **frozen) == code
        assert self.ask(metering, **(known | {"superheat": NOT_KNOWN})) is None

    @pytest.mark.parametrize(
        ("superheat", "subcooling", "code"),
        [
            (35.1, 10.0, "restriction_possible"),
            (34.9, 10.0, None),
            (35.1, 9.9, None),
        ],
    )
    def test_very_high_superheat_of_an_orifice_with_liquid(
        self, superheat: float, subcooling: float, code: str | None
    ) -> None:
        """15 °F past 20 °F, with 10 °F of subcooling."""
        known: dict[str, object] = {
            "superheat": HIGH,
            "subcooling": NORMAL,
            "superheat_k": superheat * DEGREE,
            "subcooling_k": subcooling * DEGREE,
        }
        assert self.ask(**known) == code
        assert self.ask(TXV, **known) == "restriction"


def test_a_finding_names_what_is_not_normal() -> None:
    which = ("superheat", "subcooling", "suction", "head", "split")
    signs = stand(superheat=HIGH, suction=LOW, split=LOW)
    told = finding_of("x", "shows", signs, which)  # type: ignore[arg-type]
    assert [(each.name, each.text) for each in told.signs] == [
        ("superheat", "high"),
        ("mean coil temperature", "low"),
        ("air temperature drop", "low"),
    ]
    others = stand(subcooling=LOW, head=HIGH)
    told = finding_of("x", "shows", others, which)  # type: ignore[arg-type]
    assert [(each.name, each.value) for each in told.signs] == [
        ("subcooling", others.subcooling_k),
        ("mean condensing above outdoor air", others.above_outdoor_k),
    ]
