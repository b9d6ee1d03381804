"""The documentation holds: commands run and print what is shown, and nothing cited is missing.

A fence is run when the line above it is `<!-- run -->`. In a `console` fence each `$ ` line is a
command and the lines under it are its output, where `…` is anything; a `python` fence is run
as it is.
"""

import importlib
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
RUN = "<!-- run -->"
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
CODE = re.compile(r"`([^`\n]+)`")
HEADING = re.compile(r"^#+ (.+)$", re.MULTILINE)
FOLDERS = ("src", "docs", "tests", "static", "templates", "bench", "scripts", "tools", ".ci")
CITED_PATH = re.compile(rf"(?:{'|'.join(re.escape(name) for name in FOLDERS)})/[\w./-]*")
CITED_NAME = re.compile(r"lowside(?:\.\w+)+")
CITED_COMMAND = re.compile(r"lowside ([a-z][a-z-]*)")
CITED_TARGET = re.compile(r"make ([a-z]+)")


def documents() -> list[Path]:
    return sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


DOCUMENTS = {str(path.relative_to(ROOT)): path.read_text("utf-8") for path in documents()}


@dataclass(frozen=True)
class Command:
    """A command line as shown, and the output shown under it."""

    line: str
    output: str


def marked_fences(text: str, language: str) -> Iterator[str]:
    for fence in FENCE.finditer(text):
        above = text[: fence.start()].rstrip("\n").rsplit("\n", 1)[-1]
        if fence.group(1) == language and above == RUN:
            yield fence.group(2)


def commands(text: str) -> Iterator[Command]:
    for body in marked_fences(text, "console"):
        for part in re.split(r"^\$ ", body, flags=re.MULTILINE)[1:]:
            line, _, output = part.partition("\n")
            yield Command(line, output.strip("\n"))


def prints_as_shown(shown: str, printed: str) -> bool:
    """Whether `printed` is `shown`, where `…` is any text within it."""
    pattern = ".*".join(re.escape(piece.rstrip()) for piece in shown.strip().split("…"))
    return re.fullmatch(pattern, printed.strip(), re.DOTALL) is not None


def anchors(text: str) -> set[str]:
    """The anchors of a document's headings, made the way code hosts make them."""
    plain = FENCE.sub("", text)
    return {
        re.sub(r"[^\w\- ]", "", heading.lower()).strip().replace(" ", "-")
        for heading in HEADING.findall(plain)
    }


def broken_links(name: str, text: str) -> list[str]:
    broken = []
    for target in LINK.findall(FENCE.sub("", text)):
        if re.match(r"[a-z]+:", target):
            continue
        file, _, anchor = target.partition("#")
        path = (ROOT / name).parent / file if file else ROOT / name
        if not path.exists():
            broken.append(f"{name} links to {target}, which is not there")
        elif anchor and anchor not in anchors(path.read_text("utf-8")):
            broken.append(f"{name} links to {target}, which has no such heading")
    return broken


def missing_citations(name: str, text: str) -> list[str]:
    """Paths, Python names and make targets in backticks that do not exist."""
    makefile = (ROOT / "Makefile").read_text("utf-8")
    missing = []
    for code in CODE.findall(FENCE.sub("", text)):
        if CITED_PATH.fullmatch(code) and not (ROOT / code).exists():
            missing.append(f"{name} cites the file {code}")
        if CITED_NAME.fullmatch(code) and not names_something(code):
            missing.append(f"{name} cites the name {code}")
        target = CITED_TARGET.match(code)
        if target and not re.search(rf"^{target.group(1)}:", makefile, re.MULTILINE):
            missing.append(f"{name} cites make {target.group(1)}")
    return missing


def names_something(dotted: str) -> bool:
    """Whether a dotted name is a module, or a thing in one."""
    parts = dotted.split(".")
    for length in range(len(parts), 0, -1):
        try:
            found: object = importlib.import_module(".".join(parts[:length]))
        except ModuleNotFoundError:
            continue
        for attribute in parts[length:]:
            if not hasattr(found, attribute):
                return False
            found = getattr(found, attribute)
        return True
    return False


def cited_commands() -> list[str]:
    found = set()
    for text in DOCUMENTS.values():
        for code in CODE.findall(FENCE.sub("", text)):
            found.update(CITED_COMMAND.findall(code))
        for fence in FENCE.finditer(text):
            found.update(re.findall(r"^\$ lowside ([a-z-]+)", fence.group(2), re.MULTILINE))
    return sorted(found)


def run_lowside(arguments: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "lowside", *arguments],
        cwd=ROOT,
        check=False,
        capture_output=True,
        text=True,
        encoding="utf-8",
    )


@pytest.mark.parametrize(
    "command",
    [pytest.param(c, id=c.line) for text in DOCUMENTS.values() for c in commands(text)],
)
def test_a_shown_command_prints_what_is_shown(command: Command) -> None:
    program, *arguments = shlex.split(command.line)
    assert program == "lowside"
    done = run_lowside(arguments)
    assert done.returncode == 0, done.stderr
    assert prints_as_shown(command.output, done.stdout), done.stdout


@pytest.mark.parametrize(
    "source",
    [
        pytest.param(body, id=f"{name}-{i}")
        for name, text in DOCUMENTS.items()
        for i, body in enumerate(marked_fences(text, "python"))
    ],
)
def test_a_shown_program_runs(source: str) -> None:
    exec(compile(source, "shown in the documentation", "exec"), {"__name__": "shown"})


@pytest.mark.parametrize("command", cited_commands())
def test_a_cited_command_exists(command: str) -> None:
    done = run_lowside([command, "--help"])
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(f"usage: lowside {command}")


@pytest.mark.parametrize("name", DOCUMENTS)
def test_links_and_citations_lead_somewhere(name: str) -> None:
    text = DOCUMENTS[name]
    assert broken_links(name, text) + missing_citations(name, text) == []


@pytest.mark.parametrize(
    ("folder", "index"), [("docs", "README.md"), ("docs/decisions", "0000-index.md")]
)
def test_every_page_is_in_the_index(folder: str, index: str) -> None:
    listed = LINK.findall((ROOT / folder / index).read_text("utf-8"))
    pages = {path.name for path in (ROOT / folder).glob("*.md")} - {index}
    assert pages - set(listed) == set()


def test_the_readme_shows_commands_that_are_run() -> None:
    assert list(commands(DOCUMENTS["README.md"]))
    assert list(marked_fences(DOCUMENTS["README.md"], "python"))


BAD_PAGE = """# Bad

[gone](gone.md) [no heading](#nowhere) `src/lowside/gone.py` `lowside.core.session.events.Gone`
`lowside.gone` `make coffee`
"""


def test_a_bad_page_is_seen() -> None:
    assert len(broken_links("BAD.md", BAD_PAGE)) == 2
    assert len(missing_citations("BAD.md", BAD_PAGE)) == 4


def test_only_marked_fences_are_run() -> None:
    fence = "```console\n$ lowside tables --check\nR-32 …\n$ lowside demo\n```\n"
    assert list(commands("text\n\n" + fence)) == []
    assert list(commands(f"text\n\n{RUN}\n" + fence)) == [
        Command("lowside tables --check", "R-32 …"),
        Command("lowside demo", ""),
    ]


def test_shown_output_must_match_what_is_printed() -> None:
    assert prints_as_shown("dew … K\nbubble 1", "dew 280.1 K\nbubble 1\n")
    assert not prints_as_shown("dew … K\nbubble 1", "dew 280.1 K\nbubble 2\n")
    assert not prints_as_shown("dew", "dew 280.1")
