"""What a phone takes with it: the service worker, the manifest and what is precached.

`/sw.js` is one script made from `static/js/sw/`, the core, the field templates and the handbook, so
that code, pages and figures can never be of different versions. It is served from the root because
a worker only controls what lies below its own address.
"""

import gzip
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from threading import Thread

import brotli
from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse, Response

from lowside.cache import cache_folder, write_whole
from lowside.core.handbook.handbook import Handbook
from lowside.rendering import STATIC
from lowside.translate.phone import in_ascii, phone_program
from lowside.web.own_files import as_sent, in_few_bytes
from lowside.web.phone.handbook import phone_handbook
from lowside.web.phone.packed_numbers import packed

PRECACHED = (
    "/manifest.webmanifest",
    "/static/css/lowside.css",
    "/static/js/page.js",
    "/static/js/phone.js",
    "/static/vendor/htmx-4.0.1.min.js",
    "/static/icons/lowside.svg",
    "/static/icons/lowside-192.png",
)
"""Everything a field page asks for beside its HTML."""

router = APIRouter()


class Offline:
    """The worker of this server: made at its start, else when it is first asked for."""

    def __init__(self, handbook: Handbook, headers: Mapping[str, str], enabled: bool) -> None:
        self._handbook = handbook
        self._headers = headers
        self.enabled = enabled

    @cached_property
    def worker(self) -> "Worker":
        """The script, ready to send."""
        return worker_script(self._handbook, self._headers)

    def make(self) -> None:
        """Make the script. Its smallest form takes as long again, so it is made meanwhile; who asks
        before waits for it.

        Raises
            TranslationError, TemplateBuildError, OSError: see `worker_script`.
        """
        worker = self.worker
        Thread(target=lambda: worker.encoded, name="smallest worker", daemon=True).start()


@dataclass(frozen=True)
class Worker:
    """A worker's script."""

    version: str
    """Changes with any byte of what the worker is made of."""
    script: bytes

    @cached_property
    def encoded(self) -> Mapping[str, bytes]:
        """The same in each content coding, the shortest first."""
        return {"br": _brotli(self.script), "gzip": gzip.compress(self.script, 9, mtime=0)}


def worker_script(handbook: Handbook, headers: Mapping[str, str]) -> Worker:
    """Make the worker's script.

    Raises
        TranslationError, TemplateBuildError: the core or a template uses what cannot be translated.
        OSError: the cache folder cannot be written.
    """
    hashes = "".join(_sha256(_file_of(url)) for url in PRECACHED)
    body = (
        phone_program()
        + f"const handbook_text = {_js_text(packed_handbook(handbook))};\n"
        + "const made = {\n"
        + "render,\n"
        + "handbook: () => JSON.parse(handbook_text),\n"
        + f"headers: {json.dumps(dict(headers))},\n"
        + f"precached: {json.dumps(PRECACHED)},\n"
        + f'precached_sha256: "{_sha256(hashes.encode())}",\n'
    )
    version = hashlib.sha256(body.encode()).hexdigest()[:16]
    script = in_ascii(f'"use strict";\n{{\n{body}version: "{version}",\n}};\nstart(made);\n}}\n')
    return Worker(version, script)


def _brotli(script: bytes) -> bytes:
    """Its smallest, made once and cached: it takes three seconds."""
    kept = cache_folder() / f"worker-{_sha256(script)[:16]}.js.br"
    if not kept.is_file():
        # Brotli's own choice of a block's size is a little longer for this text.
        tried: list[bytes] = [brotli.compress(script, lgblock=size) for size in (17, 19)]
        write_whole(kept, min(tried, key=len))
    return kept.read_bytes()


def packed_handbook(handbook: Handbook) -> str:
    """The handbook as JSON with its tables packed."""
    content = json.loads(phone_handbook(handbook), parse_float=Decimal)
    return json.dumps(packed(content), ensure_ascii=False, separators=(",", ":"))


@router.get("/sw.js")
def service_worker(request: Request) -> Response:
    offline: Offline = request.app.state.offline
    if not offline.enabled:
        return PlainTextResponse("The offline copy is switched off on this server.", 404)
    kind = "text/javascript; charset=utf-8"
    accepted = request.headers.get("accept-encoding", "")
    for coding, body in offline.worker.encoded.items():
        if coding in accepted:
            headers = {"Content-Encoding": coding, "Vary": "Accept-Encoding"}
            return Response(body, media_type=kind, headers=headers)
    return Response(offline.worker.script, media_type=kind, headers={"Vary": "Accept-Encoding"})


@router.get("/manifest.webmanifest")
def manifest(request: Request) -> Response:
    return in_few_bytes(STATIC / "manifest.json", "application/manifest+json", request.headers)


def _file_of(url: str) -> bytes:
    if url == "/manifest.webmanifest":
        return (STATIC / "manifest.json").read_bytes()
    return as_sent(STATIC / url.removeprefix("/static/"))


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _js_text(text: str) -> str:
    """A JavaScript string literal in single quotes, which JSON is full of double ones for."""
    escaped = text.replace("\\", "\\\\").replace("'", "\\'")
    return "'" + escaped.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029") + "'"
