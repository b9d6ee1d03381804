"""The page that says why there is nothing here, among the office's pages."""

from fastapi import Response
from fastapi.responses import HTMLResponse

from lowside.rendering import render


def not_found(sentence: str) -> Response:
    """The same as a technician gets, with the office's links."""
    return HTMLResponse(
        render("office/missing.html", {"title": "Not found", "text": sentence}), 404
    )
