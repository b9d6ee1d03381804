"""`lowside tables` and `lowside saturation`: what they print, and their exit codes."""

import json
import sys
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any, TextIO

from lowside.core.handbook.psychrometrics import atmosphere_pressure
from lowside.core.handbook.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_temperature,
    dew_temperature,
)
from lowside.core.numbers.arithmetic import BadNumber
from lowside.core.numbers.units import GAUGE_PRESSURE, LENGTH, Quantity, label, parse
from lowside.thermo.tables import (
    Properties,
    build_properties,
    compositions,
    load_properties,
    properties_json_path,
)

FINE = 0
OUT_OF_SPEC = 1
BAD_INPUT = 2


def tables_command(
    build: bool = False, check: bool = False, as_json: bool = False, out: TextIO | None = None
) -> int:
    """Print each table's range and deviation from CoolProp.

    Args:
        build: build again first, whatever is cached.
        check: ask CoolProp now, at other temperatures than the build's, instead of printing what
            the build found.
        as_json: one JSON object instead of lines.
        out: where to, standard output by default.

    Returns
        0, or 1 when a refrigerant has no table or a table out of spec.
    """
    out = out or sys.stdout
    properties = build_properties() if build else load_properties()
    reports = _checked(properties) if check else list(properties.reports)
    refused = [report for report in reports if report["refusal"]]
    if as_json:
        answer = {
            "version": properties.version,
            "file": str(properties_json_path()),
            "in_spec": not refused,
            "refrigerants": reports,
        }
        print(json.dumps(answer, indent=1), file=out)
    else:
        print(f"Tables {properties.version} in {properties_json_path()}", file=out)
        print(_HEADER, file=out)
        for report in reports:
            print(report_line(report), file=out)
    return OUT_OF_SPEC if refused else FINE


def saturation_command(
    refrigerant: str,
    pressure: str,
    elevation: str = "0ft",
    as_json: bool = False,
    *,
    out: TextIO | None = None,
    err: TextIO | None = None,
) -> int:
    """Print dew and bubble at a gauge pressure.

    Args:
        refrigerant: designation, as `R-454B`.
        pressure: gauge pressure with its unit, as `118psig`, `8.1bar` or `813kPa`.
        elevation: of the gauge, as `5280ft` or `1600m`. The standard atmosphere there is added.
        as_json: `{"refrigerant", "pressure_pa", "dew_k", "bubble_k", "in_range"}`.
        out: standard output by default.
        err: standard error by default.

    Returns
        0 when answered, also when the answer is “out of range”; 2 for an unreadable argument.
    """
    out = out or sys.stdout
    err = err or sys.stderr
    properties = load_properties()
    absolute = _absolute(pressure, elevation)
    table = properties.tables.get(refrigerant)
    if table is None:
        print(_unknown(refrigerant, properties), file=err)
        return BAD_INPUT
    if isinstance(absolute, BadNumber):
        print(absolute.reason, file=err)
        return BAD_INPUT
    answer = saturation_answer(table, absolute)
    if as_json:
        print(json.dumps(answer), file=out)
    elif answer["in_range"]:
        print(f"{refrigerant} at {pressure}, {absolute:.0f} Pa absolute:", file=out)
        print(f"dew    {_both(answer['dew_k'])}", file=out)
        print(f"bubble {_both(answer['bubble_k'])}", file=out)
    else:
        print(
            f"{refrigerant} at {absolute:.0f} Pa absolute is outside its table, "
            f"{table.lowest_pa:.0f} to {table.highest_pa:.0f} Pa.",
            file=out,
        )
    return FINE


def saturation_batch_command(lines: Iterable[str] | None = None, out: TextIO | None = None) -> int:
    """Answer JSON lines `{"refrigerant", "pressure_pa"}` (absolute) one by one.

    A line without an answer gets `{"error": sentence}`. The next line is still answered.

    Returns
        0.
    """
    out = out or sys.stdout
    properties = load_properties()
    if lines is None or lines is sys.stdin:
        lines = _standard_input()
    for line in lines:
        if line.strip():
            print(json.dumps(_batch_answer(line, properties)), file=out, flush=True)
    return FINE


def saturation_answer(table: PropertyTable, pressure_pa: float) -> dict[str, Any]:
    """Dew and bubble [K] at `pressure_pa` [Pa absolute]; `None` outside the table."""
    dew = dew_temperature(table, pressure_pa)
    bubble = bubble_temperature(table, pressure_pa)
    return {
        "refrigerant": table.refrigerant,
        "pressure_pa": pressure_pa,
        "dew_k": None if isinstance(dew, OutOfRange) else dew,
        "bubble_k": None if isinstance(bubble, OutOfRange) else bubble,
        "in_range": not isinstance(dew, OutOfRange) and not isinstance(bubble, OutOfRange),
    }


def _standard_input() -> Iterable[str]:
    """Lines of standard input. Bytes that are not UTF-8 become the replacement character."""
    return (line.decode("utf-8", "replace") for line in sys.stdin.buffer)


def _batch_answer(line: str, properties: Properties) -> dict[str, Any]:
    try:
        request = json.loads(line)
    except (ValueError, RecursionError):
        return {"error": "This line is not JSON."}
    if not isinstance(request, dict):
        return {"error": 'A request is {"refrigerant": …, "pressure_pa": …}.'}
    name = request.get("refrigerant")
    pressure = request.get("pressure_pa")
    if not isinstance(name, str):
        return {"error": "“refrigerant” must be a designation like R-410A."}
    if name not in properties.tables:
        return {"error": _unknown(name, properties)}
    if isinstance(pressure, bool) or not isinstance(pressure, int | float):
        return {"error": "“pressure_pa” must be a number: absolute pressure in pascal."}
    # Python reads NaN, Infinity and integers of any length. None of them is a pressure.
    if not -1e300 < pressure < 1e300:
        return {"error": "“pressure_pa” must be a finite number: absolute pressure in pascal."}
    return saturation_answer(properties.tables[name], float(pressure))


def _checked(properties: Properties) -> list[Mapping[str, Any]]:
    from lowside.thermo.build import Report, check  # noqa: PLC0415 - imports CoolProp

    reports: list[Mapping[str, Any]] = []
    for name, components in compositions().items():
        if name in properties.tables:
            reports.append(asdict(check(properties.tables[name], components)))
        else:
            at_build = [r for r in properties.reports if r["refrigerant"] == name]
            absent = asdict(Report(name, refusal="There is no table."))
            reports.append(at_build[0] if at_build else absent)
    return reports


_HEADER = (
    f"{'refrigerant':12} {'pressure, kPa absolute':>22} {'dew, °C':>15}"
    f" {'dew err K':>10} {'bubble err K':>12} {'failed':>7} {'found':>6} {'points':>7}"
)


def report_line(report: Mapping[str, Any]) -> str:
    """One refrigerant of `lowside tables`: ranges, deviations, failures, and any refusal."""
    if report["points"] == 0:
        return f"{report['refrigerant']:12} no table: {report['refusal']}"
    pressures = f"{report['lowest_pa'] / 1000:.1f} to {report['highest_pa'] / 1000:.1f}"
    dews = f"{report['lowest_dew_k'] - 273.15:.1f} to {report['highest_dew_k'] - 273.15:.1f}"
    return (
        f"{report['refrigerant']:12} {pressures:>22} {dews:>15}"
        f" {report['dew_error_k']:10.5f} {report['bubble_error_k']:12.5f}"
        f" {report['failed']:7} {report['rescued']:6} {report['points']:7}"
        f" {report['refusal']}"
    ).rstrip()


def _absolute(pressure: str, elevation: str) -> float | BadNumber:
    gauge = _quantity("gauge_pressure", GAUGE_PRESSURE, pressure)
    if isinstance(gauge, BadNumber):
        return gauge
    height = _quantity("length", LENGTH, elevation)
    if isinstance(height, BadNumber):
        return height
    atmosphere = atmosphere_pressure(height)
    if isinstance(atmosphere, OutOfRange):
        return BadNumber(
            f"{elevation} is outside the standard atmosphere’s table, "
            f"{atmosphere.lowest:.0f} m to {atmosphere.highest:.0f} m."
        )
    return gauge + atmosphere


def _quantity(name: Quantity, units: Mapping[str, object], text: str) -> float | BadNumber:
    body = text.strip()
    for unit in sorted(units, key=len, reverse=True):
        if body.endswith(unit):
            return parse(name, body[: len(body) - len(unit)], unit)
    return BadNumber(f"“{text}” needs a unit at its end, one of: {', '.join(units)}.")


def _both(kelvin: float) -> str:
    return f"{label('temperature', kelvin, '°F')}, {label('temperature', kelvin, '°C')}"


def _unknown(name: str, properties: Properties) -> str:
    return f"No table for “{name}”. Known: {', '.join(properties.tables)}."
