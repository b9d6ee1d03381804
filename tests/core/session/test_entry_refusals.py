"""Bad input: a sentence beside the right field, nothing recorded, everything else kept."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from strategies import CIRCUIT, ulid
from website import Page, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.demo import scenarios

ROOF = next(scenario for scenario in scenarios() if scenario.name == "roof-unit-r410a")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as opened:
        yield opened


def played(site: Site, until: str) -> str:
    return site.play(ROOF, until)


def refused(site: Site, sid: str, path: str, form: str, typed: dict[str, str]) -> Page:
    """Send what must be refused; nothing is recorded and all that was sent is on the page again."""
    before = site.events(sid)
    answer = site.fill(path, form, typed)
    assert answer.status == 422
    assert site.events(sid) == before
    shown = answer.form("/form/" + form)
    kept = {name: text for name, text in typed.items() if not name.endswith("_unit")}
    assert {name: shown.values.get(name) for name in kept} == kept
    return answer


def only_problem(answer: Page, field: str) -> str:
    assert [problem.field for problem in answer.read.problems] == [field]
    return answer.problem(field)


GOOD_JOB = {
    "site": "Mill “Lane” & Söhne",
    "unit_label": "AC-1",
    "technician": "I. Varga",
    "elevation": "600",
}


@pytest.mark.parametrize("slip", ["abc", "12 ft", "1e3"])
def test_letters_in_a_number(site: Site, slip: str) -> None:
    sid = site.start()
    answer = refused(site, sid, f"/s/{sid}", "job", GOOD_JOB | {"elevation": slip})
    assert only_problem(answer, "elevation").startswith(f"“{slip}” is not a number.")


def test_a_number_that_reads_two_ways(site: Site) -> None:
    sid = site.start()
    answer = refused(site, sid, f"/s/{sid}", "job", GOOD_JOB | {"elevation": "5,280"})
    assert "5280 or 5.280" in only_problem(answer, "elevation")


@pytest.mark.parametrize("field", ["site", "unit_label", "technician", "elevation"])
def test_something_needed_left_empty(site: Site, field: str) -> None:
    sid = site.start()
    answer = refused(site, sid, f"/s/{sid}", "job", GOOD_JOB | {field: ""})
    assert only_problem(answer, field).startswith("Needed.")


def test_every_wrong_field_gets_its_own_sentence(site: Site) -> None:
    sid = site.start()
    wrong = {"site": "", "unit_label": "x" * 200, "technician": "I. Varga", "elevation": "99999"}
    answer = refused(site, sid, f"/s/{sid}", "job", wrong)
    assert [problem.field for problem in answer.read.problems] == [
        "site",
        "unit_label",
        "elevation",
    ]
    assert answer.problem("technician") == ""


def test_an_unknown_refrigerant(site: Site) -> None:
    sid = played(site, "unit")
    before = site.events(sid)
    answer = site.fill(
        f"/s/{sid}", "unit", {"refrigerant": "R-999", "metering": "txv", "capacity": "3", **CIRCUIT}
    )
    assert answer.status == 422
    assert site.events(sid) == before
    assert only_problem(answer, "refrigerant").startswith("“R-999” has no property table here")
    assert answer.form("/form/unit").values["metering"] == "txv"
    assert answer.form("/form/unit").values["capacity"] == "3"


def test_a_unit_that_was_tampered_with_is_not_guessed(site: Site) -> None:
    sid = played(site, "unit")
    before = site.events(sid)
    typed = {"refrigerant": "R-410A", "metering": "txv", "capacity": "3", **CIRCUIT}
    typed["capacity_unit"] = "tons"
    answer = site.fill(f"/s/{sid}", "unit", typed)
    assert answer.status == 422
    assert site.events(sid) == before
    assert "ton, kW" in only_problem(answer, "capacity")


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"method": "chart"}, "method", "expansion valve evens out superheat"),
        ({"method": "subcooling"}, "maker_subcooling", "needs the manufacturer’s subcooling"),
        ({"method": "superheat"}, "maker_superheat", "needs the manufacturer’s superheat"),
        (
            {"method": "subcooling", "maker_subcooling": "22"},
            "subcooling_papers",
            "Plates usually give 5 to 20 °F",
        ),
        (
            {"method": "subcooling", "maker_subcooling": "200"},
            "maker_subcooling",
            "Outside the possible range",
        ),
    ],
)
def test_a_target_that_does_not_fit_the_unit(
    site: Site, typed: dict[str, str], field: str, words: str
) -> None:
    sid = played(site, "target")
    answer = refused(site, sid, f"/s/{sid}", "target", typed)
    assert words in answer.problem(field)


PLAUSIBLE = {
    "suction_pressure": "124",
    "suction_line": "62",
    "liquid_pressure": "348",
    "liquid_line": "104",
}


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"suction_pressure": "2000"}, "suction_pressure", "Outside the possible range"),
        ({"liquid_pressure": "2000"}, "liquid_pressure", "Outside the possible range"),
        ({"suction_line": "abc"}, "suction_line", "is not a number"),
        ({"return_humidity": "140"}, "return_humidity", "Outside the possible range"),
    ],
)  # fmt: skip
def test_a_reading_that_cannot_be_true(
    site: Site, wrong: dict[str, str], field: str, words: str
) -> None:
    sid = played(site, "reading")
    answer = refused(site, sid, f"/s/{sid}", "reading", PLAUSIBLE | wrong)
    assert words in answer.problem(field)


def test_a_vapor_line_a_sensor_s_error_below_dew_is_believed(site: Site) -> None:
    sid = played(site, "reading")
    answer = site.fill(f"/s/{sid}", "reading", PLAUSIBLE | {"suction_line": "42.5"})
    assert answer.status == 303


def test_an_empty_reading(site: Site) -> None:
    sid = played(site, "reading")
    answer = refused(site, sid, f"/s/{sid}", "reading", {})
    assert only_problem(answer, "").startswith("Nothing entered.")


def test_a_start_weight_below_the_tare(site: Site) -> None:
    sid = played(site, "start_weight")
    answer = refused(site, sid, f"/s/{sid}", "start_weight", {"gross": "7 lb 7 oz"})
    assert "less than the empty cylinder (7 lb 8.0 oz)" in only_problem(answer, "gross")


def test_a_tare_above_the_weight_the_cylinder_started_with(site: Site) -> None:
    sid = played(site, "tare")
    typed = {"cylinder_tare": "27 lb 4.0 oz"}
    answer = refused(site, sid, f"/s/{sid}/step/cylinder", "cylinder", typed)
    words = only_problem(answer, "cylinder_tare")
    assert "More than the whole cylinder weighed at the start (27 lb 3.0 oz)" in words


def test_ounces_beyond_a_pound(site: Site) -> None:
    sid = played(site, "start_weight")
    answer = refused(site, sid, f"/s/{sid}", "start_weight", {"gross": "27 lb 19 oz"})
    assert "Carry the rest into pounds" in only_problem(answer, "gross")


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"gross": "27 lb 9 oz"}, "More than at the start (27 lb 3.0 oz)"),
        ({"gross": "5 lb"}, "less than the empty cylinder"),
        ({"gross": "-1 lb"}, "Outside the possible range: not below zero."),
        ({"gross": "27"}, "Pounds or ounces?"),
        ({"gross": ""}, "Needed."),
    ],
)
def test_an_end_weight_that_cannot_be(site: Site, typed: dict[str, str], words: str) -> None:
    sid = played(site, "end_weight")
    answer = refused(site, sid, f"/s/{sid}", "end_weight", typed)
    assert words in only_problem(answer, "gross")


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"scale_after": "28 lb"}, "cannot gain weight"),
        ({"scale_after": "2 lb"}, "more than the cylinder held"),
        ({"scale_after": "27,123 lb"}, "two ways"),
        ({"scale_after": "-2.5 oz"}, "cannot show less than zero"),
        ({"scale_after": ""}, "Needed."),
    ],
)
def test_a_shot_the_scale_cannot_have_seen(site: Site, typed: dict[str, str], words: str) -> None:
    sid = played(site, "shot_weigh")
    answer = refused(site, sid, f"/s/{sid}", "shot_weigh", typed)
    assert words in only_problem(answer, "scale_after")
    shot = site.state(sid).shots[-1]
    assert shot.weight_asked
    assert shot.open_s == 17.0


def test_a_shot_is_weighed_once_and_only_when_it_is_over(site: Site) -> None:
    sid = played(site, "shot_weigh")
    form = site.get(f"/s/{sid}").form("/form/shot_weigh")
    typed = form.values | {"scale_after": "27 lb 5.5 oz"}
    assert site.post(form.action, typed).status == 303
    again = site.post(form.action, typed | {"eid": ulid(5)})
    assert "This shot has its scale entry." in again.text
    nowhere = site.post(form.action, typed | {"eid": ulid(6), "shot": "nowhere"})
    assert "There is no such shot" in nowhere.text
    assert len(site.state(sid).shots) == 1


def test_the_session_is_not_closed_over_weights_that_disagree(site: Site) -> None:
    sid = played(site, "end_weight")
    site.fill(f"/s/{sid}", "end_weight", {"gross": "20 lb 0 oz"})
    answer = refused(site, sid, f"/s/{sid}/step/reconcile", "reconcile", {"explanation": ""})
    assert "do not agree" in only_problem(answer, "explanation")


def test_a_record_without_an_end_weight_asks_for_it_or_why_not(site: Site) -> None:
    sid = played(site, "end_weight")
    typed = {"signed_by": "I. Varga", "caps_checked": "yes"}
    answer = refused(site, sid, f"/s/{sid}/step/record", "record", typed)
    assert only_problem(answer, "").startswith("The end weight is missing.")


def test_a_step_is_not_done_while_a_shot_is_open(site: Site) -> None:
    sid = played(site, "shot_close")
    before = site.events(sid)
    answer = site.post(
        f"/s/{sid}/form/done", {"eid": site.events(sid)[0].eid[:-1] + "Z", "step": "shots"}
    )
    assert answer.status == 422
    assert "A shot is still open." in answer.text
    assert site.events(sid) == before


def test_a_correction_is_held_to_the_same_rules(site: Site) -> None:
    sid = played(site, "decide")
    entries = {event.kind: event.eid for event in site.events(sid)}
    before = site.events(sid)
    for kind, typed, field in (
        ("reading.taken", {"return_humidity": "140"}, "return_humidity"),
        ("weight.start", {"gross": "7 lb 0 oz"}, "gross"),
        ("target.set", {"method": "chart"}, "method"),
        ("unit.set", {"refrigerant": "R-999"}, "refrigerant"),
        ("scale.set", {"scale_resolution": "0"}, "scale_resolution"),
    ):
        path = f"/s/{sid}/amend/{entries[kind]}"
        form = site.get(path).form("/amend/" + entries[kind])
        answer = site.post(path, form.values | typed)
        assert answer.status == 422, kind
        assert answer.problem(field) != "", kind
        shown = answer.form("/amend/" + entries[kind]).values
        if kind != "unit.set":
            assert {name: shown[name] for name in typed} == typed
    assert site.events(sid) == before


def test_a_correction_of_the_end_weight_above_the_start_is_refused(site: Site) -> None:
    sid = played(site, "record")
    eid = next(event.eid for event in site.events(sid) if event.kind == "weight.end")
    path = f"/s/{sid}/amend/{eid}"
    form = site.get(path).form("/amend/" + eid)
    answer = site.post(path, form.values | {"gross": "30 lb 0 oz"})
    assert answer.status == 422
    assert "More than at the start" in answer.problem("gross")
