"""What a master technician would say of each situation is what the program says.

`tests/data/expert_situations.csv`: the machine, the checklist and one reading a row, with the
answer, the largest opening where the answer is to add, a word the reason must name, and where the
rule is from. Source ids: A, C, E, F, G, H, L, M, N, P, R, S, T, V are rows of the list of published
permission rules and “(regulatory)” those of the list of federal rules; “README-n” a section of the
reference notes. `basis` says whether the source was read, recalled or is common practice.
"""

import pytest
from expert import play, situations
from not_shown import NOT_SHOWN, shown_codes

from lowside.core.handbook.handbook import Handbook

ROWS = situations()


def test_the_table_is_whole() -> None:
    assert len(ROWS) >= 150
    assert len({row["id"] for row in ROWS}) == len(ROWS)
    for row in ROWS:
        assert "" not in (row["source"], row["basis"]), row["id"]
        assert ("add" in row["answer"].split("|")) == (row["at_most_oz"] != ""), row["id"]


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_the_program_answers_as_the_expert_does(row: dict[str, str], handbook: Handbook) -> None:
    played = play(row, handbook)
    told = f"{row['situation']}: {played.answer} {played.ounces} because {played.why}"
    assert played.answer in row["answer"].split("|"), told
    assert played.holes == [], told
    assert played.faults - shown_codes() - set(NOT_SHOWN) == set(), "practice has a lesson of it"
    if played.answer == "add":
        assert played.ounces is not None, told
        assert played.ounces <= float(row["at_most_oz"]), told
    if row["why"] != "":
        words = row["why"].lower().split("|")
        assert any(word in played.why.lower() for word in words), told
