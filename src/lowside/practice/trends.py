"""The model's trends with charge beside published ones, as figures and as plots.

Published: NIST TN 1848 charge-fault correlations for a TXV heat pump in cooling, as
Y = 1 + (a + b Tid + c Tod + d F) F, temperatures in °C, F the share of charge too much (negative:
missing); coefficients as read from a public building-energy repository.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lowside.core.handbook.system import FIXED, TXV, Metering
from lowside.practice.cycle import NoBalanceError, SteadyMap, steady_map
from lowside.practice.draw import Drawn, draw

INDOOR_C = 26.67
OUTDOOR_C = 35.0
SHARES = (0.70, 0.75, 0.80, 0.85, 0.90, 0.95, 1.00, 1.05, 1.10)
UNDER = {
    "capacity": (-0.946, 0.0493, -0.00118, -1.15),
    "power": (-0.313, 0.0115, 0.00266, -0.116),
}
OVER = {
    "capacity": (-0.163, 0.0114, -0.00021, -0.14),
    "power": (0.219, -0.00501, 0.000989, 0.284),
}


@dataclass(frozen=True)
class Trend:
    """One quantity over charge: 10 %, 50 % and 90 % of the units, and the published values."""

    name: str
    shares: tuple[float, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]
    published: tuple[float, ...] | None


def published(quantity: str, share: float) -> float:
    """TN 1848's `capacity` or `power` as a ratio to the right charge, at 26.67 °C and 35 °C."""
    off = share - 1.0
    a, b, c, d = (UNDER if off < 0.0 else OVER)[quantity]
    return 1.0 + (a + b * INDOOR_C + c * OUTDOOR_C + d * off) * off


def trends(units: int = 60, seed: int = 7) -> list[Trend]:
    """Every trend over `units` drawn units at 80 °F indoors and 95 °F outdoors."""
    found: list[Trend] = []
    for metering in (TXV, FIXED):
        maps = _maps(units, seed, metering)
        label = "expansion valve" if metering == TXV else "fixed orifice"
        for quantity in ("capacity", "power"):
            rows = [_ratios(steady, right, quantity) for steady, right in maps]
            reference = None
            if metering == TXV:
                reference = tuple(published(quantity, share) for share in SHARES)
            found.append(_trend(f"{quantity}, {label}", rows, reference))
        for quantity in ("superheat_k", "subcooling_k"):
            rows = [
                [getattr(steady.at(right * share), quantity) for share in SHARES]
                for steady, right in maps
            ]
            found.append(_trend(f"{quantity.removesuffix('_k')} [K], {label}", rows, None))
    return found


def write_plots(folder: Path, found: Sequence[Trend]) -> list[Path]:
    """One SVG for each trend."""
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    for trend in found:
        name = trend.name.replace(" [K]", "").replace(", ", "-").replace(" ", "-")
        path = folder / f"practice-{name}.svg"
        path.write_text(svg(trend), encoding="utf-8")
        written.append(path)
    return written


def svg(trend: Trend) -> str:
    """The trend as a picture: band and middle of the model, and the published line."""
    everything = [*trend.low, *trend.high, *(trend.published or ())]
    bottom, top = min(everything), max(everything)
    room = 0.08 * (top - bottom) or 1.0
    bottom, top = bottom - room, top + room

    def point(share: float, value: float) -> str:
        x = 60.0 + 400.0 * (share - SHARES[0]) / (SHARES[-1] - SHARES[0])
        y = 250.0 - 210.0 * (value - bottom) / (top - bottom)
        return f"{x:.1f},{y:.1f}"

    def line(values: Sequence[float]) -> str:
        return " ".join(point(s, v) for s, v in zip(trend.shares, values, strict=True))

    band = line(trend.high) + " " + " ".join(reversed(line(trend.low).split()))
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 480 300" '
        'font-family="sans-serif" font-size="12">',
        '<rect width="480" height="300" fill="#fff"/>',
        f'<text x="60" y="22" font-size="14">{trend.name}</text>',
        f'<polygon points="{band}" fill="#cfe0ea"/>',
        f'<polyline points="{line(trend.middle)}" fill="none" stroke="#1f5f7f" stroke-width="2"/>',
    ]
    if trend.published is not None:
        parts.append(
            f'<polyline points="{line(trend.published)}" fill="none" stroke="#b3401f" '
            'stroke-width="2" stroke-dasharray="6 4"/>'
        )
        parts.append('<text x="300" y="40" fill="#b3401f">dashed: NIST TN 1848</text>')
    for share in (0.7, 0.8, 0.9, 1.0, 1.1):
        x = point(share, bottom).split(",")[0]
        parts.append(f'<text x="{x}" y="270" text-anchor="middle">{share * 100:.0f} %</text>')
    for i in range(5):
        value = bottom + (top - bottom) * i / 4.0
        y = point(1.0, value).split(",")[1]
        parts.append(f'<text x="54" y="{y}" text-anchor="end">{value:.2f}</text>')
    parts.append('<text x="260" y="292" text-anchor="middle">charge, share of the right one</text>')
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _maps(units: int, seed: int, metering: Metering) -> list[tuple[SteadyMap, float]]:
    found: list[tuple[SteadyMap, float]] = []
    number = seed * 10_000
    while len(found) < units:
        number += 1
        drawn: Drawn = draw(number)
        if drawn.design.metering != metering:
            continue
        design = replace(drawn.design, outdoor_k=OUTDOOR_C + 273.15, return_k=INDOOR_C + 273.15)
        try:
            steady = steady_map(design)
        except NoBalanceError:
            continue
        right = steady.charge_for(drawn.target_name, drawn.target_k)
        if right is not None and steady.charges[0] < SHARES[0] * right:
            found.append((steady, right))
    return found


def _ratios(steady: SteadyMap, right: float, quantity: str) -> list[float]:
    whole: float = getattr(steady.at(right), quantity + "_w")
    return [getattr(steady.at(right * share), quantity + "_w") / whole for share in SHARES]


def _trend(
    name: str, rows: Sequence[Sequence[float]], reference: tuple[float, ...] | None
) -> Trend:
    columns = [sorted(row[i] for row in rows) for i in range(len(SHARES))]
    count = len(rows)
    return Trend(
        name,
        SHARES,
        tuple(column[count // 10] for column in columns),
        tuple(column[count // 2] for column in columns),
        tuple(column[count - 1 - count // 10] for column in columns),
        reference,
    )
