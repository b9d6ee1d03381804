"""The one Jinja2 environment: where templates are, and what they may print.

Templates place what `view` made and decide nothing, so they may reach into mappings by key and
print texts and whole numbers; anything else is an error here and in the browser's copy, which
`translate/templates.py` makes from the same files.
"""

from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Undefined
from jinja2.bccache import Bucket, BytecodeCache

from lowside.cache import cache_folder, write_whole
from lowside.store.codec import LARGEST_INTEGER

PACKAGE = Path(__file__).parent
CHECKOUT = Path(__file__).parents[2]


def _folder(packed: str, in_checkout: str) -> Path:
    """Packed into the wheel beside the modules, or in the checkout above them."""
    inside = PACKAGE / packed
    return inside if inside.is_dir() else CHECKOUT / in_checkout


TEMPLATES = _folder("_templates", "templates")
STATIC = _folder("_static", "static")


class UnprintableError(TypeError):
    """A template printed something other than text or a whole number; `view` should format it."""


class KeptTemplates(BytecodeCache):
    """Templates as they were compiled once: to compile those of one page takes up to 0.1 s, and the
    first who asks for it waits. One that cannot be read, or is of another source, is compiled."""

    def load_bytecode(self, bucket: Bucket) -> None:
        with suppress(OSError), self._path(bucket).open("rb") as file:
            bucket.load_bytecode(file)

    def dump_bytecode(self, bucket: Bucket) -> None:
        with suppress(OSError):
            write_whole(self._path(bucket), bucket.bytecode_to_string())

    def get_source_checksum(self, source: str) -> str:
        """Of the template and of what compiles it."""
        return super().get_source_checksum(_compiler() + source)

    def _path(self, bucket: Bucket) -> Path:
        return cache_folder() / "templates" / bucket.key


@cache
def _compiler() -> str:
    return f"{jinja2.__version__}\n{Path(__file__).read_text('utf-8')}"


class FieldTemplates(Environment):
    """Jinja2 as every template here is written for: what the compiler knows, and no more."""

    def __init__(self, folder: Path = TEMPLATES) -> None:
        super().__init__(
            loader=FileSystemLoader(folder),
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
            undefined=StrictUndefined,
            finalize=_printable,
        )
        self.folder = folder
        self.globals.clear()

    def getattr(self, obj: Any, attribute: str) -> Any:
        """`name.key` is a mapping's key and never a Python attribute such as `dict.items`."""
        if isinstance(obj, Mapping) and attribute in obj:
            return obj[attribute]
        if isinstance(obj, Undefined):
            return getattr(obj, attribute)
        return self.undefined(obj=obj, name=attribute)


def render(name: str, context: Mapping[str, Any]) -> str:
    """The page of template `name` (`field/step.html`).

    Raises
        jinja2.UndefinedError: the template needs something the context lacks.
        UnprintableError: it prints something else than text or a whole number.
    """
    return _shared().get_template(name).render(context)


@cache
def _shared() -> FieldTemplates:
    templates = FieldTemplates()
    templates.bytecode_cache = KeptTemplates()
    return templates


def _printable(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, str | int | Undefined):
        raise UnprintableError(
            f"a template printed {value!r}; only text and whole numbers are printed"
        )
    if isinstance(value, int) and abs(value) > LARGEST_INTEGER:
        raise UnprintableError(f"a template printed {value}, which JavaScript cannot hold exactly")
    return value
