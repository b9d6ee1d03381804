"""`scripts/need-engines.sh` sees to every engine, or stops with the command that would bring it."""

import shutil
import subprocess
from pathlib import Path

import pytest

EVERY = ("chromium-headless-shell", "firefox-esr", "WebKitWebDriver", "Xvfb")
COMMAND = "apt-get update && apt-get install"
CHROMIUM = "chromium-headless-shell fonts-dejavu-core"
FIREFOX, WEBKIT = "firefox-esr", "webkit2gtk-driver xvfb"
SAYS_ROOT = "echo 0"


class Machine:
    """A machine with these programs only; each is a line of shell."""

    def __init__(self, folder: Path, root: Path) -> None:
        self.bin = folder / "bin"
        self.bin.mkdir()
        self._script = root / "scripts" / "need-engines.sh"
        for name in ("tr", "env"):
            program = shutil.which(name)
            assert program is not None
            (self.bin / name).symlink_to(program)
        self.put("id", SAYS_ROOT)

    def put(self, name: str, line: str = "exit 1") -> None:
        file = self.bin / name
        file.write_text(f"#!/bin/sh\n{line}\n", "utf-8")
        file.chmod(0o755)

    def run(self, **settings: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["/bin/sh", str(self._script)],
            env={"PATH": str(self.bin), **settings},
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )


@pytest.fixture
def machine(tmp_path: Path, root: Path) -> Machine:
    return Machine(tmp_path, root)


def bringing(machine: Machine, *names: str) -> str:
    """An `apt-get` that notes what it was asked, and installs these programs."""
    copies = [f"{shutil.which('cp')} {machine.bin}/id {machine.bin}/{name}" for name in names]
    installs = f'case "$*" in *install*) {"; ".join(copies)};; esac'
    return f'echo "$*" >> {machine.bin}/asked\n{installs}'


def test_nothing_is_done_where_every_engine_is_there(machine: Machine) -> None:
    for name in EVERY:
        machine.put(name)
    done = machine.run()
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@pytest.mark.parametrize(
    ("there", "missed", "packages"),
    [
        ((), "chromium firefox webkit", f"{CHROMIUM} {FIREFOX} {WEBKIT}"),
        (EVERY[:1], "firefox webkit", f"{FIREFOX} {WEBKIT}"),
        (EVERY[:2], "webkit", WEBKIT),
        (EVERY[:3], "webkit", WEBKIT),
        (EVERY[1:], "chromium", CHROMIUM),
    ],
)
def test_without_apt_get_it_fails_with_the_command_that_would_bring_them(
    machine: Machine, there: tuple[str, ...], missed: str, packages: str
) -> None:
    for name in there:
        machine.put(name)
    done = machine.run()
    assert done.returncode == 1
    assert f"The browser tests miss {missed}, and there is no apt-get here" in done.stderr
    assert f"Install it: {COMMAND} {packages}\n" in done.stderr
    assert "make test ENGINES=chromium" in done.stderr


def test_an_engine_that_was_not_asked_for_is_not_missed(machine: Machine) -> None:
    machine.put("chromium-headless-shell")
    assert machine.run(ENGINES="chromium").returncode == 0
    machine.put("firefox")
    assert machine.run(ENGINES="firefox,chromium").returncode == 0
    done = machine.run(ENGINES="chromium,webkit")
    assert done.returncode == 1
    assert "The browser tests miss webkit, and" in done.stderr


def test_an_unknown_engine_is_refused(machine: Machine) -> None:
    done = machine.run(ENGINES="chromium,steam")
    assert done.returncode == 1
    assert "there is no steam; there are chromium, firefox and webkit" in done.stderr


def test_a_program_that_a_variable_names_counts_and_must_be_one(machine: Machine) -> None:
    machine.put("mine")
    mine = str(machine.bin / "mine")
    named = {"LOWSIDE_CHROMIUM": mine, "LOWSIDE_FIREFOX": mine}
    assert machine.run(ENGINES="chromium,firefox", **named).returncode == 0
    done = machine.run(ENGINES="chromium,firefox", **named | {"LOWSIDE_FIREFOX": mine + "s"})
    assert done.returncode == 1
    assert f"LOWSIDE_FIREFOX is {mine}s, which is not a program" in done.stderr


def test_the_whole_chromium_serves_where_its_shell_cannot_be_had(machine: Machine) -> None:
    for name in ("chromium", *EVERY[1:]):
        machine.put(name)
    assert machine.run().returncode == 0
    machine.put("apt-get", "exit 100")
    assert machine.run().returncode == 0


def test_what_is_missing_is_installed(machine: Machine) -> None:
    machine.put("apt-get", bringing(machine, *EVERY))
    done = machine.run()
    assert (done.returncode, done.stderr) == (0, "")
    asked = (machine.bin / "asked").read_text("utf-8").splitlines()
    assert asked[0] == "update -qq"
    assert asked[1].endswith(f"{CHROMIUM} {FIREFOX} {WEBKIT}")
    assert machine.run().stdout == "", "all is there now"


@pytest.mark.parametrize(
    ("apt_get", "why"),
    [
        ('[ "$1" != update ]', "apt-get update failed"),
        ('[ "$1" = update ]', "apt-get could not install it"),
        ("exit 0", "the packages brought no program for it"),
    ],
)
def test_when_it_cannot_be_installed_it_says_why(machine: Machine, apt_get: str, why: str) -> None:
    machine.put("apt-get", apt_get)
    done = machine.run()
    assert done.returncode == 1
    assert f"The browser tests miss chromium firefox webkit, and {why}." in done.stderr
    assert COMMAND in done.stderr


def test_who_is_not_root_needs_sudo(machine: Machine) -> None:
    machine.put("id", "echo 1000")
    machine.put("apt-get", bringing(machine, *EVERY))
    done = machine.run()
    assert done.returncode == 1
    assert "installing it takes root or sudo" in done.stderr
    assert not (machine.bin / "asked").exists()
    machine.put("sudo", 'exec "$@"')
    assert machine.run().returncode == 0
