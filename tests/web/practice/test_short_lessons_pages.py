"""The short lessons' pages: a guess before the reasons, a score, and what was done is marked."""

from pathlib import Path

import pytest
from website import open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.charging import WORDS
from lowside.practice import calls, hose_drills


def test_each_short_lesson_asks_first_and_tells_after_the_guess(
    tmp_path: Path, handbook: Handbook
) -> None:
    with open_site(tmp_path / "data", handbook) as site:
        for call in calls.calls()[::8]:
            advice = calls.played(call.id).advice
            path = f"/practice/calls/{call.id}"
            asked = site.get(path)
            assert advice.reasons[0] not in asked.text, call.id
            assert WORDS[advice.action] in asked.text
            html = asked.response.text
            assert html.index('name="guess"') < html.index('class="facts"'), "the answer on top"
            told = site.get(f"{path}?guess={advice.action}")
            assert advice.reasons[0] in told.text, call.id
            assert "Score: 2 of 2" in told.text
        for drill in hose_drills.DRILLS[::3]:
            path = f"/practice/hoses/{drill.id}"
            asked, reasons = site.get(path), hose_drills.found(drill).hazards
            codes = hose_drills.codes(drill)
            wrong = next(code for code, _ in hose_drills.choices(drill) if code not in codes)
            told = site.get(f"{path}?guess={wrong}")
            assert "Score: 0 of 2" in told.text
            for hazard in reasons:
                assert hazard.sentence not in asked.text, drill.id
                assert f"{hazard.sentence} {hazard.cure}" in told.text, drill.id


def test_a_short_lesson_is_marked_as_done_and_odd_requests_find_nothing(
    tmp_path: Path, handbook: Handbook
) -> None:
    first = calls.calls()[0]
    with open_site(tmp_path / "data", handbook) as site:
        assert "✓ done" not in site.get("/practice").text
        right = calls.played(first.id).advice.action
        answer = site.post(f"/practice/calls/{first.id}", {"guess": right})
        assert answer.status == 303
        assert answer.response.headers["location"] == f"/practice/calls/{first.id}?guess={right}"
        kept = answer.response.headers["set-cookie"].split(";")[0]
        assert site.send("GET", "/practice", headers={"cookie": kept}).text.count("✓ done") == 1
        for path, guess in (("calls/none", "stop"), (f"calls/{first.id}", "x"), ("hoses/h99", "")):
            assert site.post(f"/practice/{path}", {"guess": guess}).status == 404
        assert site.get("/practice/hoses/h99").status == 404


@pytest.mark.parametrize("cookie", ["", "..", "<script>", "h01." * 500, "K01.h01"])
def test_an_odd_cookie_does_no_harm(cookie: str, tmp_path: Path, handbook: Handbook) -> None:
    with open_site(tmp_path / "data", handbook) as site:
        page = site.send("GET", "/practice", headers={"cookie": f"practice-done={cookie}"})
        assert page.status_code == 200
        assert page.text.count("✓ done") == (2 if cookie == "K01.h01" else 0)
