"""`data/refrigerants.json` against the published compositions, classes and warming potentials."""

import csv
import json
from importlib.resources import files
from pathlib import Path

import CoolProp.CoolProp as CP  # noqa: N817
import pytest

from lowside.core.handbook.refrigerants import refrigerants_from
from lowside.core.handbook.saturation import OutOfRange, bubble_temperature, dew_temperature
from lowside.thermo.tables import load_properties

CONTENT = json.loads(
    files("lowside").joinpath("data", "refrigerants.json").read_text(encoding="utf-8")
)
REFRIGERANTS = refrigerants_from(CONTENT)
TABLES = load_properties().tables

with (Path(__file__).parents[2] / "data/blends.csv").open(encoding="utf-8", newline="") as file:
    PUBLISHED = list(csv.DictReader(file))

COMPONENT_GWP = {
    # 40 CFR 98, Table A-1, AR4 100-year (READ)
    "R-32": 675.0,
    "R-125": 3500.0,
    "R-134a": 1430.0,
    "R-143a": 4470.0,
}
NONFLAMMABLE = ("R-125", "R-134a", "R-22", "R-744")


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row['refrigerant']} {row['basis']}")
def test_composition_and_class_are_the_published_ones(row: dict[str, str]) -> None:
    known = REFRIGERANTS[row["refrigerant"]]
    if row["components"]:
        assert "/".join(part.designation for part in known.components) == row["components"]
        assert [part.mass_percent for part in known.components] == [
            float(share) for share in row["mass_pct"].split("/")
        ]
    if row["ashrae34_safety"]:
        assert known.safety_class == row["ashrae34_safety"]
    if row["gwp_ar4"]:
        # One unit for what the small HFO and hydrocarbon terms are taken as.
        assert known.gwp == pytest.approx(float(row["gwp_ar4"]), abs=1.5)


@pytest.mark.parametrize("name", [n for n, r in REFRIGERANTS.items() if len(r.components) > 1])
def test_composition_is_the_library_s_own(name: str) -> None:
    """CoolProp's predefined mixture of that designation (READ there), by mole fraction."""
    library = CP.AbstractState("HEOS", name.replace("-", "") + ".mix")
    ours = REFRIGERANTS[name]
    masses = [
        CP.PropsSI(
            "M",
            {"R-600": "n-Butane", "R-600a": "IsoButane", "R-744": "CO2"}.get(
                part.designation, part.designation.replace("-", "")
            ),
        )
        for part in ours.components
    ]
    moles = [part.mass_percent / m for part, m in zip(ours.components, masses, strict=True)]
    mine = sorted(mole / sum(moles) for mole in moles)
    assert mine == pytest.approx(sorted(library.get_mole_fractions()), abs=1e-4)
    assert sum(part.mass_percent for part in ours.components) == pytest.approx(100.0, abs=1e-9)


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_warming_potential_is_the_mass_weighted_one(name: str) -> None:
    ours = REFRIGERANTS[name]
    parts = ours.components
    if name == "R-22":
        assert ours.gwp == 1810.0  # AR4, from memory
        return
    total = sum(COMPONENT_GWP.get(p.designation, 1.0) * p.mass_percent for p in parts) / 100.0
    assert ours.gwp == pytest.approx(total, abs=2.5)
    assert ours.gwp_basis == "AR4, 100 years"


@pytest.mark.parametrize(
    ("name", "safety_class"),
    [
        # A trade article on EPA's SNAP rule 23 (READ)
        ("R-32", "A2L"),
        ("R-452B", "A2L"),
        ("R-454A", "A2L"),
        ("R-454B", "A2L"),
        ("R-454C", "A2L"),
        ("R-1234yf", "A2L"),
        # Trade summaries of ASHRAE 34 (READ)
        ("R-1234ze(E)", "A2L"),
        ("R-134a", "A1"),
        ("R-22", "A1"),
        ("R-410A", "A1"),
        ("R-404A", "A1"),
        ("R-290", "A3"),
        ("R-600a", "A3"),
        # Manufacturer's page (READ)
        ("R-449A", "A1"),
    ],
)
def test_safety_classes_that_were_read(name: str, safety_class: str) -> None:
    assert REFRIGERANTS[name].safety_class == safety_class


def test_a_blend_of_what_does_not_burn_does_not_burn() -> None:
    """And everything here is of lower toxicity."""
    for name, refrigerant in REFRIGERANTS.items():
        assert refrigerant.safety_class.startswith("A"), name
        if all(part.designation in NONFLAMMABLE for part in refrigerant.components):
            assert refrigerant.safety_class == "A1", name
    burning = {
        name for name, refrigerant in REFRIGERANTS.items() if refrigerant.safety_class != "A1"
    }
    assert burning == {
        "R-32", "R-290", "R-452B", "R-454A", "R-454B", "R-454C", "R-455A", "R-600a",
        "R-1234yf", "R-1234ze(E)",
    }  # fmt: skip


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_liquid_only_for_the_400_series(name: str) -> None:
    """Trade article on blends, UNEP servicing manual (READ): 400-series blends leave the cylinder
    as liquid; pure refrigerants and 500-series either way."""
    series_400 = name.startswith("R-4")
    assert REFRIGERANTS[name].liquid_only is series_400


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_glide_is_the_table_s(name: str) -> None:
    dew = dew_temperature(TABLES[name], 101325.0)
    bubble = bubble_temperature(TABLES[name], 101325.0)
    if isinstance(dew, OutOfRange) or isinstance(bubble, OutOfRange):
        assert name == "R-744"
        return
    assert dew - bubble == pytest.approx(REFRIGERANTS[name].glide_k, abs=0.01)


def test_every_fact_says_where_it_is_from() -> None:
    for name, refrigerant in REFRIGERANTS.items():
        facts = {source.fact for source in refrigerant.sources}
        assert any("gwp" in fact for fact in facts), name
        assert "safety class" in facts, name
        for source in refrigerant.sources:
            assert source.basis in ("READ", "COMPUTED", "MEMORY")
            assert source.text
