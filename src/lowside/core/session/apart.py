"""Two phones answer one question differently, and neither knew the other’s answer: which one counts
by the order is chance, so both are kept until somebody who knows both answers once more."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.session.events import Event, writer_of

REPLACES = "replaces"
"""In an answer: the eids of those that its page knew and that count no more, but those of its own
run. One without it, as of an older phone, knew its own phone’s only."""


@dataclass(frozen=True)
class Given:
    """What one entry of a kind of `SINGLE_VALUED`, or a correction of it, says."""

    eid: str
    about: str
    """eid of the entry."""
    dev: str
    run: str
    said: Mapping[str, str]
    replaces: tuple[str, ...]


def answer_of(event: Event) -> Given:
    """What was written, without what nobody typed."""
    said = {n: t for n, t in event.data.items() if n not in ("step", "target", REPLACES)}
    about = event.data.get("target", event.eid)
    replaces = tuple(event.data.get(REPLACES, "").split(" "))
    return Given(event.eid, about, writer_of(event.dev), event.run, said, replaces)


def with_answer(before: Sequence[Given], one: Given) -> list[Given]:
    """All that no later answer knew, after one more; the last is about the newest entry. Whoever
    corrects an older entry and knows the newest changes nothing that counts."""
    unknown = [each.eid for each in before if not _knew(one, each)]
    kept = [each for each in before if each.eid in unknown]
    if one.about in (one.eid, before[len(before) - 1].about if before else ""):
        return [*kept, one]
    kept = [each for each in before if each.about != one.about or each.eid in unknown]
    return [one, *kept] if unknown or len(kept) < len(before) else list(before)


def differ(answers: Sequence[Given]) -> bool:
    """Whether two phones said different things apart."""
    return any(dict(each.said) != dict(answers[0].said) for each in answers)


def said_apart(answers: Mapping[str, Sequence[Given]]) -> list[str]:
    """What is flagged of them, by kind."""
    return [
        f"Two phones wrote different entries for “{kind}”. The later one counts; both are on the "
        "timeline."
        for kind, given in answers.items()
        if differ(given)
    ]


def naming(
    data: Mapping[str, str], answers: Sequence[Given], run: str, shown: Sequence[str]
) -> Mapping[str, str]:
    """The data of a new answer, with the answers that its page knew and that it replaces: those
    `shown`, or all where the page does not say."""
    eids = [each.eid for each in answers if each.run != run and (not shown or each.eid in shown)]
    return {**data, REPLACES: " ".join(eids)} if eids else data


def _knew(one: Given, each: Given) -> bool:
    return each.dev == one.dev or each.eid in one.replaces
