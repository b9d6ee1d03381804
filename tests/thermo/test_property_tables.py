"""What can be relied on of the property tables themselves, for every refrigerant."""

import gzip
import itertools
import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lowside.core.handbook.saturation import (
    COLUMNS,
    RULE_COLUMNS,
    OutOfRange,
    PropertyTable,
    bubble_pressure,
    bubble_temperature,
    dew_pressure,
    dew_temperature,
    liquid_density,
    liquid_enthalpy,
    table_from,
    vapor_density,
    vapor_enthalpy,
)
from lowside.thermo import tables as tables_module
from lowside.thermo.build import TOLERANCE_K, build_one, check
from lowside.thermo.commands import report_line
from lowside.thermo.coolprop import BUBBLE, DEW, Mixture, Point
from lowside.thermo.sweep import STEP_K, SweepError, curve, screened, sweep
from lowside.thermo.tables import (
    compositions,
    load_properties,
    properties_json,
    properties_json_path,
)

PROPERTIES = load_properties()
TABLES = PROPERTIES.tables
NAMES = list(TABLES)
REQUIRED = [
    *("R-22", "R-32", "R-134a", "R-290", "R-404A", "R-407A", "R-407C", "R-407F", "R-410A"),
    *("R-417A", "R-421A", "R-422B", "R-422D", "R-427A", "R-448A", "R-449A", "R-450A", "R-452A"),
    *("R-452B", "R-454A", "R-454B", "R-454C", "R-455A", "R-507A", "R-513A", "R-600a"),
    *("R-1234yf", "R-1234ze(E)", "R-744"),
]

names = st.sampled_from(NAMES)
shares = st.floats(0.0, 1.0)


def number(value: float | OutOfRange) -> float:
    assert not isinstance(value, OutOfRange), value
    return value


def pressure_at(table: PropertyTable, share: float) -> float:
    return table.lowest_pa + share * (table.highest_pa - table.lowest_pa)


def test_every_refrigerant_of_the_list_has_a_table() -> None:
    assert NAMES == REQUIRED
    assert list(compositions()) == REQUIRED


@pytest.mark.parametrize("name", REQUIRED)
def test_the_table_is_coolprop_within_a_hundredth_of_a_kelvin(name: str) -> None:
    """Against every point CoolProp finds now, at temperatures the build did not use."""
    report = check(TABLES[name], compositions()[name])
    assert report.refusal == ""
    assert report.points > 300
    assert 0.0 < report.bubble_error_k <= TOLERANCE_K
    assert 0.0 < report.dew_error_k <= TOLERANCE_K
    assert TABLES[name].highest_pa >= 0.9 * report.ceiling_pa


@pytest.mark.parametrize("name", REQUIRED)
def test_the_range_reaches_minus_forty_and_zero_gauge(name: str) -> None:
    """-40 °C inside for dew and bubble, and an empty gauge at 4500 m readable. R-744 is solid below
    5.2 bar, so it starts at its triple point, -56.6 °C."""
    table = TABLES[name]
    for side in (dew_pressure, bubble_pressure):
        assert not isinstance(side(table, 233.15), OutOfRange)
    if name == "R-744":
        assert table.lowest_pa == pytest.approx(518e3, rel=0.05)
    else:
        assert table.lowest_pa <= 55e3


@pytest.mark.parametrize("name", REQUIRED)
def test_smooth_and_rising_everywhere(name: str) -> None:
    """Between grid points too: both temperatures rise, dew is not below bubble, vapor gets denser
    and liquid lighter, latent heat stays positive, and no slope jumps."""
    table = TABLES[name]
    steps = 600
    first = table.lowest_pa**0.25
    last = table.highest_pa**0.25
    rows = []
    for i in range(steps + 1):
        pressure = min(
            max((first + (last - first) * i / steps) ** 4, table.lowest_pa), table.highest_pa
        )
        rows.append(
            [
                number(read(table, pressure))
                for read in (
                    bubble_temperature,
                    dew_temperature,
                    vapor_density,
                    liquid_density,
                    liquid_enthalpy,
                    vapor_enthalpy,
                )
            ]
        )
    for before, after in itertools.pairwise(rows):
        assert after[0] > before[0]
        assert after[1] > before[1]
        assert after[2] > before[2]
        assert after[3] < before[3]
        assert after[4] > before[4]
    for bubble, dew, vapor, liquid, h_liquid, h_vapor in rows:
        assert dew - bubble >= -0.001
        assert liquid > 1.5 * vapor
        assert h_vapor > h_liquid
    for column in (0, 1):
        rises = [b[column] - a[column] for a, b in itertools.pairwise(rows)]
        for a, b in itertools.pairwise(rises):
            assert abs(b - a) < 0.02 * max(a, b)


@pytest.mark.parametrize("name", [n for n in REQUIRED if len(compositions()[n]) == 1])
def test_a_pure_refrigerant_has_no_glide(name: str) -> None:
    columns = TABLES[name].columns
    assert columns["bubble_k"].values == columns["dew_k"].values


@given(names, shares)
def test_pressure_to_temperature_and_back(name: str, share: float) -> None:
    table = TABLES[name]
    pressure = pressure_at(table, share)
    dew = number(dew_temperature(table, pressure))
    bubble = number(bubble_temperature(table, pressure))
    assert number(dew_pressure(table, dew)) == pytest.approx(pressure, rel=1e-9)
    assert number(bubble_pressure(table, bubble)) == pytest.approx(pressure, rel=1e-9)


@given(names, shares)
def test_temperature_to_pressure_and_back(name: str, share: float) -> None:
    table = TABLES[name]
    values = table.columns["dew_k"].values
    temperature = values[0] + share * (values[-1] - values[0])
    pressure = number(dew_pressure(table, temperature))
    assert table.lowest_pa <= pressure <= table.highest_pa
    assert number(dew_temperature(table, pressure)) == pytest.approx(temperature, abs=1e-9)


@given(names, st.floats(allow_nan=True, allow_infinity=True))
@example("R-410A", float("nan"))
@example("R-410A", float("inf"))
@example("R-410A", 0.0)
@example("R-410A", 300.0)
def test_outside_is_said_and_never_guessed(name: str, pressure: float) -> None:
    table = TABLES[name]
    inside = table.lowest_pa <= pressure <= table.highest_pa
    for read in (dew_temperature, bubble_temperature, liquid_density, vapor_enthalpy):
        value = read(table, pressure)
        assert isinstance(value, OutOfRange) != inside
        if isinstance(value, OutOfRange):
            assert (value.quantity, value.lowest, value.highest) == (
                "pressure",
                table.lowest_pa,
                table.highest_pa,
            )
    values = table.columns["bubble_k"].values
    inside = values[0] <= pressure <= values[-1]
    assert isinstance(bubble_pressure(table, pressure), OutOfRange) != inside


@pytest.mark.parametrize("name", NAMES)
def test_both_ends_of_the_range_are_inside(name: str) -> None:
    table = TABLES[name]
    for pressure in (table.lowest_pa, table.highest_pa):
        dew = number(dew_temperature(table, pressure))
        assert number(dew_pressure(table, dew)) == pytest.approx(pressure, rel=1e-9)


def test_a_table_with_a_missing_value_is_refused() -> None:
    data = json.loads(properties_json())["refrigerants"][0]
    data["dew_k"] = data["dew_k"][:-1]
    with pytest.raises(ValueError, match="wrong length in dew_k"):
        table_from(data, RULE_COLUMNS)


def test_the_documented_ranges_are_the_tables_own() -> None:
    text = (Path(__file__).parents[2] / "docs/numbers.md").read_text(encoding="utf-8")
    shown = {line.split()[0]: line for line in text.splitlines() if line.startswith("R-")}
    assert list(shown) == REQUIRED
    for report in PROPERTIES.reports:
        name = report["refrigerant"]
        columns = 12 + 1 + 22 + 1 + 15
        assert shown[name][:columns] == report_line(report)[:columns]


def test_the_file_fits_a_phone() -> None:
    """At most 60 kB gzipped for all refrigerants; the phone's copy judges as ours does."""
    body = properties_json()
    assert len(gzip.compress(body)) <= 60_000
    content = json.loads(body)
    assert content["version"] == PROPERTIES.version
    assert {data["refrigerant"] for data in content["refrigerants"]} == set(REQUIRED)
    sent = [set(data) & set(COLUMNS) for data in content["refrigerants"]]
    assert all(names == set(RULE_COLUMNS) for names in sent)


def test_cached_tables_load_without_coolprop() -> None:
    code = (
        "import sys\nfrom lowside.thermo.tables import load_properties\n"
        "assert load_properties().tables\nprint('CoolProp' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize("damage", ["absent", "cut", "altered", "other"])
def test_a_damaged_cache_is_built_again(
    damage: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = properties_json_path()
    monkeypatch.setenv("LOWSIDE_CACHE", str(tmp_path))
    copy = properties_json_path()
    assert copy.parent == tmp_path
    content: dict[str, Any] = json.loads(good.read_bytes())
    if damage == "cut":
        copy.write_bytes(good.read_bytes()[:5000])
    if damage == "altered":
        changed = json.loads(good.read_bytes())
        changed["refrigerants"][8]["dew_k"][20] += 0.5
        copy.write_text(json.dumps(changed))
    if damage == "other":
        copy.write_text("[]")
    built = []

    def build(_: object) -> dict[str, Any]:
        built.append(True)
        return {key: content[key] for key in content if key != "version"}

    monkeypatch.setattr("lowside.thermo.build.build", build)
    assert load_properties().version == PROPERTIES.version
    assert built == [True]
    assert load_properties().version == PROPERTIES.version
    assert built == [True], "the second time comes from the cache"
    assert [path.name for path in tmp_path.iterdir()] == [copy.name]


def test_an_intact_cache_is_not_built_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = properties_json_path()
    monkeypatch.setenv("LOWSIDE_CACHE", str(tmp_path))
    shutil.copy(good, properties_json_path())

    def build(_: object) -> dict[str, Any]:
        raise AssertionError("built although cached")

    monkeypatch.setattr("lowside.thermo.build.build", build)
    assert load_properties().version == PROPERTIES.version


def test_the_cache_is_keyed_by_what_made_it(monkeypatch: pytest.MonkeyPatch) -> None:
    before = properties_json_path()
    changed = {**compositions(), "R-32": (("R-32", 99.0), ("R-125", 1.0))}
    monkeypatch.setattr(tables_module, "compositions", lambda: changed)
    assert properties_json_path() != before


def test_building_gives_the_cached_table() -> None:
    name = "R-513A"
    data, report = build_one(name, compositions()[name])
    assert data is not None
    assert report.refusal == ""
    assert table_from(data, COLUMNS) == TABLES[name]


def r410a_points() -> list[Point]:
    return list(sweep(Mixture(compositions()["R-410A"]), BUBBLE, 249.0, 350e3, 2e6).points)


def test_a_wrong_root_is_dropped() -> None:
    """CoolProp has returned wrong roots without an error; one is made up here."""
    points = r410a_points()
    assert screened(points) == (points, [])
    at = len(points) // 2
    p = points[at]
    wrong = Point(
        p.temperature_k, p.pressure_pa * 1.001, p.density, p.enthalpy, p.heat_capacity, False
    )
    kept, dropped = screened([*points[:at], wrong, *points[at + 1 :]])
    assert dropped == [p.temperature_k]
    assert kept == [*points[:at], *points[at + 1 :]]


def test_a_short_gap_is_bridged_and_a_long_one_refused() -> None:
    points = r410a_points()
    at = len(points) // 2
    missing = points[at]
    short = [*points[: at - 1], *points[at + 2 :]]
    bridged = curve(short, lambda point: point.temperature_k)(missing.pressure_pa)
    assert bridged == pytest.approx(missing.temperature_k, abs=0.001)
    wide = int(5.0 / STEP_K)
    long = [*points[: at - wide], *points[at + wide :]]
    with pytest.raises(SweepError, match="too long to bridge"):
        curve(long, lambda point: point.temperature_k)(missing.pressure_pa)


def test_a_refrigerant_that_fails_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """CoolProp failing from some temperature on, as beyond a critical point."""
    honest = Mixture.point

    def failing(self: Mixture, side: int, temperature_k: float) -> Point | None:
        return None if temperature_k > 300.0 else honest(self, side, temperature_k)

    monkeypatch.setattr(Mixture, "point", failing)
    data, report = build_one("R-410A", compositions()["R-410A"])
    assert data is None
    assert "CoolProp gives nothing" in report.refusal


def test_coolprop_does_fail_in_patches_and_the_neighbor_rescues() -> None:
    """Why sweeps exist: if CoolProp stops failing this test says so, and the rescue can go."""
    found = sweep(Mixture(compositions()["R-454B"]), DEW, 300.0, 2.5e6, 4.7e6)
    assert found.failed
    assert set(found.rescued) == set(found.failed)
    assert found.longest_gap_k == STEP_K
