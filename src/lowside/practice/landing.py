"""Where sessions of the bench landed: the table, the plot, and the worst ones told."""

from collections.abc import Mapping, Sequence
from math import isnan
from pathlib import Path

from lowside.core.session.block import WAIT
from lowside.practice.bench import Summary, charged_past, counted, summary_rows, worst
from lowside.practice.expert import expert
from lowside.practice.technician import EMPTIES_HOSES, Charged

FIRST_TOLD = 4
LAST_TOLD = 8
"""Steps of a session that are told, from its start and before its end."""
WIDEST = 3.0
"""The plot ends at this many tolerances; what is further out is drawn at the end."""


def table(found: Summary) -> str:
    """The figures of one summary as text."""
    lines = [
        f"{found.model}, {found.half} half",
        "class                     n  within   over   away  liquid  range  shots   min  recover"
        "  emptied within, over  faulty past",
    ]
    for name, row in summary_rows(found):
        past = row["faulty_past"]
        lines.append(
            f"{name:22} {row['count']:5.0f}  {row['within_tolerance']:.3f}  "
            f"{row['overcharged']:.3f}  {row['turned_away']:.3f}  "
            f"{row['liquid_at_compressor']:.3f}   {row['coverage']:.3f} {row['median_shots']:6.1f} "
            f"{row['median_minutes']:5.1f}    {row['recovered']:.3f}          "
            + _emptied(row)
            + ("" if isnan(past) else f"        {past:.3f}")
        )
    lines.append(
        f"restrictions charged past: {charged_past(found.restricted)} of {len(found.restricted)}, "
        f"with the filter drier out of reach {charged_past(found.not_felt)}"
    )
    return "\n".join(lines) + "\n"


def _emptied(row: Mapping[str, float]) -> str:
    """Beside a class: how the one who empties the hoses landed in it."""
    if "within_emptied" not in row:
        return "            "
    return f"{row['within_emptied']:.3f}  {row['over_emptied']:.3f}"


def tell(found: Summary, count: int) -> str:
    """The worst sessions as dialogues: of the exact technician, then of the one who empties the
    hoses; none that was sent elsewhere."""
    lines: list[str] = []
    for name in (next(iter(found.by_technician)), EMPTIES_HOSES):
        sessions = found.by_technician.get(name, ())
        for outcome in worst(counted(sessions), count):
            lines += _dialogue(name, outcome)
    return "\n".join(lines) + "\n"


def _dialogue(name: str, outcome: Charged) -> list[str]:
    lines = [
        f"-- {name}; {', '.join(outcome.tags)}: ended {-outcome.gap_k / outcome.tolerance_k:+.1f} "
        f"tolerances, {outcome.past_share * 100.0:+.1f} % of the charge, by {outcome.ended}"
    ]
    last = len(outcome.told) - 1
    for i, step in enumerate(outcome.told):
        again = i > 0 and step == outcome.told[i - 1]
        if again or step.advice.action == WAIT or FIRST_TOLD <= i < last - LAST_TOLD:
            if i == FIRST_TOLD:
                lines.append("          …")
            continue
        advice = step.advice
        amount = "" if advice.amount_kg is None else f" {advice.amount_kg * 1000.0:.0f} g"
        hoses = ", better recover the hoses" if advice.recover_hoses else ""
        lines.append(f"   {step.minute:4.0f} min  Page: {advice.action}{amount}{hoses}. ")
        lines[-1] += advice.reasons[0]
        lines.append(
            f"             (truly missing {step.missing_kg * 1000.0:.0f} g without the hoses, "
            f"{step.gap_k:+.1f} K)"
        )
    lines.append("   An expert " + expert(outcome))
    return lines


def write_landing(folder: Path, found: Summary) -> Path:
    """The plot of one summary as SVG."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"landing-{found.model}-{found.half}.svg"
    path.write_text(svg(found), encoding="utf-8")
    return path


def svg(found: Summary) -> str:
    """Landing error of the exact technician by class, one dot a session, in tolerances. Units that
    the page was told have a receiver are left out, as in the tables: nothing is fed there."""
    exact = counted(found.by_technician[next(iter(found.by_technician))])
    tags = sorted({tag for each in exact for tag in each.tags})
    height = 70 + 40 * len(tags)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 {height}" '
        'font-family="sans-serif" font-size="12">',
        f'<rect width="640" height="{height}" fill="#fff"/>',
        f'<text x="150" y="20" font-size="14">Where sessions ended: model “{found.model}”, '
        f"{found.half} half</text>",
        f'<rect x="{_x(-1.0):.1f}" y="30" width="{_x(1.0) - _x(-1.0):.1f}" '
        f'height="{height - 60}" fill="#dcebdc"/>',
    ]
    for row, tag in enumerate(tags):
        middle = 52 + 40 * row
        parts.append(f'<text x="140" y="{middle + 4}" text-anchor="end">{tag}</text>')
        parts.extend(_dots([each for each in exact if tag in each.tags], middle))
    for tick in range(-3, 4):
        parts.append(
            f'<text x="{_x(float(tick)):.1f}" y="{height - 16}" text-anchor="middle">{tick}</text>'
        )
    parts.append(
        f'<text x="{_x(0.0):.1f}" y="{height - 2}" text-anchor="middle">tolerances: short on the '
        "left, overcharged on the right</text>"
    )
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _dots(outcomes: Sequence[Charged], middle: int) -> list[str]:
    dots: list[str] = []
    for i, outcome in enumerate(outcomes):
        off = -outcome.gap_k / outcome.tolerance_k
        shown = min(max(off, -WIDEST), WIDEST)
        color = "#1f5f7f" if abs(off) <= 1.0 else "#b3401f" if off > 1.0 else "#8a6d1a"
        y = middle + (i * 7) % 25 - 12
        dots.append(
            f'<circle cx="{_x(shown):.1f}" cy="{y}" r="2" fill="{color}" fill-opacity="0.6"/>'
        )
    return dots


def _x(tolerances: float) -> float:
    return 390.0 + 75.0 * tolerances
