"""How many taps, typed fields and pages a job costs, counted on the real pages.

    .venv/bin/python bench/taps.py

No time is measured and no browser is used: the figures are the same on every machine. Each one is
printed beside its goal. How they are counted: `tests/support/thumb.py`.
"""

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / "support")]

from thumb import Count, Thumb  # noqa: E402
from website import Site, open_site  # noqa: E402

from lowside.core.handbook.handbook import Handbook  # noqa: E402
from lowside.core.numbers.unit_choice import UnitChoice, label  # noqa: E402
from lowside.core.session.events import Event  # noqa: E402
from lowside.demo import Move, Scenario, scenarios  # noqa: E402
from lowside.library import load_handbook  # noqa: E402

GOALS = {
    "first visit": Count(pages=14, taps=75, fields=42),
    "return visit": Count(pages=14, taps=55, fields=33),
    "a shot cycle": Count(pages=0, taps=6, fields=5),
    "practice, to the first valve": Count(pages=0, taps=15, fields=0),
}
LESSON = "first-shots"
AIR = "outdoor_dry_bulb"


def visits(handbook: Handbook, scenario: Scenario) -> dict[str, Count]:
    """A first visit, the same job again at the same unit, and the last shot cycle of the first."""
    found: dict[str, Count] = {}
    with tempfile.TemporaryDirectory() as folder, open_site(Path(folder), handbook) as site:
        thumb, cycle = job(site, scenario.moves, scenario)
        found["first visit"] = thumb.count
        found["a shot cycle"] = cycle
        thumb.wait(86_400 * 90)
        again, _ = job(site, on_another_day(scenario.moves), scenario)
        found["return visit"] = again.count
    return found


def on_another_day(moves: tuple[Move, ...]) -> tuple[Move, ...]:
    """The same with another figure in each reading: one that is wholly as before is asked back."""
    return tuple(
        replace(move, typed={**move.typed, AIR: move.typed[AIR] + ".4"})
        if AIR in move.typed and "." not in move.typed[AIR]
        else move
        for move in moves
    )


def job(site: Site, moves: tuple[Move, ...], scenario: Scenario) -> tuple[Thumb, Count]:
    thumb = Thumb(site)
    thumb.begin(scenario)
    before: Count | None = None
    cycle = Count()
    for move in moves:
        if move.form == "shot_open":
            before = thumb.count.copy()
        thumb.make(move)
        # A second reading to be sure is not of the shot's cycle.
        if move.form == "reading" and before is not None:
            cycle, before = thumb.count - before, None
    return thumb, cycle


def practice(handbook: Handbook) -> Count:
    """From the list of lessons to the first valve that is turned: the plates are confirmed."""
    with tempfile.TemporaryDirectory() as folder, open_site(Path(folder), handbook) as site:
        thumb = Thumb(site, "/practice")
        thumb.send("start", {"lesson": LESSON})
        known = site.app.state.practice.running(sid_of(thumb), events_of(site, thumb))[0].setting
        thumb.make(Move(2, "job", "job", {"unit_label": f"P-{known.seed}"}))
        thumb.make(Move(2, "unit", "unit", {}))
        thumb.make(Move(2, "machine", "machine", {"mode": "cooling", "compressor": "full"}))
        thumb.make(Move(2, "target", "target", {}))
        thumb.make(Move(2, "preconditions", "preconditions", {}))
        thumb.make(Move(2, "cylinder", "cylinder", {"cylinder_label": known.cylinder_label}))
        weight = label("mass", known.tare_kg + known.contents_kg, UnitChoice())
        thumb.make(Move(2, "start_weight", "start_weight", {"gross": weight}))
        assert thumb.look.sheet("done") is not None, thumb.look.heading
        return thumb.count


def sid_of(thumb: Thumb) -> str:
    return thumb.at.split("/")[3]


def events_of(site: Site, thumb: Thumb) -> list[Event]:
    events: list[Event] = site.app.state.practice.events(sid_of(thumb))
    return events


def say(name: str, count: Count) -> bool:
    goal = GOALS.get(name, Count())
    parts = []
    met = True
    for what in ("taps", "fields", "pages"):
        value, most = getattr(count, what), getattr(goal, what)
        met = met and (most == 0 or value <= most)
        parts.append(f"{value:4d}" + (f" of {most:3d}" if most else "       ") + f" {what}")
    every = count.buttons + count.fields
    parts.append(f"{every:4d} with a tap for each field  {count.words:6d} words")
    print(f"{name:<30}{'  '.join(parts)}")
    return met


def main() -> int:
    handbook = load_handbook()
    met = True
    for scenario in scenarios():
        if scenario.moves[-1].form != "record":
            continue
        print(scenario.name)
        for name, count in visits(handbook, scenario).items():
            if count != Count():
                met = say(name, count) and met
    print(LESSON)
    met = say("practice, to the first valve", practice(handbook)) and met
    print("All goals are met." if met else "NOT all goals are met.")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
