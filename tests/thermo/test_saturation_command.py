"""`lowside saturation` and `lowside tables`, without the command line around them."""

import dataclasses
import io
import json
import subprocess
import sys
from typing import Any

import pytest

from lowside.core.handbook.saturation import bubble_temperature, dew_temperature
from lowside.core.numbers.units import PSI_PA
from lowside.thermo.commands import (
    saturation_batch_command,
    saturation_command,
    tables_command,
)
from lowside.thermo.tables import load_properties

TABLES = load_properties().tables


def run(*arguments: Any, **named: Any) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    code = saturation_command(*arguments, **named, out=out, err=err)
    return code, out.getvalue(), err.getvalue()


def batch(*lines: str) -> list[dict[str, Any]]:
    out = io.StringIO()
    assert saturation_batch_command(lines, out=out) == 0
    return [json.loads(line) for line in out.getvalue().splitlines()]


def test_a_gauge_pressure_at_an_elevation() -> None:
    """12.228 psia at 5000 ft and 12.10 at 5280 ft: standard atmosphere (ASHRAE)."""
    code, out, err = run("R-454B", "118psig", "5280ft", True)
    answer = json.loads(out)
    assert (code, err) == (0, "")
    assert list(answer) == ["refrigerant", "pressure_pa", "dew_k", "bubble_k", "in_range"]
    assert answer["pressure_pa"] == pytest.approx((118.0 + 12.101) * PSI_PA, rel=1e-4)
    assert answer["dew_k"] == dew_temperature(TABLES["R-454B"], answer["pressure_pa"])
    assert answer["bubble_k"] == bubble_temperature(TABLES["R-454B"], answer["pressure_pa"])
    assert answer["in_range"] is True


@pytest.mark.parametrize(
    ("pressure", "pascal"),
    [("118psig", 118 * PSI_PA), ("8.136bar", 813600.0), ("813,6 kPa", 813600.0)],
)
def test_units_and_sea_level_by_default(pressure: str, pascal: float) -> None:
    answer = json.loads(run("R-454B", pressure, as_json=True)[1])
    assert answer["pressure_pa"] == pytest.approx(pascal + 101325.0, abs=0.1)


def test_the_words() -> None:
    code, out, _ = run("R-410A", "118psig")
    assert code == 0
    assert "dew    39.8 °F, 4.4 °C" in out
    assert "bubble 39.7 °F, 4.3 °C" in out


def test_outside_the_table_is_an_answer() -> None:
    code, out, _ = run("R-410A", "900psig", as_json=True)
    answer = json.loads(out)
    assert code == 0
    assert (answer["dew_k"], answer["bubble_k"], answer["in_range"]) == (None, None, False)
    assert "outside its table" in run("R-410A", "900psig")[1]


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("R-9", "118psig"), "No table"),
        (("R-410A", "118"), "needs a unit"),
        (("R-410A", "abcpsig"), "not a number"),
        (("R-410A", ""), "needs a unit"),
        (("R-410A", "118psig", "9000m"), "outside the standard atmosphere"),
        (("R-410A", "118psig", "high"), "needs a unit"),
    ],
)
def test_what_cannot_be_read_is_said(arguments: tuple[str, ...], word: str) -> None:
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert word in err


def test_a_batch_answers_line_by_line_whatever_comes() -> None:
    answers = batch(
        '{"refrigerant": "R-410A", "pressure_pa": 1000000}',
        "nonsense",
        "[1]",
        '{"refrigerant": "R-9", "pressure_pa": 1e6}',
        '{"refrigerant": 410, "pressure_pa": 1e6}',
        '{"refrigerant": "R-410A"}',
        '{"refrigerant": "R-410A", "pressure_pa": "1e6"}',
        '{"refrigerant": "R-410A", "pressure_pa": true}',
        '{"refrigerant": "R-410A", "pressure_pa": NaN}',
        '{"refrigerant": "R-410A", "pressure_pa": 1e999}',
        '{"refrigerant": "R-410A", "pressure_pa": ' + "9" * 400 + "}",
        "[" * 100_000,
        '{"refrigerant": "R-410A", "pressure_pa": -5}',
        "",
        '{"refrigerant": "R-32\\ud800", "pressure_pa": 1}',
        '{"refrigerant": "R-32", "pressure_pa": 1000000}',
    )
    assert len(answers) == 15
    assert answers[0]["dew_k"] == dew_temperature(TABLES["R-410A"], 1e6)
    assert [set(answer) for answer in answers[1:12]] == [{"error"}] * 11
    assert answers[12]["in_range"] is False
    assert set(answers[13]) == {"error"}
    assert answers[14]["bubble_k"] == bubble_temperature(TABLES["R-32"], 1e6)


def test_a_batch_on_standard_input_survives_bytes_that_are_no_text() -> None:
    lines = b'\xff\xfe\n{"refrigerant": "R-32", "pressure_pa": 1000000}\n'
    code = "from lowside.thermo.commands import saturation_batch_command as run\nrun()"
    done = subprocess.run(
        [sys.executable, "-c", code], input=lines, capture_output=True, check=True
    )
    first, second = done.stdout.splitlines()
    assert set(json.loads(first)) == {"error"}
    assert json.loads(second)["in_range"] is True


def test_tables_prints_each_refrigerant() -> None:
    out = io.StringIO()
    assert tables_command(out=out) == 0
    lines = out.getvalue().splitlines()
    assert [line.split()[0] for line in lines[2:]] == list(TABLES)
    out = io.StringIO()
    assert tables_command(as_json=True, out=out) == 0
    answer = json.loads(out.getvalue())
    assert answer["in_spec"] is True
    assert {r["refrigerant"] for r in answer["refrigerants"]} == set(TABLES)
    assert all(r["dew_error_k"] <= 0.01 for r in answer["refrigerants"])


def test_a_table_out_of_spec_is_not_passed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every table 0.02 K off, in values and so in the check's eyes."""
    properties = load_properties()
    table = properties.tables["R-32"]
    column = table.columns["dew_k"]
    moved = dataclasses.replace(column, values=tuple(v + 0.02 for v in column.values))
    bad = dataclasses.replace(table, columns={**table.columns, "dew_k": moved})
    only = dataclasses.replace(properties, tables={"R-32": bad})
    monkeypatch.setattr("lowside.thermo.commands.load_properties", lambda: only)
    monkeypatch.setattr(
        "lowside.thermo.commands.compositions", lambda: {"R-32": (("R-32", 100.0),)}
    )
    out = io.StringIO()
    assert tables_command(check=True, out=out) == 1
    assert "The table is 0.0205 K from CoolProp." in out.getvalue()
