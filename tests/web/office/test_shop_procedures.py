"""A shop's own procedure: copied, edited, judged, kept whole, and never changed under a session."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from website import PROCEDURE, Page, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.hoses.procedure_edit import arranged, order_of, without
from lowside.procedures import SHIPPED
from lowside.procedures.shelf import _BEGINNING
from lowside.procedures.shop import (
    FOLDER,
    Revision,
    Shop,
    TakenError,
    first_revision,
    keep,
    load_shop,
    next_revision,
    with_revision,
    with_shop,
)
from lowside.store import durable
from lowside.store.postgres.store import PostgresStore
from lowside.store.sealed import sealed
from lowside.web.phone.handbook import phone_handbook
from lowside.web.phone.offline import Offline

LIST = "/office/procedures"
NAME = "Three-port, our way"
OURS = f"{LIST}/shop-three-port-our-way"


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    with open_site(place, handbook) as opened:
        yield opened


def copied(site: Site, name: str = NAME, source: str = PROCEDURE) -> Page:
    form = site.get(LIST).form("/copy")
    return site.post(form.action, {"source": source, "title": name})


def press(site: Site, shown: Page, act: str) -> Page:
    """Press a button of the order's form as this page shows it."""
    form = shown.form("/arrange")
    return site.post(form.action, {**form.values, "act": act})


def files(site: Site) -> list[str]:
    """Names of the revisions that are kept: in a folder, or in a database."""
    if isinstance(site.store, PostgresStore):
        names = site.store.papers.names(_BEGINNING)
        return sorted(name.removeprefix(_BEGINNING) for name in names)
    folder = site.store.root / FOLDER
    return sorted(path.stem for path in folder.iterdir()) if folder.exists() else []


def offered(site: Site) -> list[str]:
    """What the home page lets a technician choose, by value."""
    html = site.get("/").response.text
    part = html.split('<select id="procedure"')[1].split("</select>")[0]
    return [piece.split('"')[0] for piece in part.split('option value="')[1:]]


# Copy and edit


def test_a_copy_is_offered_on_the_home_page_and_on_phones_without_a_restart(site: Site) -> None:
    before = site.app.state.offline
    assert copied(site).response.headers["location"] == OURS
    # To be chosen, and nobody's default before somebody in the office says so.
    assert offered(site)[-1] == "shop-three-port-our-way-1"
    assert NAME in site.get("/").text
    assert len(offered(site)) == len(SHIPPED) + 1
    after: Offline = site.app.state.offline
    assert after is not before
    phone = json.loads(phone_handbook(site.desk.handbook))
    assert phone["procedures"][-1]["title"] == NAME
    assert "From “Three-port manifold, hand valves at the hose ends”, revision 1" in (
        site.get(LIST).text
    )


def test_words_are_edited_and_read_again_after_a_restart(
    place: Path | str, handbook: Handbook
) -> None:
    with open_site(place, handbook) as site:
        copied(site)
        form = site.get(f"{OURS}/step/caps").form("/step/caps")
        form.values["do"] = "Caps on.\nSoap on both cores."
        answer = site.post(form.action, form.values)
        assert answer.response.headers["location"] == OURS + "#step-caps"
        kept = site.desk.handbook.procedures["shop-three-port-our-way-2"]
    with open_site(place, handbook) as again:
        found = again.desk.handbook.procedures["shop-three-port-our-way-2"]
        assert found == kept
        step = next(step for step in found.steps if step.id == "caps")
        assert step.do == ("Caps on.", "Soap on both cores.")
        assert offered(again)[0] == "shop-three-port-our-way-2"
        assert "shop-three-port-our-way-1" not in offered(again)


def test_words_that_cannot_stand_are_refused_and_nothing_typed_is_lost(site: Site) -> None:
    copied(site)
    form = site.get(f"{OURS}/step/caps").form("/step/caps")
    typed = form.values | {"title": "", "do": "My own line", "why": "My reason"}
    answer = site.post(form.action, typed)
    assert answer.status == 422
    assert answer.problem("title") == "Needed. Type a few words."
    again = answer.form("/step/caps").values
    assert again["do"].strip() == "My own line"
    assert again["why"].strip() == "My reason"
    assert files(site) == ["shop-three-port-our-way-1"]


def test_the_page_of_a_step_says_what_it_turns(site: Site) -> None:
    copied(site)
    assert "yellow hose-end valve: closed" in site.get(f"{OURS}/step/clear_hoses").text
    assert "This step turns no valve." in site.get(f"{OURS}/step/caps").text


def test_the_page_of_a_step_says_where_its_words_come_from(site: Site) -> None:
    copied(site)
    assert "no published figure was found" in site.get(f"{OURS}/step/connect").text
    assert "common practice, no source" in site.get(f"{OURS}/step/baseline").text
    assert "Where the shipped words" not in site.get(f"{OURS}/step/liquid").text


def test_a_dangerous_order_is_refused_beside_its_step_and_the_order_is_kept(site: Site) -> None:
    copied(site)
    shown = press(site, site.get(OURS), "out:clear_high")
    assert shown.status == 200
    assert "It cannot be saved like this" in shown.text
    answer = press(site, shown, "save")
    assert answer.status == 422
    assert "Not saved: it could hurt someone" in answer.problem("")
    at = answer.response.text.split('id="step-disconnect"')[1].split("</li>")[0]
    assert "Liquid sprays out at the red nut on the liquid port." in at
    assert "finding-stop" in at
    assert "clear_high" not in answer.form("/arrange").values["order"].split()
    assert files(site) == ["shop-three-port-our-way-1"]
    assert offered(site)[-1] == "shop-three-port-our-way-1"
    back = press(site, answer, "back:clear_high")
    assert "clear_high" in back.form("/arrange").values["order"].split()


def test_a_poor_order_is_saved_with_its_warning(site: Site) -> None:
    copied(site)
    shown = press(site, site.get(OURS), "out:clear_hoses")
    assert "It can be saved. Look at the marked steps first." in shown.text
    assert press(site, shown, "save").status == 303
    saved = site.get(OURS)
    assert "Saved, with a warning." in saved.text
    at = saved.response.text.split('id="step-disconnect"')[1].split("</li>")[0]
    assert "1.1 g more of R-410A go into the air" in at
    assert "clear_hoses" not in order_of(site.desk.handbook.procedures["shop-three-port-our-way-2"])


def test_a_harmless_order_passes_through_a_dangerous_one(site: Site) -> None:
    """Two moves. The first one alone would be refused."""
    copied(site)
    shown = press(site, site.get(OURS), "down:decide")
    assert "cannot be saved" in shown.text
    shown = press(site, shown, "down:caps")
    shown = press(site, shown, "up:decide")
    assert "The hose model finds nothing wrong" in shown.text
    assert press(site, shown, "save").status == 303


def test_an_earlier_revision_comes_back_as_the_newest(site: Site) -> None:
    copied(site)
    press(site, press(site, site.get(OURS), "out:clear_hoses"), "save")
    form = site.get(OURS).form("/restore")
    assert form.values["revision"] == "1"
    assert site.post(form.action, form.values).status == 303
    third = site.desk.handbook.procedures["shop-three-port-our-way-3"]
    assert "clear_hoses" in order_of(third)
    assert offered(site)[0] == third.id


def test_it_is_renamed_and_no_longer_offered_and_offered_again(site: Site) -> None:
    copied(site)
    form = site.get(OURS).form("/name")
    assert site.post(form.action, form.values | {"title": "Mill Lane way"}).status == 303
    assert "Mill Lane way" in site.get("/").text
    form = site.get(OURS).form("/offer")
    assert site.post(form.action, form.values).status == 303
    assert offered(site) == [one for one in offered(site) if not one.startswith("shop-")]
    assert "Not offered." in site.get(OURS).text
    form = site.get(OURS).form("/offer")
    assert site.post(form.action, form.values).status == 303
    assert offered(site)[0] == "shop-three-port-our-way-4"


def test_two_people_saving_at_once_do_not_undo_each_other(site: Site) -> None:
    copied(site)
    first = site.get(f"{OURS}/step/caps").form("/step/caps")
    second = site.get(f"{OURS}/step/caps").form("/step/caps")
    order = press(site, site.get(OURS), "out:clear_hoses")
    assert site.post(first.action, first.values | {"why": "One."}).status == 303
    late = site.post(second.action, second.values | {"why": "Two."})
    assert late.status == 409
    assert "Somebody else saved this procedure." in late.problem("")
    assert late.form("/step/caps").values["why"].strip() == "Two."
    stale = press(site, order, "save")
    assert stale.status == 409
    assert "clear_hoses" not in stale.form("/arrange").values["order"].split()
    assert len(files(site)) == 2
    assert press(site, stale, "save").status == 303


@pytest.mark.parametrize("name", ["", "  ", "x" * 81, NAME])
def test_a_copy_needs_a_name_of_its_own(site: Site, name: str) -> None:
    copied(site)
    answer = copied(site, name)
    assert answer.status == 422
    assert answer.problem("") != ""
    assert answer.form("/copy").values["title"] == name
    assert len(files(site)) == 1


def test_a_copy_of_a_copy_is_judged_by_the_shipped_one(site: Site) -> None:
    copied(site)
    press(site, press(site, site.get(OURS), "out:clear_hoses"), "save")
    copied(site, "Second", "shop-three-port-our-way-2")
    page = site.get(f"{LIST}/shop-second")
    assert "From “Three-port manifold, hand valves" in page.text
    assert "Clear the yellow hose to suction” is left out" in page.text


@pytest.mark.parametrize(
    ("path", "typed"),
    [
        ("/copy", {"source": "nobody", "title": "A"}),
        ("/shop-nobody/arrange", {"act": "save", "order": "job"}),
        ("/shop-three-port-our-way/arrange", {"act": "save", "order": ""}),
        ("/shop-three-port-our-way/arrange", {"act": "save", "order": "job job"}),
        ("/shop-three-port-our-way/arrange", {"act": "save", "order": "job", "base": "1"}),
        ("/shop-three-port-our-way/restore", {"revision": "9", "base": "1"}),
        ("/shop-three-port-our-way/restore", {}),
        ("/shop-three-port-our-way/step/nobody", {"base": "1"}),
        ("/shop-three-port-our-way/name", {"title": "A", "base": "²"}),
        ("/shop-three-port-our-way/offer", {}),
        ("/..%2F..%2Fdevice/name", {"title": "A", "base": "1"}),
    ],
)
def test_made_up_requests_save_nothing(site: Site, path: str, typed: dict[str, str]) -> None:
    copied(site)
    assert 400 <= site.post(LIST + path, typed).status < 500
    assert files(site) == ["shop-three-port-our-way-1"]


def test_a_form_of_another_site_saves_nothing(site: Site) -> None:
    foreign = {"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "cross-site"}
    answer = site.post(LIST + "/copy", {"source": PROCEDURE, "title": "A"}, foreign)
    assert answer.status == 403
    assert files(site) == []


def test_what_is_typed_is_shown_as_text_everywhere(site: Site) -> None:
    evil = "\"><script>alert(1)</script>'<img src=x onerror=alert(2)>"
    copied(site, evil)
    family = next(iter(site.app.state.workshop.shop.families))
    form = site.get(f"{LIST}/{family}/step/job").form("/step/job")
    for field in ("title", "do", "why", "done_when"):
        form.values[field] = evil
    assert site.post(form.action, form.values).status == 303
    sid = "0000000000000000000000000A"
    start = site.get("/").form("/start").values
    sid = start["sid"]
    assert site.post("/start", start | {"procedure": f"{family}-2"}).status == 303
    for path in ("/", LIST, f"{LIST}/{family}", f"{LIST}/{family}/step/job", f"/s/{sid}"):
        html = site.get(path).response.text
        assert "alert(1)" in html, path
        assert "<script>alert" not in html
        assert "<img" not in html


# Sessions


def test_a_running_session_keeps_the_revision_it_began_with(site: Site) -> None:
    copied(site)
    form = site.get("/").form("/start")
    assert form.values["procedure"] == PROCEDURE
    site.post("/start", form.values | {"procedure": "shop-three-port-our-way-1"})
    sid = form.values["sid"]
    words = site.get(f"{OURS}/step/job").form("/step/job")
    site.post(words.action, words.values | {"title": "Where on earth"})
    press(site, press(site, site.get(OURS), "out:clear_hoses"), "save")
    assert site.state(sid).procedure == "shop-three-port-our-way-1"
    assert "Job and site" in site.get(f"/s/{sid}/step/job").text
    assert site.get(f"/s/{sid}/step/clear_hoses").status == 200
    assert offered(site)[0] == "shop-three-port-our-way-3"
    new = site.get("/").form("/start")
    site.post("/start", new.values)
    other = new.values["sid"]
    assert "Where on earth" in site.get(f"/s/{other}/step/job").text
    assert site.get(f"/s/{other}/step/clear_hoses").status == 404


# On disk


def own(handbook: Handbook) -> Revision:
    return first_revision(Shop(), handbook.procedures[PROCEDURE], PROCEDURE, "Ours")


def test_a_revision_is_read_back_as_it_was_kept(tmp_path: Path, handbook: Handbook) -> None:
    made = [
        first_revision(Shop(), source, source.id, "Ö " + source.title)
        for source in handbook.procedures.values()
    ]
    for one in made:
        keep(tmp_path, one)
    assert load_shop(tmp_path, handbook).families == {one.family: (one,) for one in made}


def test_names_of_files_are_plain_and_never_shared(tmp_path: Path, handbook: Handbook) -> None:
    shop = Shop()
    seen = []
    for title in ("../../etc", "../../etc", "çα", "", "A" * 99, "shop 2", "shop"):
        made = first_revision(shop, handbook.procedures[PROCEDURE], PROCEDURE, title)
        keep(tmp_path, made)
        shop = with_revision(shop, made)
        seen.append(made.family)
    assert seen[:4] == ["shop-etc", "shop-etc-2", "shop-own", "shop-own-2"]
    assert len(set(seen)) == 7
    assert len(list(tmp_path.iterdir())) == 7
    assert all(len(name) < 50 for name in seen)


def test_no_revision_is_ever_replaced(tmp_path: Path, handbook: Handbook) -> None:
    made = own(handbook)
    keep(tmp_path, made)
    before = (tmp_path / "shop-ours-1.json").read_bytes()
    other = replace(made, procedure=replace(made.procedure, title="Other"))
    with pytest.raises(TakenError):
        keep(tmp_path, other)
    assert (tmp_path / "shop-ours-1.json").read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["shop-ours-1.json"]


@pytest.mark.parametrize("place", ["files"], indirect=True)
def test_a_full_disk_leaves_everything_as_it_was(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    copied(site)

    def full(_file: int) -> None:
        raise OSError(28, "No space left on device")

    shown = press(site, site.get(OURS), "out:clear_hoses")
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        answer = press(site, shown, "save")
    assert answer.status == 503
    assert "No space left on device" in answer.text
    assert files(site) == ["shop-three-port-our-way-1"]
    assert offered(site)[-1] == "shop-three-port-our-way-1"
    assert press(site, shown, "save").status == 303


KILLED = """
import os, signal, sys
from pathlib import Path
from dataclasses import replace
from lowside.core.handbook.procedure_file import procedure_from
from lowside.procedures import load_procedures
from lowside.procedures.shop import Shop, first_revision, keep
procedures = load_procedures()
made = first_revision(Shop(), procedures["{name}"], "{name}", "Ours")
real = os.{call}
def killed(*args, **kwargs):
    if {after}:
        real(*args, **kwargs)
    os.kill(os.getpid(), signal.SIGKILL)
os.{call} = killed
keep(Path(sys.argv[1]), made)
"""


@pytest.mark.parametrize(
    ("call", "after", "there"),
    [("fsync", False, False), ("link", False, False), ("link", True, True)],
)
def test_a_kill_at_any_moment_leaves_a_whole_file_or_none(
    tmp_path: Path, handbook: Handbook, call: str, after: bool, there: bool
) -> None:
    (tmp_path / "p").mkdir()
    script = KILLED.format(name=PROCEDURE, call=call, after=after)
    run = subprocess.run([sys.executable, "-c", script, str(tmp_path / "p")], check=False)
    assert run.returncode == -signal.SIGKILL
    shop = load_shop(tmp_path / "p", handbook)
    assert shop.problems == ()
    assert list(shop.families) == (["shop-ours"] if there else [])
    if not there:
        keep(tmp_path / "p", own(handbook))
        assert load_shop(tmp_path / "p", handbook).families["shop-ours"] == (own(handbook),)


def test_the_directory_is_on_the_disk_before_a_save_returns(
    tmp_path: Path, handbook: Handbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[Path] = []
    monkeypatch.setattr(durable, "sync_directory", synced.append)
    keep(tmp_path / "new", own(handbook))
    assert synced == [tmp_path, tmp_path / "new"]


def spoil(path: Path, **fields: object) -> None:
    data = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps(sealed({**data, **fields})), encoding="utf-8")


def test_a_file_whose_text_was_changed_is_not_offered(tmp_path: Path, handbook: Handbook) -> None:
    keep(tmp_path, own(handbook))
    path = tmp_path / "shop-ours-1.json"
    text = path.read_text(encoding="utf-8")
    assert "15 minutes" in text
    path.write_text(text.replace("15 minutes", "14 minutes", 1), encoding="utf-8")
    shop = load_shop(tmp_path, handbook)
    assert shop.families == {}
    assert "checksum" in shop.problems[0]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"steps": []}, "“steps” is empty"),
        ({"family": "ours"}, "“family”"),
        ({"revision": 0}, "“revision”"),
        ({"revision": True}, "“revision”"),
        ({"revision": 2}, "“id”"),
        ({"shipped": "nobody"}, "“shipped”"),
        ({"shipped": "plain-three-port"}, "hoses and valves"),
        ({"offered": "yes"}, "“offered”"),
        ({"title": ""}, "“title”"),
    ],
)
def test_a_file_that_is_not_right_is_named_and_left_aside(
    tmp_path: Path, handbook: Handbook, fields: dict[str, object], sentence: str
) -> None:
    keep(tmp_path, own(handbook))
    spoil(tmp_path / "shop-ours-1.json", **fields)
    shop = load_shop(tmp_path, handbook)
    assert shop.families == {}
    assert len(shop.problems) == 1
    assert "shop-ours-1.json" in shop.problems[0]
    assert sentence in shop.problems[0]
    assert with_shop(handbook, shop).procedures == handbook.procedures


def test_a_broken_file_stops_neither_the_server_nor_the_next_save(
    tmp_path: Path, handbook: Handbook
) -> None:
    folder = tmp_path / "data" / FOLDER
    first = own(handbook)
    keep(folder, first)
    (folder / "shop-ours-2.json").write_text('{"id": "shop-ours-2", "ti', encoding="utf-8")
    with open_site(tmp_path / "data", handbook) as site:
        assert "shop-ours-2.json is left aside: not JSON, line 1" in site.get(LIST).text
        assert offered(site)[-1] == "shop-ours-1"
        press(site, press(site, site.get(f"{LIST}/shop-ours"), "out:clear_hoses"), "save")
        assert offered(site)[0] == "shop-ours-3"


def test_a_file_edited_by_hand_into_danger_is_not_offered_but_its_sessions_go_on(
    tmp_path: Path, handbook: Handbook
) -> None:
    folder = tmp_path / "data" / FOLDER
    first = own(handbook)
    shipped = handbook.procedures[PROCEDURE]
    order = without(order_of(shipped), "clear_high")
    made = arranged(first.procedure, order, shipped)
    assert made is not None
    keep(folder, replace(first, procedure=made))
    with open_site(tmp_path / "data", handbook) as site:
        assert "shop-ours-1" not in offered(site)
        assert "“Ours” is not offered any more: Liquid sprays out" in site.get(LIST).text
        assert site.desk.handbook.procedures["shop-ours-1"].retired
        page = site.get(f"{LIST}/shop-ours")
        assert "Do not work by this procedure." in page.text
        form = page.form("/offer")
        assert site.post(form.action, form.values).status == 422
        words = site.get(f"{LIST}/shop-ours/step/caps").form("/step/caps")
        assert site.post(words.action, words.values).status == 422
        assert files(site) == ["shop-ours-1"]


def test_only_the_newest_of_a_family_is_offered(tmp_path: Path, handbook: Handbook) -> None:
    shop = Shop()
    made = own(handbook)
    for _ in range(11):
        keep(tmp_path, made)
        shop = with_revision(shop, made)
        made = next_revision(shop, made, made.procedure)
    found = with_shop(handbook, load_shop(tmp_path, handbook)).procedures
    assert [p.id for p in found.values() if p.id.startswith("shop-") and not p.retired] == [
        "shop-ours-11"
    ]
    assert len(found) == len(handbook.procedures) + 11
