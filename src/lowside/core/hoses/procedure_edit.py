"""Changes a shop makes to its own copy of a procedure: words, order, a step left out or put back.

Nothing here judges; `procedure_verdict.py` does, before anything is kept.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lowside.core.handbook.procedure import Procedure, Step, ValveSetting, step_by_id

LONGEST_TITLE = 80
LONGEST_LINE = 400
LONGEST_TEXT = 1500
MOST_LINES = 12


@dataclass(frozen=True)
class Words:
    """The words of one step as they are typed: `do` holds one instruction a line."""

    title: str
    do: str
    why: str
    done_when: str


def words_of(step: Step) -> Words:
    """The step's words as the editor shows them."""
    return Words(step.title, "\n".join(step.do), step.why, step.done_when)


def word_problems(words: Words) -> dict[str, str]:
    """A sentence for each field that cannot stay as typed; empty: all can."""
    problems: dict[str, str] = {}
    for name, text, longest in (
        ("title", words.title, LONGEST_TITLE),
        ("why", words.why, LONGEST_TEXT),
        ("done_when", words.done_when, LONGEST_LINE),
    ):
        problem = _problem(text, longest)
        if problem != "":
            problems[name] = problem
    lines = lines_of(words.do)
    if not lines:
        problems["do"] = "Needed. Type one instruction a line."
    elif len(lines) > MOST_LINES:
        problems["do"] = (
            f"Too many lines: {len(lines)}. A step has {MOST_LINES} at most; "
            "join some, or leave out the obvious ones."
        )
    else:
        for line in lines:
            if len(line) > LONGEST_LINE:
                problems["do"] = (
                    f"One line has {len(line)} characters. Shorten it to {LONGEST_LINE}, "
                    "or split it in two."
                )
    return problems


def title_problem(title: str) -> str:
    """What is wrong with a name of a procedure; empty: nothing."""
    return _problem(title, LONGEST_TITLE)


def lines_of(text: str) -> tuple[str, ...]:
    """The lines of a text that hold anything."""
    found: list[str] = []
    for line in text.replace("\r", "\n").split("\n"):
        if line.strip() != "":
            found.append(line.strip())
    return tuple(found)


def reworded(procedure: Procedure, step_id: str, words: Words) -> Procedure:
    """The procedure with one step's words replaced; `words` must have no `word_problems`."""
    steps = [
        replace(
            step,
            title=words.title.strip(),
            do=lines_of(words.do),
            why=" ".join(lines_of(words.why)),
            done_when=" ".join(lines_of(words.done_when)),
        )
        if step.id == step_id
        else step
        for step in procedure.steps
    ]
    return replace(procedure, steps=tuple(steps))


def order_of(procedure: Procedure) -> tuple[str, ...]:
    """Step ids in order."""
    return tuple(step.id for step in procedure.steps)


def moved(order: Sequence[str], step_id: str, up: bool) -> tuple[str, ...]:
    """Change places with the neighbor above or below; at the end of the list nothing changes."""
    ids = list(order)
    if step_id not in ids:
        return tuple(ids)
    at = ids.index(step_id)
    to = at - 1 if up else at + 1
    if 0 <= to < len(ids):
        ids[at], ids[to] = ids[to], ids[at]
    return tuple(ids)


def without(order: Sequence[str], step_id: str) -> tuple[str, ...]:
    """The order with a step left out."""
    return tuple(name for name in order if name != step_id)


def put_back(order: Sequence[str], step_id: str, shipped: Sequence[str]) -> tuple[str, ...]:
    """The order with a left-out step where the shipped one has it: after the nearest before it."""
    if step_id in order or step_id not in shipped:
        return tuple(order)
    ids = list(order)
    for earlier in reversed(shipped[: list(shipped).index(step_id)]):
        if earlier in ids:
            ids.insert(ids.index(earlier) + 1, step_id)
            return tuple(ids)
    return (step_id, *ids)


def left_out(order: Sequence[str], shipped: Procedure) -> tuple[Step, ...]:
    """Steps the shipped procedure has and the order lacks."""
    return tuple(step for step in shipped.steps if step.id not in order)


def arranged(procedure: Procedure, order: Sequence[str], shipped: Procedure) -> Procedure | None:
    """The procedure in this order; a step it lacks comes from `shipped`.

    What each step says of its valves is worked out again from the turns before it. `None`: the
    order names a step nobody knows, or one twice.
    """
    steps: list[Step] = []
    seen: list[str] = []
    now = {valve.id: valve.start for valve in procedure.valves}
    for step_id in order:
        step = step_by_id(procedure, step_id) or step_by_id(shipped, step_id)
        if step is None or step_id in seen:
            return None
        seen.append(step_id)
        for action in step.actions:
            now[action.valve] = action.to
        steps.append(replace(step, settings={name: now[name] for name in step.settings}))
    return replace(procedure, steps=tuple(steps))


def changed_settings(
    procedure: Procedure, shipped: Procedure
) -> dict[str, Mapping[str, ValveSetting]]:
    """By step id, the valves that are not at its end as the shipped step says."""
    found: dict[str, Mapping[str, ValveSetting]] = {}
    for step in procedure.steps:
        own = step_by_id(shipped, step.id)
        if own is None:
            continue
        changed = {
            name: step.settings[name]
            for name, to in own.settings.items()
            if name in step.settings and step.settings[name] != to
        }
        if changed:
            found[step.id] = changed
    return found


def _problem(text: str, longest: int) -> str:
    if text.strip() == "":
        return "Needed. Type a few words."
    if len(text) > longest:
        return f"Too long: {len(text)} characters. Shorten it to {longest}."
    return ""
