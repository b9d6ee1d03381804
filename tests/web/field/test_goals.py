"""A whole job costs few taps: the counting script's goals, on the job that takes the most."""

import sys
from pathlib import Path

import pytest

from lowside.core.handbook.handbook import Handbook
from lowside.demo import scenarios

sys.path.append(str(Path(__file__).parents[3] / "bench"))
import taps


def test_the_job_with_the_most_to_type_meets_every_goal(
    handbook: Handbook, capsys: pytest.CaptureFixture[str]
) -> None:
    roof = next(one for one in scenarios() if one.name == "roof-unit-r410a")
    found = taps.visits(handbook, roof)
    assert set(found) == {"first visit", "a shot cycle", "return visit"}
    met = [taps.say(name, count) for name, count in found.items()]
    assert all(met), capsys.readouterr().out
