"""Static files as they are sent: scripts, styles and drawings in fewer bytes."""

import hashlib
import os
import re
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

import brotli
import rjsmin
from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.staticfiles import NotModifiedResponse, StaticFiles
from starlette.types import Scope

from lowside.translate.page_script import with_core
from lowside.translate.phone import SCRIPTS

KINDS = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}
MOST_KEPT = 64


class OwnFiles(StaticFiles):
    """What phones keep crosses a slow network once, so it crosses it as short as it can be."""

    def file_response(
        self,
        full_path: str | os.PathLike[str],
        stat_result: os.stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        path = Path(full_path)
        if path.suffix not in KINDS:
            return super().file_response(full_path, stat_result, scope, status_code)
        asked = Headers(scope=scope)
        response = in_few_bytes(path, KINDS[path.suffix], asked, status_code)
        if self.is_not_modified(response.headers, asked):
            return NotModifiedResponse(response.headers)
        return response


def in_few_bytes(path: Path, kind: str, asked: Headers, status: int = 200) -> Response:
    """A file of ours, compressed once for all who take it so."""
    short = _short(path, path.stat().st_mtime_ns)
    headers = {"ETag": f'"{short.sha256}"', "Vary": "Accept-Encoding"}
    body = short.plain
    if "br" in asked.get("accept-encoding", ""):
        body, headers["Content-Encoding"] = short.brotli, "br"
    return Response(body, status, headers, kind)


def as_sent(path: Path) -> bytes:
    """The bytes that a phone gets of a static file: the hash of these is what it checks."""
    if path.suffix in KINDS:
        return _short(path, path.stat().st_mtime_ns).plain
    return path.read_bytes()


def without_comments(path: Path) -> str:
    """One of the pages' own scripts or style sheets in fewer bytes."""
    if path.suffix != ".css":
        of_a_page = path.resolve().parent == SCRIPTS.resolve()
        text = with_core(path) if of_a_page else path.read_text(encoding="utf-8")
        return str(rjsmin.jsmin(text)) + "\n"
    text = path.read_text(encoding="utf-8")
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
    text = re.sub(r"\s*([{};,\n])\s*", r"\1", text).replace(";}", "}\n")
    return re.sub(r'(?<!"):\s', ":", text)


@dataclass(frozen=True)
class _Short:
    plain: bytes
    sha256: str

    @cached_property
    def brotli(self) -> bytes:
        """Made when it is first asked for: the hash that a phone checks needs none."""
        short: bytes = brotli.compress(self.plain)
        return short


@lru_cache(maxsize=MOST_KEPT)
def _short(path: Path, _changed_ns: int) -> _Short:
    """Made again when the file changed. What a script imports is looked at once."""
    own = path.suffix in (".js", ".css") and "vendor" not in path.parts
    plain = without_comments(path).encode() if own else path.read_bytes()
    return _Short(plain, hashlib.sha256(plain).hexdigest())
