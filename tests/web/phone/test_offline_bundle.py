"""The script phones run: joined from readable modules, and the same numbers to the last bit."""

import hashlib
import json
import shutil
import subprocess
from collections.abc import Iterator
from decimal import Decimal
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from phone_core import Node, answering, running_node
from website import Site, open_site

from lowside.translate.kinds import TranslationError
from lowside.translate.phone import bundle, in_ascii, read_core, shortened
from lowside.web.app import SECURITY_HEADERS
from lowside.web.phone.handbook import phone_handbook
from lowside.web.phone.offline import PRECACHED, packed_handbook, worker_script
from lowside.web.phone.packed_numbers import LETTERS, ORDER, packed

if TYPE_CHECKING:
    from lowside.core.handbook.handbook import Handbook

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def node() -> Iterator[Node]:
    with running_node() as node:
        node.load("unpacked", answering("unpacked"))
        yield node


def program(folder: Path, **scripts: str) -> str:
    """The worker's script of a core of one module and these hand-written ones."""
    core = folder / "core"
    core.mkdir(parents=True)
    words = "def low() -> str:\n    return 'low'\n\n\ndef up() -> str:\n    return 'up'\n"
    (core / "words.py").write_text(words, "utf-8")
    for name, text in scripts.items():
        (folder / f"{name}.js").write_text(text, "utf-8")
    made = "function render() { return 'made'; }\nexport { render };\n"
    return bundle(read_core(core), folder, folder / "main.js", made)


def run(script: str) -> str:
    program = shutil.which("node")
    assert program is not None, "there is no Node on the PATH"
    done = subprocess.run(
        [program, "-"], input=script, capture_output=True, text=True, check=True, encoding="utf-8"
    )
    return done.stdout.strip()


def test_modules_run_as_one_script_in_the_order_they_need_each_other(tmp_path: Path) -> None:
    script = program(
        tmp_path,
        main='import { low } from "./core/words.js";\nimport {\n  top,\n  Thing,\n} from '
        '"./b.js";\n'
        "// a comment\nexport function all() {\n  return [low(), top(), Thing.name];\n}\n",
        b='import { NAME } from "./c.js";\nexport const word = "low " + NAME;\n'
        "/** A function.\n * @returns {string} */\nexport function top() {\n  return `t${word}`;\n"
        "}\nexport class Thing {}\n",
        c='export const NAME = "c";\n',
    )
    assert run(f"{script}\nconsole.log(all().join(), render());") == "low,tlow c,Thing made"
    assert "comment" not in script
    assert "@returns" not in script


def test_two_hand_written_modules_cannot_define_one_name(tmp_path: Path) -> None:
    script = program(
        tmp_path,
        main='import { a } from "./b.js";\nconst c = a;\n',
        b="export const a = 1, c = 2;\n",
    )
    with pytest.raises(subprocess.CalledProcessError):
        run(script)


def test_a_script_in_ascii_says_the_same() -> None:
    text = "“é” 5 °C → \\n"
    script = f"const quote = /[“”]/g; console.log(`{text}`.replace(quote, '’'))"
    assert in_ascii(script).isascii()
    assert run(in_ascii(script).decode()) == run(script) == "’é’ 5 °C →"
    with pytest.raises(TranslationError, match="🔧"):
        in_ascii("'🔧'")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('import { a as c } from "./b.js";', "as they are, without `as`"),
        ('import * as b from "./b.js";', 'write `import { names } from "./file.js";`'),
        ('import * as words from "./core/words.js";', "write `import { names }"),
        ('import "./b.js";', "write `import { names }"),
        ("import { a } from './b.js';", "write `import { names }"),
        ('import { low } from "./core/lost.js";', "no such module: import what the core defines"),
        ('import { lost } from "./core/words.js";', "core/words does not define `lost`"),
        ('import { lost } from "./core/python.js";', "core/python does not define `lost`"),
        ('import { a } from "./lost.js";', "there is no such script"),
        ('import { a } from "../b.js";', "import what is below"),
        ('import {\n  low,\n  lost,\n} from "./core/words.js";', "does not define `lost`"),
    ],
)
@pytest.mark.parametrize("where", ["main", "b"])
def test_an_import_that_cannot_be_joined_is_an_error(
    tmp_path: Path, text: str, said: str, where: str
) -> None:
    """It names the script, the line, what is there and what to write."""
    scripts = {"b": "export const a = 1;\n", "main": 'import { a } from "./b.js";\na;\n'}
    scripts[where] = f'import {{ up }} from "./core/words.js";\n{text}\n{scripts[where]}'
    with pytest.raises(TranslationError) as refused:
        program(tmp_path, **scripts)
    assert str(refused.value).startswith(f"{where}.js:2: `{' '.join(text.split())}`: ")
    assert said in str(refused.value)


def test_a_name_of_the_core_means_one_thing_in_all_modules(tmp_path: Path) -> None:
    one = 'import { low as said } from "./core/words.js";\nconst first = () => said();\n'
    other = 'import { low } from "./core/words.js";\nexport const second = () => low();\n'
    main = f'import {{ second }} from "./b.js";\n{one}console.log(first(), second());\n'
    assert run(program(tmp_path / "a", main=main, b=other)) == "low low"
    with pytest.raises(TranslationError, match=r"^main.js:2: .*`said` means something else"):
        program(tmp_path / "b", main=main, b=other.replace("low }", "up as said }"))


def test_a_text_over_several_lines_keeps_them(tmp_path: Path) -> None:
    script = program(
        tmp_path, main="const text = `two  //\n  export `;\nconsole.log(`${text}.`);\n"
    )
    assert run(shortened(script)) == run(script) == "two  //\n  export ."


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


@settings(max_examples=50)
@given(st.lists(st.integers(-40, 40), min_size=8, max_size=60))
@example(list(range(-40, 41)))
def test_smooth_lists_have_a_letter_for_each_difference(node: Node, differences: list[int]) -> None:
    numbers = differences
    for _ in range(ORDER):
        numbers = list(accumulate(numbers, initial=0))
    short = packed({"lists": [numbers]})
    large = sum(abs(one) > LETTERS for one in differences)
    assert short["lists"][0]["~"].rpartition(";")[2].count(",") == large
    got = node.ask("unpacked", {"text": json.dumps(short)})
    assert got == [[float(number).hex() for number in numbers]]


@settings(max_examples=50)
@given(st.integers(0, 40), st.lists(NUMBERS, max_size=20), st.integers(0, 2))
@example(3, [float(n) for n in range(9)], 0)
def test_a_row_with_empty_cells_comes_out_the_same(
    node: Node, before: int, numbers: list[float], after: int
) -> None:
    row = [None] * before + numbers + [None] * after
    text = json.dumps({"rows": row})
    short = json.dumps({"rows": packed(json.loads(text, parse_float=Decimal)["rows"])})
    assert node.ask("unpacked", {"same": [text, short]}) is True
    other = json.dumps({"rows": [None, *row]})
    assert node.ask("unpacked", {"same": [other, short]}) is False


def test_a_row_of_a_chart_is_packed_behind_its_empty_cells() -> None:
    short = packed([None, None, *range(1, 10)])
    assert short["~"].endswith(";2")


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
    for coding in ("br", "gzip"):
        coded = site.send("GET", "/sw.js", headers={"Accept-Encoding": coding})
        assert coded.headers["content-encoding"] == coding
        assert coded.content == offline.worker.script
    style = site.send("GET", "/static/css/lowside.css", headers={"Accept-Encoding": "gzip"})
    assert style.headers["content-encoding"] == "gzip"
    plain = site.send("GET", "/sw.js", headers={"Accept-Encoding": "identity"})
    assert plain.content == offline.worker.script


def test_the_version_changes_with_the_content_and_only_with_it(handbook: "Handbook") -> None:
    worker = worker_script(handbook, SECURITY_HEADERS)
    assert worker == worker_script(handbook, SECURITY_HEADERS)
    assert worker.script.isascii()
    assert worker.version != worker_script(handbook, {"X-Other": "1"}).version


def test_scripts_and_styles_come_as_brotli_and_only_once(site: Site) -> None:
    for url in [url for url in PRECACHED if url.endswith((".js", ".css"))]:
        plain = site.send("GET", url, headers={"Accept-Encoding": "identity"})
        short = site.send("GET", url, headers={"Accept-Encoding": "gzip, br"})
        assert short.headers["content-encoding"] == "br"
        assert int(short.headers["content-length"]) < len(plain.content) / 2
        known = {"If-None-Match": plain.headers["etag"]}
        assert site.send("GET", url, headers=known).status_code == 304


def test_the_hashes_a_phone_checks_are_of_the_bytes_it_is_sent(
    site: Site, handbook: "Handbook"
) -> None:
    script = worker_script(handbook, SECURITY_HEADERS).script.decode()
    files = [site.send("GET", url).content for url in PRECACHED]
    hashes = "".join(hashlib.sha256(content).hexdigest() for content in files)
    assert f'precached_sha256: "{hashlib.sha256(hashes.encode()).hexdigest()}"' in script


def test_everything_precached_and_every_icon_is_served(site: Site) -> None:
    manifest = site.send("GET", "/manifest.webmanifest")
    assert manifest.headers["content-type"].startswith("application/manifest+json")
    icons = [icon["src"] for icon in manifest.json()["icons"]]
    for url in (*PRECACHED, *icons):
        assert site.send("GET", url).status_code == 200, url
    page = site.send("GET", "/").text
    imported = "".join(site.send("GET", url).text for url in PRECACHED if url.endswith(".js"))
    for url in PRECACHED:
        assert url in page or f'"./{url.rpartition("/")[2]}"' in imported, url
