"""Takes a picture of every state of every page, and sheets of many pictures to look through.

`.venv/bin/python scripts/states.py [--only WORD] [--looks NAME,…]`, with the venv’s Python.
Pictures go to `screenshots/LOOK/`, sheets to `screenshots/sheets/` (not with `--only`). What is out
of sight or too wide is printed.
"""

import argparse
import base64
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from pictures import FLAGS, URL, chromium_program, wait_until_up
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

sys.path.append(str(Path(__file__).parents[1] / "tests" / "support"))

from lesson_read import read_in_lesson

from lowside.demo import Move, Scenario, play, put_demo_sessions, scenarios
from lowside.library import load_handbook
from lowside.outlining import outline
from lowside.procedures import load_procedures
from lowside.store import Store

PORT = URL.rpartition(":")[2]
SHOTS = Path(__file__).parents[1] / "screenshots"
TALLEST_PX = 9000
"""Longer pages are in several pictures."""
OPEN = "gym-unit-r410a-open"
KNOWN = "roof-unit-r410a"
"""A unit that is visited again."""
LONG = {
    "site": "Saint Bartholomew Consolidated Elementary School, Northwest Annex, Building 14-B",
    "unit_label": "RTU-0017-NORTHEAST-MECHANICAL-PENTHOUSE-STAGE-2",
    "technician": "Maximiliana Featherstonehaugh-Wolfeschlegelstein",
}


@dataclass(frozen=True)
class Look:
    """A way to look at a page."""

    name: str
    width: int
    height: int
    dark: bool = False
    text: int = 100
    """Size of text [percent]."""


LOOKS = (
    Look("320", 320, 568),
    Look("360", 360, 740),
    Look("360-dark", 360, 740, dark=True),
    Look("360-text200", 360, 740, text=200),
    Look("320-text200", 320, 568, text=200),
    Look("740", 740, 900),
    Look("desktop", 1280, 800),
    Look("desktop-dark", 1280, 800, dark=True),
)

ADD = Move(5, "decide", "decide", {"decision": "add"})
SHOT = Move(5, "shot_open", "", {})
FED = {
    **{"suction_pressure": "125", "suction_pressure_unit": "psig"},
    **{"liquid_pressure": "338", "liquid_pressure_unit": "psig"},
    **{"liquid_line": "98", "liquid_line_unit": "°F"},
    **{"outdoor_dry_bulb": "91", "outdoor_dry_bulb_unit": "°F"},
    **{"return_dry_bulb": "78", "return_dry_bulb_unit": "°F"},
    "suction_line_unit": "°F",
}
"""A reading of the open demo session after its first shot, but for the suction line."""
ICED = {**FED, "suction_pressure": "100", "suction_line": "36"}
"""The same with a coil at freezing."""
ENDINGS: dict[str, tuple[Move, ...]] = {
    "decided": (ADD,),
    "valve open": (ADD, SHOT),
    "weigh": (ADD, SHOT, Move(9, "shot_close", "", {})),
    "between openings": (
        ADD,
        SHOT,
        Move(20, "shot_close", "", {}),
        Move(150, "shot_weigh", "", {"scale_after": "26 lb 5.5 oz", "scale_after_unit": "lb oz"}),
    ),
    "drier asked": (ADD, Move(60, "reading", "", {**FED, "suction_line": "63"})),
    "drier colder": (
        ADD,
        Move(60, "reading", "", {**FED, "suction_line": "57", "drier": "colder"}),
    ),
    "stopped": (ADD, Move(5, "system_stopped", "", {})),
    "refused": (Move(60, "reading", "", ICED),),
}
"""How copies of the open demo session go on."""

PLACE_BAR = """position => {
    for (const bar of document.querySelectorAll("footer.thumb, .strip, .thumb, .start")) {
        bar.style.position = position;
    }
}"""

MEASURE = """() => {
    // An alert goes before everything: the page is measured as it is without one.
    for (const one of document.querySelectorAll(".alert, .ahead")) one.hidden = true;
    // Nor is a phone at work without its offline copy.
    const link = document.getElementById("link");
    if (link !== null) {
        link.className = "link link-quiet";
        link.textContent = "All sent";
    }
    const bar = document.querySelector("footer.thumb");
    const boxes = "main form.entry :is(input:not([type=hidden]), select, textarea), button.slip";
    const first = [...document.querySelectorAll(boxes)].find(e => e.getClientRects().length);
    const told = [];
    const top = bar === null || getComputedStyle(bar).position !== "sticky"
        ? innerHeight : bar.getBoundingClientRect().top;
    const usual = parseFloat(getComputedStyle(document.documentElement).fontSize) < 20;
    const end = first === undefined ? 0 : first.matches("button")
        ? first.getBoundingClientRect().top + 48 : first.getBoundingClientRect().bottom;
    // The decision is in the bar, and a shot needs no weight before it.
    const acts = "footer.thumb button:is([name=decision], [form=shot-form])";
    const aside = document.querySelector(acts);
    if (usual && aside === null && end > top) {
        told.push(`${first.name || "answer"} ends at ${Math.round(end)}`
            + `, in sight until ${Math.round(top)}`);
    }
    const line = document.querySelector("main :is(.do li, .next h2, .next-how):not(details *)");
    if (usual && line !== null && line.getBoundingClientRect().bottom > top) {
        told.push(`the instruction ends at ${Math.round(line.getBoundingClientRect().bottom)}`);
    }
    if (bar !== null && getComputedStyle(bar).position === "sticky"
        && bar.offsetHeight > innerHeight / 3) {
        told.push(`the bar takes ${Math.round(100 * bar.offsetHeight / innerHeight)} %`);
    }
    const wide = document.documentElement.scrollWidth;
    if (wide > innerWidth) told.push(`${wide} px wide`);
    return told;
}"""


def main() -> None:
    """Serve demo sessions in many states and take the pictures that were asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="states with this word in their name")
    parser.add_argument("--looks", default="", help=", ".join(one.name for one in LOOKS))
    asked = parser.parse_args()
    wanted = asked.looks.split(",") if asked.looks else [one.name for one in LOOKS]
    with tempfile.TemporaryDirectory() as data:
        kept = put_states(Path(data))
        with tempfile.TemporaryDirectory() as none, sync_playwright() as playwright:
            path = chromium_program()
            browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
            for folder, name, states in ((data, "", kept), (none, "empty ", {})):
                with served(folder):
                    paths = full_paths(browser, states) if states else EMPTY
                    chosen = {n: p for n, p in paths.items() if asked.only in name + n}
                    for look in LOOKS:
                        if look.name in wanted and chosen:
                            take(browser, look, name, chosen)
            for look in wanted if asked.only == "" else ():
                sheets(browser, look)
            browser.close()


class served:  # noqa: N801 - read as `with served(folder)`
    """A server on a folder, while it lasts."""

    def __init__(self, folder: str) -> None:
        self.folder = folder

    def __enter__(self) -> None:
        command = [sys.executable, "-m", "lowside", "serve", "--no-qr", "--no-offline"]
        self.server = subprocess.Popen([*command, "--port", PORT, "--data", self.folder])
        wait_until_up()

    def __exit__(self, *_: object) -> None:
        self.server.terminate()
        self.server.wait()


def put_states(data: Path) -> dict[str, str]:
    """Write the demo sessions and copies of the open one in each state; name -> session."""
    put_demo_sessions(data)
    store = Store.open(data, outline)
    handbook = load_handbook()
    sids = {}
    try:
        opened = store.sessions(limit=10, open_only=True)[0]
        sids["open"] = opened.sid
        sids["closed"] = store.sessions(limit=10, closed_only=True)[0].sid
        scenario = next(one for one in scenarios() if one.name == OPEN)
        for number, (name, moves) in enumerate(endings(scenario).items(), start=1):
            lasted = timedelta(seconds=sum(move.after_s for move in moves) + number)
            start = datetime.now(scenario.start.tzinfo).replace(microsecond=0) - lasted
            events = play(replace(scenario, start=start, moves=moves), handbook)
            store.append(events)
            sids[name] = events[0].sid
        again = next(one for one in scenarios() if one.name == KNOWN)
        for name, step, ago_min in (("known", "baseline", 50), ("unweighed", "start_weight", 80)):
            moves = again.moves[: [one.step for one in again.moves].index(step)]
            if name == "unweighed":  # its cylinder is known, its unit is not
                moves = tuple(
                    replace(one, typed={**one.typed, "unit_label": "AC-3 roof east"})
                    if one.form == "job"
                    else one
                    for one in moves
                )
            start = datetime.now(again.start.tzinfo).replace(microsecond=0)
            start -= timedelta(minutes=ago_min)
            events = play(replace(again, start=start, moves=moves), handbook)
            store.append(events)
            sids[name] = events[0].sid
    finally:
        store.close()
    return sids


def endings(scenario: Scenario) -> dict[str, tuple[Move, ...]]:
    """The moves of each state."""
    found = {name: scenario.moves + more for name, more in ENDINGS.items()}
    found["begun"] = ()
    found["long names"] = tuple(
        replace(one, typed={**one.typed, **LONG}) if one.form == "job" else one
        for one in scenario.moves
    )
    return found


EMPTY = {
    "home": "/",
    "practice": "/practice",
    "nothing there": "/nowhere",
    "office": "/office",
    "office units": "/office/units",
    "office month": "/office/month",
    "office cylinders": "/office/cylinders",
    "office set aside": "/office/set-aside",
    "office procedures": "/office/procedures",
    "office people": "/office/people",
}


def full_paths(browser: Browser, sids: dict[str, str]) -> dict[str, str]:
    """Every state's name and path. `WRONG` in front: a form is filled in wrongly there. `ALIKE`:
    each box gets what the last visit's reading said."""
    base = "/s/" + sids["open"]
    procedure = load_procedures()["hand-valved-three-port"]
    found = dict(EMPTY)
    for step in (*procedure.steps, *procedure.off_steps, *procedure.walk_steps):
        found[f"step {step.id}"] = f"{base}/step/{step.id}"
    for step_id in ("job", "unit", "target", "cylinder", "start_weight", "tare", "baseline"):
        found[f"begun {step_id}"] = f"/s/{sids['begun']}/step/{step_id}"
    for step_id in ("job", "cylinder", "end_weight"):
        found[f"wrong {step_id}"] = f"WRONG /s/{sids['begun']}/step/{step_id}"
    for name, how in (("known baseline", ""), ("known alike", "ALIKE ")):
        found[name] = f"{how}/s/{sids['known']}/step/baseline"
    found["known start_weight"] = f"/s/{sids['unweighed']}/step/start_weight"
    for name in ("reading", "note", "units"):
        found[f"form {name}"] = f"{base}/form/{name}"
    for name in (*ENDINGS, "long names"):
        found[name] = f"/s/{sids[name]}/step/shots"
    found["timeline"] = base + "/timeline"
    found["ticket open"] = base + "/ticket"
    found["ticket closed"] = f"/s/{sids['closed']}/ticket"
    found["ticket long names"] = f"/s/{sids['long names']}/ticket"
    found["hoses purge_low"] = base + "/hoses/purge_low"
    found["device"] = "/device"
    found["trust"] = "/trust"
    office = "/office/session/" + sids["closed"]
    found |= {"office session": office, "office record": office + "/record"}
    found["office session open"] = "/office/session/" + sids["open"]
    found["office session long names"] = "/office/session/" + sids["long names"]
    found |= {"office rules": "/office/rules", "office new cylinder": "/office/cylinder/new"}
    with_links = browser.new_page(base_url=URL)
    for name, start, link in (
        ("office unit", "/office/units", 'main a[href*="/office/unit?"]'),
        ("office cylinder", "/office/cylinders", 'main a[href*="/office/cylinder?"]'),
        ("office procedure", "/office/procedures", 'main a[href^="/office/procedures/"]'),
        ("amend", base + "/timeline", 'a[href*="/amend/"]'),
    ):
        with_links.goto(start)
        href = with_links.locator(link).first
        if href.count():
            found[name] = str(href.get_attribute("href"))
    found |= practice_paths(with_links)
    with_links.close()
    return found


def begun_lesson(page: Page, lesson: str) -> str:
    """Begin a lesson; its session."""
    page.goto("/practice")
    page.locator(f'input[name="lesson"][value="{lesson}"]').check()
    page.get_by_role("button", name="Start the lesson").click()
    page.wait_for_url("**/practice/s/**")
    return page.url.rpartition("/")[2]


def practice_paths(page: Page) -> dict[str, str]:
    """Lessons that have begun: three at their start, one with a reading and no guess."""
    sid = begun_lesson(page, "first-shots")
    steps = ("job", "unit", "purge_low", "baseline", "decide", "shots")
    base = f"/practice/s/{sid}/step/"
    found = {f"practice {step}": base + step for step in steps}
    for name, path in (
        ("call", "calls/K01"),
        ("call answered", "calls/K01?guess=stop"),
        ("hoses", "hoses/h05"),
        ("hoses answered", "hoses/h05?guess=nothing"),
        ("hoses in words", "hoses/h17"),
    ):
        found["practice " + name] = "/practice/" + path
    found["practice debrief"] = f"/practice/{sid}/debrief"
    found["practice instruments"] = f"/practice/{sid}/instruments"
    found["practice lessons"] = "/practice"
    for lesson in ("flat-coil", "behind-the-hedge"):
        found[f"practice {lesson}"] = f"/practice/s/{begun_lesson(page, lesson)}/step/unit"
    found["practice guess"] = read_in_lesson(page) + "/step/decide"
    return found


def opened(browser: Browser, look: Look) -> BrowserContext:
    phone = look.width < 600
    context = browser.new_context(
        base_url=URL,
        viewport={"width": look.width, "height": look.height},
        is_mobile=phone,
        has_touch=phone,
        color_scheme="dark" if look.dark else "light",
        service_workers="block",
    )
    context.set_default_timeout(10_000)
    return context


def take(browser: Browser, look: Look, prefix: str, paths: dict[str, str]) -> None:
    """A picture of each state, and what is wrong with it by its measures."""
    folder = SHOTS / look.name
    folder.mkdir(parents=True, exist_ok=True)
    context = opened(browser, look)
    page = context.new_page()
    for name, path in paths.items():
        how, _, address = path.rpartition(" ")
        page.goto(address)
        page.evaluate(f"document.documentElement.style.fontSize = '{look.text}%'")
        if how == "ALIKE":
            for key in page.locator("[data-stay]:visible").all():
                key.click()
            page.wait_for_timeout(1100)
        elif how == "WRONG":
            for box in page.locator('main form.entry input[inputmode="decimal"]:visible').all():
                box.fill("12,34,5x")
        if how:
            page.locator("footer.thumb .primary").first.click()
            page.locator(".problem").first.wait_for()
        page.wait_for_timeout(80)
        file = folder / f"{prefix}{name}.png".replace(" ", "-")
        page.screenshot(path=folder / ("fold-" + file.name))
        # On the whole page the bar would cover a part of it.
        page.evaluate(PLACE_BAR, "static")
        height = page.evaluate("document.documentElement.scrollHeight")
        for number, y in enumerate(range(0, height, TALLEST_PX), start=1):
            clip = {"x": 0, "y": y, "width": look.width, "height": min(height - y, TALLEST_PX)}
            more = file if number == 1 else file.with_stem(f"{file.stem}-more{number}")
            page.screenshot(path=more, full_page=True, clip=clip)  # type: ignore[arg-type]
        page.evaluate(PLACE_BAR, "")
        for told in page.evaluate(MEASURE):
            print(f"{look.name}: {prefix}{name}: {told}", flush=True)
    context.close()


def sheets(browser: Browser, look: str) -> None:
    """Several pictures on each sheet: first what is in sight, then whole pages."""
    folder = SHOTS / look
    out = SHOTS / "sheets"
    out.mkdir(parents=True, exist_ok=True)
    for kind, files in (
        ("fold", sorted(folder.glob("fold-*.png"))),
        ("page", sorted(one for one in folder.glob("*.png") if one.name[:5] != "fold-")),
    ):
        across = 3 if look.startswith("desktop") else 6
        count = across * (2 if kind == "fold" else 1)
        for number, some in enumerate(cut(files, count)):
            page = browser.new_page(viewport={"width": 380 * 6, "height": 400})
            page.set_content(sheet_html(some, across))
            page.screenshot(path=out / f"{look}-{kind}-{number:02}.png", full_page=True)
            page.close()


def cut(files: list[Path], count: int) -> Iterator[list[Path]]:
    for start in range(0, len(files), count):
        yield files[start : start + count]


def sheet_html(files: list[Path], across: int) -> str:
    each = "".join(
        f'<figure style="margin:4px;width:{96 / across:.1f}%"><figcaption>{file.stem}</figcaption>'
        f'<img style="width:100%;outline:1px solid #888" src="data:image/png;base64,'
        f'{base64.b64encode(file.read_bytes()).decode()}"></figure>'
        for file in files
    )
    style = "margin:4px;display:flex;flex-wrap:wrap;font:14px sans-serif"
    return f'<body style="{style}">{each}</body>'


if __name__ == "__main__":
    main()
