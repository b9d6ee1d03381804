"""A tiny site for pages and modules that a test hands to a browser."""

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import PurePosixPath

KINDS = {".html": "text/html", ".js": "text/javascript", ".mjs": "text/javascript"}


@contextmanager
def served(files: Mapping[str, bytes]) -> Iterator[str]:
    """The address of a site on this machine with these files, as `/core.js`; `/` is `/index.html`,
    blank when it is not among them."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            path = self.path.partition("?")[0].removesuffix("/") or "/index.html"
            body = files.get(path, b"<!doctype html>" if path == "/index.html" else None)
            self.send_response(404 if body is None else 200)
            kind = KINDS.get(PurePosixPath(path).suffix, "application/json")
            self.send_header("Content-Type", f"{kind}; charset=utf-8")
            self.end_headers()
            self.wfile.write(body or b"")

        def log_message(self, *_args: object) -> None:
            pass

    site = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    site.daemon_threads = True
    serving = threading.Thread(target=site.serve_forever, args=(0.05,))
    serving.start()
    try:
        yield f"http://localhost:{site.server_address[1]}"
    finally:
        site.shutdown()
        serving.join()
        site.server_close()
