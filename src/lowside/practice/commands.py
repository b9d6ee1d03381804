"""`lowside practice …`: measures the advice on simulated units, and draws the model's trends."""

import argparse
import json
from pathlib import Path
from typing import Any


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments after `lowside practice` on the command line."""
    commands = parser.add_subparsers(dest="practice", required=True, metavar="WHAT")
    bench = commands.add_parser("bench", help="charge many random units by the advice")
    bench.add_argument("--units", type=int, default=200, help="healthy units (default 200)")
    bench.add_argument("--seed", type=int, default=1)
    bench.add_argument(
        "--spread",
        type=float,
        default=1.0,
        help="2 doubles how far slopes, times and flows are from their middle",
    )
    bench.add_argument("--model", choices=("cycle", "curves"), default="cycle")
    bench.add_argument(
        "--half",
        choices=("tuning", "judging"),
        default="tuning",
        help="constants may be tuned on the tuning half only (default tuning)",
    )
    bench.add_argument("--json", action="store_true")
    bench.set_defaults(run=_bench)
    both = commands.add_parser(
        "summary", help="both models, both halves of their units, by class and technician"
    )
    both.add_argument("--units", type=int, default=200, help="units of each half (default 200)")
    both.add_argument("--seed", type=int, default=1)
    both.add_argument("--model", choices=("cycle", "curves", "both"), default="both")
    both.add_argument("--half", choices=("tuning", "judging", "both"), default="both")
    both.add_argument("--worst", type=int, default=0, help="tell the worst sessions too")
    both.add_argument("--out", type=Path, help="folder to write plots of the landing error to")
    both.set_defaults(run=_summary)
    trends = commands.add_parser("trends", help="the model beside published trends")
    trends.add_argument("--units", type=int, default=60, help="units of each kind (default 60)")
    trends.add_argument("--out", type=Path, help="folder to write plots to")
    trends.set_defaults(run=_trends)


def _bench(chosen: argparse.Namespace) -> int:
    from lowside.practice.bench import bench  # noqa: PLC0415  starting other commands stays quick

    if chosen.units < 1 or chosen.spread < 1.0:
        print("Give at least 1 unit and a spread of at least 1.")
        return 2
    found = bench(chosen.units, chosen.seed, chosen.spread, model=chosen.model, half=chosen.half)
    if chosen.json:
        print(json.dumps(found))
    else:
        print(_text(found))
    return 0


def _summary(chosen: argparse.Namespace) -> int:
    from lowside.practice.bench import summarize  # noqa: PLC0415
    from lowside.practice.goals import goals_text  # noqa: PLC0415
    from lowside.practice.landing import table, tell, write_landing  # noqa: PLC0415

    if chosen.units < 1:
        print("Give at least 1 unit.")
        return 2
    models = ("cycle", "curves") if chosen.model == "both" else (chosen.model,)
    halves = ("tuning", "judging") if chosen.half == "both" else (chosen.half,)
    for model in models:
        for half in halves:
            found = summarize(model, half, chosen.units, chosen.seed)
            print(table(found))
            print(goals_text(found), flush=True)
            if chosen.worst > 0:
                print(tell(found, chosen.worst))
            if chosen.out is not None:
                print(write_landing(chosen.out, found))
    return 0


def _text(found: dict[str, Any]) -> str:
    rows = [("advice", found), *found["policies"].items()]
    lines = [
        f"{found['model']}, {found['half']} half",
        "policy           within  over    liquid  shots  minutes",
    ]
    for name, figures in rows:
        lines.append(
            f"{name:16} {figures['within_tolerance']:.4f}  {figures['overcharged']:.4f}  "
            f"{figures['liquid_at_compressor']:.4f}  {figures['median_shots']:5.1f}  "
            f"{figures['median_minutes']:7.1f}"
        )
    lines.append(
        f"stated 90 % range held the truth in {found['range_coverage']:.3f}; "
        f"kept adding on {found['faulted_keep_adding']:.3f} of {found['faulted_units']} faulty "
        "units"
    )
    return "\n".join(lines)


def _trends(chosen: argparse.Namespace) -> int:
    from lowside.practice.trends import trends, write_plots  # noqa: PLC0415

    if chosen.units < 1:
        print("Give at least 1 unit.")
        return 2
    found = trends(chosen.units)
    for trend in found:
        print(trend.name)
        rows = [("charge", trend.shares), ("middle", trend.middle)]
        if trend.published is not None:
            rows.append(("published", trend.published))
        for name, values in rows:
            print(f"  {name:10}" + "".join(f"{value:8.3f}" for value in values))
    if chosen.out is not None:
        for path in write_plots(chosen.out, found):
            print(path)
    return 0
