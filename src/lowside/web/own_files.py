"""Static files as they are sent: the page's own scripts without comments and spare spaces."""

import os
from functools import lru_cache
from pathlib import Path

import rjsmin
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

MOST_KEPT = 64


class OwnFiles(StaticFiles):
    """Scripts that phones keep cross a slow network, so they cross it without their comments."""

    def file_response(
        self,
        full_path: str | os.PathLike[str],
        stat_result: os.stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        path = Path(full_path)
        if not _is_own_script(path):
            return super().file_response(full_path, stat_result, scope, status_code)
        script = without_comments(path, stat_result.st_mtime_ns)
        return Response(script, status_code, media_type="text/javascript")


def as_sent(path: Path) -> bytes:
    """The bytes that a phone gets of a static file: the hash of these is what it checks."""
    if _is_own_script(path):
        return without_comments(path, path.stat().st_mtime_ns).encode()
    return path.read_bytes()


def _is_own_script(path: Path) -> bool:
    return path.suffix == ".js" and "vendor" not in path.parts


@lru_cache(maxsize=MOST_KEPT)
def without_comments(path: Path, _changed_ns: int) -> str:
    """A script in fewer bytes, made again when its file changed."""
    return str(rjsmin.jsmin(path.read_text(encoding="utf-8"))) + "\n"
