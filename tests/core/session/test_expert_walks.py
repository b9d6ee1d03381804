"""What an expert lets pass at each form of recovery and weigh-in is what the program lets pass.

`tests/data/expert_walks.csv`: what differs from a walk done right, the form that is asked, and the
answer with a word its reason must name. Sources as in `expert_situations.csv`.
"""

import pytest
from expert import situations
from expert_walk import WALKS, play_walk

from lowside.core.handbook.handbook import Handbook

ROWS = situations(WALKS)


def test_the_table_is_whole() -> None:
    assert len(ROWS) >= 80
    assert len({row["id"] for row in ROWS}) == len(ROWS)
    for row in ROWS:
        assert "" not in (row["source"], row["basis"]), row["id"]
        assert row["answer"] in ("accept", "refuse"), row["id"]


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_a_walk_goes_as_the_expert_says(row: dict[str, str], handbook: Handbook) -> None:
    taken, why = play_walk(row, handbook)
    told = f"{row['situation']}: {'accept' if taken else 'refuse'} because {why}"
    assert taken == (row["answer"] == "accept"), told
    if row["why"] != "" and not taken:
        assert any(word in why.lower() for word in row["why"].lower().split("|")), told
