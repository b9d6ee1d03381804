"""A short lesson is marked as done once it was answered right."""

from pathlib import Path

from website import open_site

from lowside.core.handbook.handbook import Handbook


def test_a_lesson_guessed_wrong_is_not_marked_as_done(tmp_path: Path, handbook: Handbook) -> None:
    with open_site(tmp_path / "data", handbook) as site:
        wrong = (("calls/Y01", "add"), ("calls/Y01", "do_not_add"), ("hoses/h02", "nothing"))
        for path, guess in wrong:
            answer = site.post(f"/practice/{path}", {"guess": guess})
            assert answer.status == 303
            assert "set-cookie" not in answer.response.headers, (path, guess)
        right = site.post("/practice/hoses/h02", {"guess": "liquid_held_open"})
        assert "h02" in right.response.headers["set-cookie"]
