"""The pages of one technician cannot be written, framed, scripted or flooded by another site."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from website import PROCEDURE, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.demo import scenarios

ROOF = next(scenario for scenario in scenarios() if scenario.name == "roof-unit-r410a")
JOB = {"site": "Mill Lane", "unit_label": "AC-1", "technician": "I. Varga", "elevation": "600"}
EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as opened:
        yield opened


# One tap, one event


def test_two_quick_taps_record_one_event(site: Site) -> None:
    sid = site.start()
    form = site.get(f"/s/{sid}").form("/form/job")
    first = site.post(form.action, form.values | JOB)
    second = site.post(form.action, form.values | JOB)
    assert first.status == second.status == 303
    assert first.response.headers["location"] == second.response.headers["location"]
    assert [event.kind for event in site.events(sid)] == ["session.started", "job.set"]


def test_two_taps_on_the_start_button_start_one_session(site: Site) -> None:
    form = site.get("/").form("/start")
    for _ in range(2):
        assert site.post("/start", form.values).status == 303
    assert len(site.events(form.values["sid"])) == 1
    assert len(site.store.sessions()) == 1


@pytest.mark.parametrize("form", ["shot_open", "shot_close", "system_stopped"])
def test_two_quick_taps_on_a_shot_or_the_stop_button_record_one_event(
    site: Site, form: str
) -> None:
    until = "shot_close" if form == "shot_close" else "shot_open"
    sid = site.play(ROOF, until)
    before = len(site.events(sid))
    shown = site.get(f"/s/{sid}").form("/form/" + form)
    for _ in range(2):
        assert site.post(shown.action, shown.values).status == 303
    assert len(site.events(sid)) == before + 1


def test_the_same_form_from_two_threads_at_once_records_one_event(site: Site) -> None:
    sid = site.start()
    form = site.get(f"/s/{sid}").form("/form/job")
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(lambda _: site.post(form.action, form.values | JOB), range(16)))
    assert [answer.status for answer in answers] == [303] * 16
    assert [event.kind for event in site.events(sid)] == ["session.started", "job.set"]


def test_different_forms_from_many_threads_are_all_recorded_in_one_unbroken_row(
    site: Site,
) -> None:
    sid = site.start()
    forms = [site.get(f"/s/{sid}/form/note").form("/form/note") for _ in range(12)]

    def save(number: int) -> int:
        form = forms[number]
        return site.post(form.action, form.values | {"text": f"note {number}"}).status

    with ThreadPoolExecutor(6) as pool:
        assert list(pool.map(save, range(12))) == [303] * 12
    events = site.events(sid)
    assert [event.seq for event in events] == list(range(1, 14))
    assert sorted(e.data["text"] for e in events[1:]) == sorted(f"note {n}" for n in range(12))
    assert [event.hlc for event in events] == sorted({event.hlc for event in events})


def test_back_and_save_again_with_other_values_asks_first_and_keeps_them(site: Site) -> None:
    sid = site.start()
    form = site.get(f"/s/{sid}").form("/form/job")
    assert site.post(form.action, form.values | JOB).status == 303
    before = site.events(sid)
    changed = JOB | {"technician": "T. Hale"}
    again = site.post(form.action, form.values | changed)
    assert again.status == 422
    assert site.events(sid) == before
    assert "saved before, with other values" in again.text
    shown = again.form("/form/job")
    assert shown.values["technician"] == "T. Hale"
    assert shown.values["eid"] != form.values["eid"]
    assert site.post(shown.action, shown.values).status == 303
    state = site.state(sid)
    assert state.job is not None
    assert state.job.technician == "T. Hale"


# Other sites


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost.evil.example"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_of_another_site_writes_nothing(site: Site, headers: dict[str, str]) -> None:
    sid = site.start()
    before = site.events(sid)
    form = site.get(f"/s/{sid}").form("/form/job")
    answer = site.post(form.action, form.values | JOB, headers)
    assert answer.status == 403
    assert site.events(sid) == before
    started = site.get("/").form("/start").values
    assert site.post("/start", started, headers).status == 403
    assert site.events(started["sid"]) == []


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"},
        {"Sec-Fetch-Site": "none"},
    ],
)
def test_a_form_of_its_own_is_taken(site: Site, headers: dict[str, str]) -> None:
    sid = site.start()
    form = site.get(f"/s/{sid}").form("/form/job")
    assert site.post(form.action, form.values | JOB, headers).status == 303


@pytest.mark.parametrize(
    "path", ["/", "/office", "/office/cylinders", "/nowhere", "/s/NOBODY", "/static/js/page.js"]
)
def test_every_answer_forbids_foreign_scripts_frames_and_guessing(site: Site, path: str) -> None:
    headers = site.get(path).response.headers
    policy = headers["content-security-policy"].split("; ")
    for rule in ("script-src 'self'", "frame-ancestors 'none'", "form-action 'self'"):
        assert rule in policy
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_a_refused_post_carries_the_same_headers(site: Site) -> None:
    answer = site.post("/start", {}, {"Origin": "https://evil.example"})
    assert answer.status == 403
    assert answer.response.headers["x-content-type-options"] == "nosniff"


def test_pages_with_a_session_are_not_kept_by_the_browser(site: Site) -> None:
    sid = site.start()
    for path in ("/", f"/s/{sid}", f"/s/{sid}/timeline", f"/s/{sid}/form/note", "/office"):
        assert site.get(path).response.headers["cache-control"] == "no-store"
    assert "no-store" not in site.get("/static/js/page.js").response.headers.get(
        "cache-control", ""
    )


def test_no_page_has_a_script_or_style_of_its_own(site: Site) -> None:
    sid = site.play(ROOF)
    for path in ("/", f"/s/{sid}/ticket", f"/office/session/{sid}"):
        html = site.get(path).response.text
        assert "<style" not in html
        assert " style=" not in html
        assert html.count("<script") == html.count("<script src=") + html.count(
            '<script type="module" src='
        )


# Whatever was typed is text


def test_what_was_typed_is_text_on_every_page(site: Site) -> None:
    sid = site.play(ROOF, "decide")
    evil = {"site": EVIL[:120], "unit_label": EVIL[:120], "technician": EVIL[:120]}
    assert site.fill(f"/s/{sid}/step/job", "job", evil).status == 303
    cylinder = next(event for event in site.events(sid) if event.kind == "cylinder.set")
    corrected = site.get(f"/s/{sid}/amend/{cylinder.eid}").form("/amend/" + cylinder.eid)
    label = corrected.values | {"cylinder_label": EVIL[:120]}
    assert site.post(corrected.action, label).status == 303
    assert site.fill(f"/s/{sid}/form/note", "note", {"text": EVIL}).status == 303
    reason = {"decision": "leave", "reason": EVIL}
    assert site.fill(f"/s/{sid}/step/decide", "decide", reason).status == 303
    timeline = site.get(f"/s/{sid}/timeline")
    void = timeline.read.forms[-2]
    assert site.post(void.action, void.values | {"reason": EVIL}).status == 303
    note = next(event for event in site.events(sid) if event.kind == "note.added")
    paths = [
        "/",
        f"/s/{sid}",
        f"/s/{sid}/step/job",
        f"/s/{sid}/step/cylinder",
        f"/s/{sid}/timeline",
        f"/s/{sid}/ticket",
        f"/s/{sid}/amend/{note.eid}",
        "/office",
        "/office?q=script",
        "/office?q=" + "%3Cscript%3Ealert(3)%3C/script%3E%22%27",
        f"/office/session/{sid}",
        "/office/cylinders",
        "/office/set-aside",
    ]
    seen = 0
    for path in paths:
        answer = site.get(path)
        assert answer.status == 200, path
        assert "<script>" not in answer.response.text, path
        assert "<img" not in answer.response.text, path
        seen += "alert(1)" in answer.text
    assert seen >= 9


def test_the_chart_s_series_stays_inside_its_attribute(site: Site) -> None:
    sid = site.play(ROOF)
    html = site.get(f"/office/session/{sid}").response.text
    attribute = html.split('data-series="')[1].split('"')[0]
    assert attribute.startswith("{&#34;minutes&#34;")
    assert "<" not in attribute


# Floods


def test_a_body_beyond_any_form_is_refused_and_nothing_recorded(site: Site) -> None:
    sid = site.start()
    form = site.get(f"/s/{sid}").form("/form/job")
    before = site.events(sid)
    for extra in ({"site": "x" * 5_000_000}, {f"f{n}": "x" for n in range(5000)}):
        answer = site.post(form.action, form.values | JOB | extra)
        assert 400 <= answer.status < 500
        assert site.events(sid) == before


def test_what_no_form_asks_is_not_stored(site: Site) -> None:
    sid = site.start()
    form = site.get(f"/s/{sid}").form("/form/job")
    assert site.post(form.action, form.values | JOB | {"admin": "yes"}).status == 303
    assert "admin" not in site.events(sid)[-1].data


def test_a_step_nobody_knows_is_not_stored(site: Site) -> None:
    sid = site.start()
    before = site.events(sid)
    form = site.get(f"/s/{sid}").form("/form/job")
    answer = site.post(form.action, form.values | JOB | {"step": "x" * 5000})
    assert 400 <= answer.status < 500
    assert site.events(sid) == before


@pytest.mark.parametrize(
    ("form", "step"),
    [
        ("job", "record"),
        ("note", "baseline"),
        ("done", "job"),
        ("done", "record"),
        ("job", "shots"),
    ],
)
def test_a_step_is_done_by_its_own_form_alone(site: Site, form: str, step: str) -> None:
    sid = site.start()
    before = site.events(sid)
    shown = site.get(f"/s/{sid}").form("/form/job").values
    typed = shown | JOB | {"text": "a note", "step": step}
    assert site.post(f"/s/{sid}/form/{form}", typed).status == 422
    assert site.events(sid) == before
    assert step not in site.state(sid).done


def test_a_file_is_not_taken(site: Site) -> None:
    sid = site.start()
    form = site.get(f"/s/{sid}").form("/form/job")
    before = site.events(sid)
    part = b'Content-Disposition: form-data; name="site"; filename="a.txt"'
    body = b"--b\r\n" + part + b"\r\n\r\nhello\r\n--b--\r\n"
    headers = {"Content-Type": "multipart/form-data; boundary=b"}
    assert 400 <= site.send("POST", form.action, body, headers).status_code < 500
    assert site.events(sid) == before


@pytest.mark.parametrize(
    ("sid", "eid"),
    [("../../etc/passwd", "x"), ("", ""), ("a" * 26, "b" * 26), ("0" * 500, "1"), ("\x00", "\x00")],
)
def test_a_session_cannot_be_started_under_a_made_up_name(site: Site, sid: str, eid: str) -> None:
    answer = site.post("/start", {"sid": sid, "eid": eid, "procedure": PROCEDURE})
    assert 400 <= answer.status < 600
    assert site.store.sessions() == []
    assert list(site.store.root.rglob("*.jsonl")) == []
    assert "Lowside" in answer.text


# Pages that are not there


@pytest.mark.parametrize(
    "path",
    [
        "/s/01ARZ3NDEKTSV4RRFFQ69G5FAV",
        "/s/..%2F..%2Fetc",
        "/s/x/y/z/w",
        "/s/",
        "/nowhere",
        "/office/session/NOBODY",
        "/office/nowhere",
        "/static/nowhere.js",
    ],
)
def test_a_page_that_is_not_there_says_so(site: Site, path: str) -> None:
    answer = site.get(path)
    assert answer.status == 404
    if not path.startswith("/static"):
        assert "There is no" in answer.text
        assert "/" in answer.read.links


@pytest.mark.parametrize("rest", ["/step/nowhere", "/form/nowhere", "/form/void", "/amend/X", "/x"])
def test_a_page_a_session_does_not_have_says_so(site: Site, rest: str) -> None:
    sid = site.start()
    answer = site.get(f"/s/{sid}{rest}")
    assert answer.status == 404
    assert "There is no" in answer.text
    assert "/" in answer.read.links


@pytest.mark.parametrize(
    ("path", "typed"),
    [
        ("/s/01ARZ3NDEKTSV4RRFFQ69G5FAV/form/job", {"eid": "01ARZ3NDEKTSV4RRFFQ69G5FAW"}),
        ("/s/SID/form/job", {}),
        ("/s/SID/step/job", {"eid": "01ARZ3NDEKTSV4RRFFQ69G5FAW"}),
        ("/s/SID/form/nowhere", {"eid": "01ARZ3NDEKTSV4RRFFQ69G5FAW"}),
    ],
)
def test_a_form_sent_where_there_is_none_is_refused(
    site: Site, path: str, typed: dict[str, str]
) -> None:
    sid = site.start()
    before = site.events(sid)
    answer = site.post(path.replace("SID", sid), typed)
    assert answer.status == 404
    assert "/" in answer.read.links
    assert site.events(sid) == before


def test_a_search_beyond_reason_is_answered(site: Site) -> None:
    answer = site.get("/office?q=" + "x" * 300)
    assert answer.status < 500
    assert "Lowside" in answer.response.text


def test_a_session_under_a_made_up_name_is_not_started(site: Site) -> None:
    form = site.get("/").form("/start")
    answer = site.post("/start", form.values | {"sid": "../../elsewhere"})
    assert answer.status == 422
    assert "Start a session" in answer.response.text
