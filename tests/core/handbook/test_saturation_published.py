"""The tables against what others published: manufacturers' charts, standards, a second library, the
trade.

The rows and their sources are in `tests/data/pt_points.csv` and `tests/data/blends.csv`. READ: the
figure was seen in the source. COMPUTED: CoolProp itself, so only a check of ours. MEMORY: recalled.
"""

import csv
import json
from pathlib import Path
from typing import Any

import pytest
import teqp

from lowside.core.handbook.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_pressure,
    bubble_temperature,
    dew_pressure,
    dew_temperature,
    liquid_density,
)
from lowside.core.numbers.units import PSI_PA
from lowside.thermo.tables import compositions, load_properties

DATA = Path(__file__).parents[2] / "data"
TABLES = load_properties().tables
STANDARD_PA = 101325.0
PRINTED_PSI = 0.06
"""Half the last printed digit and a little."""
PSEUDO_PURE = ("R-404A", "R-407C", "R-410A", "R-507A")
PSEUDO_PURE_PSI = 0.12
"""That equation's own fit is within 0.01 K of the mixture's, so 0.06 psi more at 400 psig."""
UNITS = {
    "psig": (PSI_PA, STANDARD_PA),
    "kPa(gauge)": (1e3, STANDARD_PA),
    "MPa(gauge)": (1e6, STANDARD_PA),
    "bar(abs)": (1e5, 0.0),
}


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


POINTS = rows("pt_points.csv")
BLENDS = rows("blends.csv")


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) * 5.0 / 9.0


def fahrenheit(value: float | OutOfRange) -> float:
    assert not isinstance(value, OutOfRange), value
    return value * 9.0 / 5.0 - 459.67


def psig(value: float | OutOfRange) -> float:
    assert not isinstance(value, OutOfRange), value
    return (value - STANDARD_PA) / PSI_PA


def name_of(row: dict[str, str]) -> str:
    return f"{row['refrigerant']} {row['point']} {row['temperature_F']}F {row['source'][:14]}"


def test_the_published_rows_are_all_here() -> None:
    read = [row for row in POINTS if row["basis"] == "READ"]
    assert len(read) == 92
    assert {"R-22", "R-32", "R-134a", "R-407C", "R-410A"} == {row["refrigerant"] for row in read}
    computed = {row["refrigerant"] for row in POINTS if row["basis"] == "COMPUTED"}
    assert len(computed) >= 24


@pytest.mark.parametrize("row", [row for row in POINTS if row["basis"] != "COMPUTED"], ids=name_of)
def test_a_published_pressure_temperature_point(row: dict[str, str]) -> None:
    """Temperature read from the table at the printed pressure, within the print's own rounding and
    what its note says. A chart that does not say bubble or dew must agree with both."""
    factor, offset = UNITS[row["unit"]]
    pressure = float(row["pressure"]) * factor + offset
    table = TABLES[row["refrigerant"]]
    sides = {"bubble": [bubble_temperature], "dew": [dew_temperature]}.get(
        row["point"], [bubble_temperature, dew_temperature]
    )
    for side in sides:
        assert fahrenheit(side(table, pressure)) == pytest.approx(
            float(row["temperature_F"]), abs=float(row["tolerance_F"])
        ), row["source"]


@pytest.mark.parametrize("row", [row for row in POINTS if row["basis"] == "COMPUTED"], ids=name_of)
def test_a_point_computed_by_another_call(row: dict[str, str]) -> None:
    """CoolProp's own saturation of the same day, printed to 0.1 psi: guards our composition, gauge
    reference and interpolation. For R-404A, R-407C, R-410A and R-507A it is another equation than
    ours (pseudo-pure instead of the mixture of components)."""
    side = bubble_pressure if row["point"] == "bubble" else dew_pressure
    pressure = side(TABLES[row["refrigerant"]], kelvin(float(row["temperature_F"])))
    allowed = PRINTED_PSI if row["refrigerant"] not in PSEUDO_PURE else PSEUDO_PURE_PSI
    assert psig(pressure) == pytest.approx(float(row["pressure"]), abs=allowed)


@pytest.mark.parametrize(("gauge", "saturated"), [(130.0, 45.0), (236.0, 80.0), (318.0, 100.0)])
def test_r410a_figures_every_technician_knows(gauge: float, saturated: float) -> None:
    """Common practice, no source: 130 psig is about 45 °F, a cylinder at 80 °F shows about 236
    psig, at 100 °F about 318 psig."""
    table = TABLES["R-410A"]
    for side in (bubble_temperature, dew_temperature):
        assert fahrenheit(side(table, gauge * PSI_PA + STANDARD_PA)) == pytest.approx(
            saturated, abs=0.7
        )


def test_a_running_high_side_is_above_the_cylinder() -> None:
    """Common practice, no source: at 95 °F outdoors a running R-410A unit condenses 20 °F or more
    above the air, so its liquid pressure is above what a cylinder at 95 °F shows and nothing flows
    out of the cylinder there."""
    table = TABLES["R-410A"]
    cylinder = bubble_pressure(table, kelvin(95.0))
    high_side = bubble_pressure(table, kelvin(115.0))
    assert psig(high_side) > psig(cylinder) + 80.0


@pytest.mark.parametrize("row", BLENDS, ids=lambda row: f"{row['refrigerant']} {row['basis'][:4]}")
def test_boiling_points_and_glide_at_one_atmosphere(row: dict[str, str]) -> None:
    """READ rows: R-427A from ANSI/AHRI 700-2006 Addendum 1 Table 1B, R-449A from its manufacturer's
    page, to their 0.1 °C; the others COMPUTED to 0.1 °C."""
    table = TABLES[row["refrigerant"]]
    if table.lowest_pa > STANDARD_PA:
        assert row["refrigerant"] == "R-744"  # solid below 5.2 bar: no boiling at one atmosphere
        assert isinstance(bubble_temperature(table, STANDARD_PA), OutOfRange)
        return
    for column, side in (("bubble_1atm_C", bubble_temperature), ("dew_1atm_C", dew_temperature)):
        if row[column]:
            value = side(table, STANDARD_PA)
            assert not isinstance(value, OutOfRange)
            assert value - 273.15 == pytest.approx(float(row[column]), abs=0.11)


@pytest.mark.parametrize(
    ("name", "gravity"),
    [
        ("R-22", 1.197),
        ("R-134a", 1.210),
        ("R-410A", 1.062),
        ("R-32", 0.964),
        ("R-404A", 1.047),
        ("R-407C", 1.141),
        ("R-454B", 0.989),
        ("R-290", 0.494),
    ],
)
def test_liquid_specific_gravity_at_77_fahrenheit(name: str, gravity: float) -> None:
    """R-22 1.197: AHRI Guideline K-2004 as quoted by a trade journal (READ). Others COMPUTED."""
    table = TABLES[name]
    pressure = bubble_pressure(table, kelvin(77.0))
    assert not isinstance(pressure, OutOfRange)
    density = liquid_density(table, pressure)
    assert not isinstance(density, OutOfRange)
    # Water at 77 °F weighs 997.05 kg/m³.
    assert density / 997.05 == pytest.approx(gravity, abs=0.004)


def saturation_error(table: PropertyTable, temperature: float, pressure: float) -> float:
    value = bubble_temperature(table, pressure)
    assert not isinstance(value, OutOfRange)
    return abs(value - temperature)


@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize(
    ("name", "cas", "method", "tolerance_k"),
    [
        ("R-22", "75-45-6", "VDI_PPDS", 0.04),
        ("R-32", "75-10-5", "VDI_PPDS", 0.02),
        ("R-32", "75-10-5", "WAGNER_MCGARRY", 0.05),
        ("R-134a", "811-97-2", "VDI_TABULAR", 0.02),
        ("R-290", "74-98-6", "WAGNER_POLING", 0.02),
        ("R-600a", "75-28-5", "VDI_PPDS", 0.03),
        ("R-744", "124-38-9", "WAGNER_MCGARRY", 0.02),
    ],
)
def test_pure_refrigerants_against_a_second_library(
    name: str, cas: str, method: str, tolerance_k: float
) -> None:
    """`thermo`, with correlations fitted to measurements and not to CoolProp: VDI Heat Atlas (2010)
    and Wagner equations of McGarry (1983) and of Poling (2001)."""
    from thermo.vapor_pressure import VaporPressure  # noqa: PLC0415

    other = VaporPressure(CASRN=cas)
    compared = 0
    for temperature in range(240, 340, 10):
        pressure = other.calculate(float(temperature), method)
        if isinstance(dew_pressure(TABLES[name], float(temperature)), OutOfRange):
            continue
        compared += 1
        assert saturation_error(TABLES[name], temperature, pressure) <= tolerance_k
    assert compared >= 5


@pytest.mark.parametrize(
    ("name", "tolerance_k"),
    [
        ("R-410A", 0.02),
        ("R-404A", 0.02),
        ("R-507A", 0.02),
        ("R-407C", 0.02),
        ("R-421A", 0.02),
        # Other interaction parameters than CoolProp's, so another model and not only another code.
        ("R-454A", 0.35),
        ("R-454B", 0.35),
        ("R-513A", 0.25),
    ],
)
def test_blends_against_a_second_library(name: str, tolerance_k: float) -> None:
    """`teqp`, with its own copy of the equations of state and mixing parameters (Lemmon and
    Jacobsen 2004 for the HFC pairs) and its own code: bubble pressure at 250, 280 and 310 K by
    successive substitution."""
    for temperature in (250.0, 280.0, 310.0):
        pressure = teqp_bubble_pressure(name, temperature)
        assert saturation_error(TABLES[name], temperature, pressure) <= tolerance_k


def teqp_model(names: list[str]) -> tuple[Any, list[float]]:
    """A mixture and its molar masses. Pairs given by xi and zeta are turned into the beta and gamma
    form teqp reads (Bell and Lemmon 2016, J. Chem. Eng. Data 61, equations 14 to 17)."""
    data = Path(teqp.get_datapath()) / "dev"
    equations = {
        name: json.loads((data / "fluids" / f"{name}.json").read_text(encoding="utf-8"))
        for name in names
    }
    critical = {
        fluid["INFO"]["CAS"]: fluid["EOS"][0]["STATES"]["reducing"] for fluid in equations.values()
    }
    pairs = json.loads((data / "mixtures/mixture_binary_pairs.json").read_text(encoding="utf-8"))
    for pair in pairs:
        if "xi" in pair and pair["CAS1"] in critical and pair["CAS2"] in critical:
            one, two = critical[pair["CAS1"]], critical[pair["CAS2"]]
            temperatures = (one["T"], two["T"])
            volumes = (1.0 / one["rhomolar"], 1.0 / two["rhomolar"])
            pair["betaT"] = pair["betaV"] = 1.0
            pair["gammaT"] = (sum(temperatures) + pair["xi"]) / (
                2.0 * (temperatures[0] * temperatures[1]) ** 0.5
            )
            pair["gammaV"] = (
                4.0
                * (sum(volumes) + pair["zeta"])
                / (volumes[0] ** (1.0 / 3.0) + volumes[1] ** (1.0 / 3.0)) ** 3
            )
    model = teqp.build_multifluid_model(names, teqp.get_datapath(), json.dumps(pairs))
    return model, [equations[name]["EOS"][0]["molar_mass"] for name in names]


def teqp_bubble_pressure(name: str, temperature: float) -> float:
    import numpy as np  # noqa: PLC0415 - comes with teqp
    from CoolProp.CoolProp import PropsSI  # noqa: PLC0415 - only for a start

    components = compositions()[name]
    names = [designation.replace("-", "") for designation, _ in components]
    model, masses = teqp_model(names)
    z = np.array([share for _, share in components]) / np.array(masses)
    z /= z.sum()
    gas = model.get_R(z)

    def pressure_of(x: Any, density: float) -> float:
        return density * gas * temperature * (1.0 + model.get_Ar01(temperature, density, x))

    def density_at(x: Any, density: float, pressure: float) -> float:
        for _ in range(50):
            h = density * 1e-6
            slope = (pressure_of(x, density + h) - pressure_of(x, density - h)) / (2.0 * h)
            step = (pressure_of(x, density) - pressure) / slope
            density -= max(min(step, 0.1 * density), -0.1 * density)
        return density

    # Only a start: our pressure and liquid density, and vapor by Raoult's law.
    pressure = bubble_pressure(TABLES[name], temperature)
    assert not isinstance(pressure, OutOfRange)
    density = liquid_density(TABLES[name], pressure)
    assert not isinstance(density, OutOfRange)
    liquid = density / float((z * np.array(masses)).sum())
    y = z * np.array([PropsSI("P", "T", temperature, "Q", 0, n) for n in names])
    y /= y.sum()
    for _ in range(40):
        liquid = density_at(z, liquid, pressure)
        vapor = density_at(y, pressure / (gas * temperature) * 1.05, pressure)
        y = (
            z
            * model.get_fugacity_coefficients(temperature, z * liquid)
            / model.get_fugacity_coefficients(temperature, y * vapor)
        )
        off = y.sum() - 1.0
        pressure *= y.sum()
        y /= y.sum()
    assert abs(off) < 1e-9, "the other library did not converge"
    assert liquid > 2.0 * vapor, "the other library found the same phase twice"
    return float(pressure)
