"""A page's own script, with what it imports of other scripts and of the core written into it.

A page has no worker beside it to ask: its clocks run between two answers. So what they need of the
core comes with the script itself, a few functions that need nothing of the runtime. One script is
also less to download than two.
"""

import hashlib
from collections.abc import Mapping
from pathlib import Path

from lowside.cache import cache_folder, write_whole
from lowside.translate.kinds import TranslationError
from lowside.translate.names import RUNTIME, SharedNames, safe
from lowside.translate.phone import joined, program_key, read_core, refuse_unknown
from lowside.translate.reach import Value, in_order, reached
from lowside.translate.statements import written


def with_core(script: Path) -> str:
    """The text of a script; what it imports of the core is made when a source changed, else cached.

    The scripts share one scope: a name that two of them define is an error of the script.

    Raises
        TranslationError: it imports what is not there, or what needs the runtime.
        OSError: the cache folder cannot be written.
    """
    texts, asked = joined(script.parent, script)
    core = _written(script, asked) if asked else ""
    called = [(here, safe(name)) for here, (_, name) in asked.items()]
    other = [f"const {here} = {name};\n" for here, name in called if here != name]
    return "".join((core, *other, *texts))


class _OwnNames(SharedNames):
    """Each value of the core keeps its name: a page's script has only a few."""

    def __init__(self, script: str) -> None:
        super().__init__((), {}, ())
        self._script = script

    def of(self, path: str, name: str) -> str:
        if path == RUNTIME:
            raise TranslationError(
                f"{self._script}: what it imports of the core needs the runtime: {name}"
            )
        return safe(name)

    def member(self, name: str) -> str:
        return name


def _written(script: Path, named: Mapping[str, Value]) -> str:
    asked = set(named.values())
    digest = hashlib.sha256(f"{sorted(asked)}".encode()).hexdigest()[:8]
    kept = cache_folder() / f"page-{program_key()}-{digest}.js"
    if not kept.is_file():
        core, names = read_core(), _OwnNames(script.name)
        refuse_unknown(core, script.parent, script, named)
        wanted = {*asked, *reached(core, asked)}
        lines = [
            str(line)
            for module in in_order(core, sorted({path for path, _ in asked}))
            for line in written(core, module, names, wanted)
        ]
        write_whole(kept, "".join(f"{line}\n" for line in lines).encode())
    return kept.read_text(encoding="utf-8")
