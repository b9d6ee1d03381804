"""The script phones run: joined from readable modules, and the same numbers to the last bit."""

import json
import shutil
import subprocess
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from twin import Node, running_node
from website import Site, open_site

from lowside.web.app import SECURITY_HEADERS
from lowside.web.phone.handbook import phone_handbook
from lowside.web.phone.offline import PRECACHED, packed_handbook, worker_script
from lowside.web.phone.packed_numbers import packed
from lowside.web.phone.worker_bundle import BundleError, bundle, in_ascii

if TYPE_CHECKING:
    from lowside.core.handbook.handbook import Handbook

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def node() -> Iterator[Node]:
    with running_node() as node:
        node.load("unpacked", ROOT / "tests" / "js" / "unpacked.mjs")
        yield node


def bundled(folder: Path, **texts: str) -> str:
    for name, text in texts.items():
        (folder / f"{name}.js").write_text(text, "utf-8")
    return bundle(folder, {"main": folder / "main.js"}, {"made": "export const word = 'made';\n"})


def run(script: str) -> str:
    program = shutil.which("node")
    assert program is not None, "there is no Node on the PATH"
    done = subprocess.run(
        [program, "-"], input=script, capture_output=True, text=True, check=True, encoding="utf-8"
    )
    return done.stdout.strip()


def test_modules_run_as_one_script_in_the_order_they_need_each_other(tmp_path: Path) -> None:
    script = bundled(
        tmp_path,
        main='import {\n  low,\n  high as top,\n} from "./b.js";\nimport * as c from "./c.js";\n'
        "// a comment\nexport function all() {\n  return [low, top(), c.NAME, c.Thing.name];\n}\n",
        b='import { NAME } from "./c.js";\nexport const low = "low " + NAME;\n'
        "/** A function.\n * @returns {string} */\nexport function high() {\n  return `t${low}`;\n"
        "}\n",
        c='const NAME = "c";\nexport class Thing {}\nexport { NAME };\n',
    )
    assert (
        run(f"{script}\nconsole.log(main.all().join(), made.word);") == "low c,tlow c,c,Thing made"
    )
    assert "comment" not in script
    assert "@returns" not in script


def test_a_script_in_ascii_says_the_same() -> None:
    text = "“é” 5 °C → \\n"
    script = f"const quote = /[“”]/g; console.log(`{text}`.replace(quote, '’'))"
    assert in_ascii(script).isascii()
    assert run(in_ascii(script).decode()) == run(script) == "’é’ 5 °C →"
    with pytest.raises(BundleError, match="🔧"):
        in_ascii("'🔧'")


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('\nimport x from "./b.js";\n', 2),
        ('\n\nimport { fs } from "fs";\n', 3),
        ("const a = 1;\nexport default a;\n", 2),
        ("export let counter = 0;\n", 1),
        ('export * from "./b.js";\n', 1),
        ("const a = `two\nlines`;\n", 1),
        ('import { a } from "./main.js";\n', 1),
    ],
)
def test_what_the_bundler_does_not_know_is_an_error_with_its_line(
    tmp_path: Path, text: str, line: int
) -> None:
    with pytest.raises(BundleError, match=rf"^main\.js:{line}: "):
        bundled(tmp_path, main=text, b="export const b = 1;\n")


NUMBERS = st.one_of(
    st.integers(-(2**53), 2**53),
    st.floats(-1e18, 1e18, allow_nan=False),
    st.decimals(-100000, 100000, allow_nan=False, places=4).map(float),
)


@settings(max_examples=200)
@given(st.lists(st.lists(NUMBERS, min_size=6, max_size=40), max_size=5))
def test_packed_lists_come_out_as_the_same_doubles(node: Node, lists: list[list[float]]) -> None:
    text = json.dumps({"lists": lists, "name": "text"})
    short = packed(json.loads(text, parse_float=Decimal))
    got = node.ask("unpacked", {"text": json.dumps(short)})
    assert got == [[float(number).hex() for number in numbers] for numbers in lists]


def test_the_handbook_on_the_phone_is_the_servers(node: Node, handbook: "Handbook") -> None:
    whole = phone_handbook(handbook).decode()
    short = packed_handbook(handbook)
    assert node.ask("unpacked", {"same": [whole, short]}) is True
    assert node.ask("unpacked", {"same": [whole, short.replace("1", "2", 1)]}) is False


@pytest.fixture
def site(tmp_path: Path, handbook: "Handbook") -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as site:
        yield site


def test_the_worker_is_served_from_the_root_unless_switched_off(site: Site) -> None:
    offline = site.app.state.offline
    offline.enabled = False
    assert site.send("GET", "/sw.js").status_code == 404
    offline.enabled = True
    answer = site.send("GET", "/sw.js")
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers["cache-control"] == "no-store"
    assert answer.content == offline.worker.script
    plain = site.send("GET", "/sw.js", headers={"Accept-Encoding": "identity"})
    assert plain.content == offline.worker.script


def test_the_version_changes_with_the_content_and_only_with_it(handbook: "Handbook") -> None:
    worker = worker_script(handbook, SECURITY_HEADERS)
    assert worker == worker_script(handbook, SECURITY_HEADERS)
    assert worker.script.isascii()
    assert worker.version != worker_script(handbook, {"X-Other": "1"}).version


def test_everything_precached_and_every_icon_is_served(site: Site) -> None:
    manifest = site.send("GET", "/manifest.webmanifest")
    assert manifest.headers["content-type"].startswith("application/manifest+json")
    icons = [icon["src"] for icon in manifest.json()["icons"]]
    for url in (*PRECACHED, *icons):
        assert site.send("GET", url).status_code == 200, url
    page = site.send("GET", "/").text
    for url in PRECACHED:
        assert url in page


@pytest.mark.parametrize("project", ["tsconfig.worker.json", "tsconfig.page.json"])
def test_types_of_the_worker_and_the_pages_scripts_hold(project: str) -> None:
    compiler = ROOT / "tests" / "js" / "node_modules" / "typescript" / "bin" / "tsc"
    assert compiler.exists(), "run `npm ci` in tests/js, or `make test`"
    command = ["node", str(compiler), "--project", str(ROOT / "tests" / "js" / project)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
