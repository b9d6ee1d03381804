"""The goals the advice is measured by, and which class of units misses which."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.practice.bench import Summary, charged_past, class_figures, counted, of_class
from lowside.practice.sites import TOLD_RECEIVER
from lowside.practice.technician import EMPTIES_HOSES, Charged

LEAST_UNITS = 15
"""A class with fewer units is not judged: one session is 7 % of it. Our choice."""
LEAST_FOR_RANGE = 100
EVERY = "every unit"
WITHIN = 0.95
OVER = 0.02
TURNED_AWAY = 0.02
LIQUID = 0.005
"""Of those whose hands are not exact; the exact technician and the one who empties: none."""
RANGE = (0.85, 0.95)
FAULTY_PAST = 0.05
EXACT_HANDS = ("exact", EMPTIES_HOSES)
WORDS = {"overcharged": "over", "turned_away": "away", "liquid_at_compressor": "liquid"}


@dataclass(frozen=True)
class Missed:
    """One class of one technician that misses goals: each as text."""

    technician: str
    name: str
    count: int
    goals: tuple[str, ...]


def missed(found: Summary) -> list[Missed]:
    """Every technician's classes that miss a goal, all units first.

    Known receivers are sent elsewhere, and count in no class here.
    """
    rows: list[Missed] = []
    for technician, outcomes in found.by_technician.items():
        sound_ones = counted(outcomes)
        faulty = found.faulty.get(technician, ())
        tags = {tag for each in (*sound_ones, *faulty) for tag in each.tags} - {TOLD_RECEIVER}
        classes: Mapping[str, tuple[Sequence[Charged], Sequence[Charged]]] = {
            EVERY: (sound_ones, faulty),
            **{tag: (of_class(outcomes, tag), of_class(faulty, tag)) for tag in sorted(tags)},
        }
        for name, (sound, broken) in classes.items():
            goals = _sound(technician, sound) + _faulty(broken)
            if goals:
                rows.append(Missed(technician, name, len(sound), goals))
    return rows


def _sound(technician: str, outcomes: Sequence[Charged]) -> tuple[str, ...]:
    count = len(outcomes)
    if count < LEAST_UNITS:
        return ()
    found = class_figures(outcomes, ())
    least_liquid = 0.0 if technician in EXACT_HANDS else LIQUID
    goals: list[str] = []
    if found["within_tolerance"] < WITHIN:
        goals.append(f"within {_percent(found['within_tolerance'])}")
    for name, most in (
        ("overcharged", OVER),
        ("turned_away", TURNED_AWAY),
        ("liquid_at_compressor", least_liquid),
    ):
        if found[name] > most:
            goals.append(f"{WORDS[name]} {_percent(found[name])} ({found[name] * count:.0f})")
    if count >= LEAST_FOR_RANGE and not RANGE[0] <= found["coverage"] <= RANGE[1]:
        goals.append(f"range {_percent(found['coverage'])}")
    return tuple(goals)


def _faulty(outcomes: Sequence[Charged]) -> tuple[str, ...]:
    count = len(outcomes)
    if count < LEAST_UNITS:
        return ()
    past = charged_past(outcomes)
    if past <= FAULTY_PAST * count:
        return ()
    return (f"faulty past {_percent(past / count)} ({past} of {count})",)


def _percent(share: float) -> str:
    return f"{share * 100.0:.1f}"


def goals_text(found: Summary) -> str:
    """What falls short, one line for each class of each technician; in % and, in brackets, how
    many sessions that is."""
    rows = missed(found)
    lines = [
        f"goals missed, in % (sessions), by every class of {LEAST_UNITS} units or more. Goals: "
        f"within {100 * WITHIN:g}, over {100 * OVER:g}, away {100 * TURNED_AWAY:g}, liquid 0 or "
        f"{100 * LIQUID:g}, range {100 * RANGE[0]:g} to {100 * RANGE[1]:g} from {LEAST_FOR_RANGE} "
        f"units on, faulty past {100 * FAULTY_PAST:g}"
    ]
    for technician in found.by_technician:
        own = [row for row in rows if row.technician == technician]
        if not own:
            lines.append(f"{technician:16} none")
        lines += [
            f"{technician:16} {row.name:24} {row.count:4d}  " + ", ".join(row.goals) for row in own
        ]
    return "\n".join(lines) + "\n"
