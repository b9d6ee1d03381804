"""What a program that watches a server is told: health, readiness, counts, log lines."""

import asyncio
import json
import os
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event
from types import SimpleNamespace

import pytest
from anyio import to_thread
from httpx import ASGITransport, AsyncClient
from store_cases import event
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.store import StoreStoppedError, durable, event_to_json, in_progress
from lowside.web.measures import BOUNDS_S, Measured, Measures

LABELS = r"\{[a-z]+=\"[^\"]*\"(?:,[a-z]+=\"[^\"]*\")*\}"
SLOW_S = 30.0
"""A bound, so that a fault fails the test."""
SAMPLE = re.compile(rf"([a-z_]+)({LABELS})? (\d+(?:\.\d+)?)")
ABOUT = re.compile(r"# (?:TYPE|HELP|UNIT) ([a-z_]+) .+")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as site:
        yield site


def samples(text: str) -> dict[str, float]:
    """Every sample of an OpenMetrics text by its name with labels; each line must be well-formed,
    and samples must follow the lines about them."""
    assert text.endswith("# EOF\n")
    found: dict[str, float] = {}
    about = ""
    for line in text.splitlines()[:-1]:
        told = ABOUT.fullmatch(line)
        if told is not None:
            about = told[1]
            continue
        sample = SAMPLE.fullmatch(line)
        assert sample is not None, line
        assert sample[1].startswith(about)
        assert sample[1] + (sample[2] or "") not in found
        found[sample[1] + (sample[2] or "")] = float(sample[3])
    return found


def test_requests_and_entries_are_counted_without_naming_anyone(site: Site) -> None:
    sid = site.start()
    site.get(f"/s/{sid}")
    site.send("BREW", "/office")
    asked = {"v": 1, "dev": "phone", "cursor": "", "events": [event_to_json(event(1)), {}]}
    headers = {"Content-Type": "application/json"}
    site.send("POST", "/api/sync", content=json.dumps(asked).encode(), headers=headers)
    answer = site.send("GET", "/metrics")
    assert answer.headers["content-type"].startswith("application/openmetrics-text")
    assert sid not in answer.text
    found = samples(answer.text)
    assert found['lowside_requests_total{kind="session",method="GET",status="200"}'] == 1
    assert found['lowside_requests_total{kind="office",method="other",status="405"}'] == 1
    assert found['lowside_requests_total{kind="sync",method="POST",status="200"}'] == 1
    assert found['lowside_entries_total{outcome="stored"}'] == 1
    assert found['lowside_entries_total{outcome="refused"}'] == 1
    assert found["lowside_ready"] == 1
    for kind in ("session", "sync", "other"):
        of = [found[f'lowside_request_seconds_bucket{{kind="{kind}",le="{b}"}}'] for b in BOUNDS_S]
        assert of == sorted(of)
        assert of[-1] <= found[f'lowside_request_seconds_count{{kind="{kind}"}}']


def test_a_store_that_does_not_answer_is_not_ready_and_the_server_is_healthy(site: Site) -> None:
    assert site.get("/ready").status == 200
    site.store.close()
    assert site.get("/ready").status == 503
    assert "closed" in site.get("/ready").text
    assert site.get("/health").status == 200
    assert samples(site.send("GET", "/metrics").text)["lowside_ready"] == 0


def test_a_server_whose_disk_failed_is_not_ready(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It still shows what it has, but saves nothing more until it is started again."""

    def no(_file: durable.Grown) -> None:
        raise durable.UnsureError("no")

    with monkeypatch.context() as patch:
        patch.setattr(durable.Grown, "confirm", no)
        with pytest.raises(StoreStoppedError):
            site.store.append([event(1)])
    answer = site.get("/ready")
    assert answer.status == 503
    assert "restart Lowside" in answer.text
    assert site.get("/health").status == 200
    assert samples(site.send("GET", "/metrics").text)["lowside_ready"] == 0


def test_a_server_whose_save_waits_long_is_not_ready_until_the_disk_goes_on(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    reached, goes_on = Event(), Event()
    confirm = durable.Grown.confirm

    def slow(file: durable.Grown) -> None:
        reached.set()
        assert goes_on.wait(SLOW_S)
        confirm(file)

    with monkeypatch.context() as patch, ThreadPoolExecutor(1) as pool:
        patch.setattr(durable.Grown, "confirm", slow)
        asked = pool.submit(site.store.append, [event(1)])
        try:
            assert reached.wait(SLOW_S)
            patch.setattr(in_progress, "LONG_S", 1000.0)
            assert site.get("/ready").status == 200
            patch.setattr(in_progress, "LONG_S", 0.0)
            answer = site.get("/ready")
            assert answer.status == 503
            assert "A save has gone on" in answer.text
        finally:
            goes_on.set()
        assert asked.result()[0].outcome == "stored"
        assert site.get("/ready").status == 200


def test_a_server_with_a_full_disk_is_not_ready_until_there_is_room(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(durable, "LEAST_FREE", 1 << 80)
        answer = site.get("/ready")
        assert answer.status == 503
        assert "is full. Free some space" in answer.text
        assert site.get("/health").status == 200
    assert site.get("/ready").status == 200


def test_a_server_whose_disk_can_only_be_read_is_not_ready(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Linux makes it so after a fault."""
    disk = os.statvfs(site.store.root)
    shut = SimpleNamespace(f_flag=disk.f_flag | os.ST_RDONLY, f_bavail=1 << 40, f_frsize=4096)
    monkeypatch.setattr(durable.os, "statvfs", lambda _folder: shut)
    answer = site.get("/ready")
    assert answer.status == 503
    assert "can only be read" in answer.text


def test_watchers_are_answered_while_pages_have_all_threads(site: Site) -> None:
    """As when forms wait for a disk that hangs."""

    async def asked() -> list[int]:
        pages = to_thread.current_default_thread_limiter()
        pages.total_tokens = 1
        transport = ASGITransport(site.app, client=("127.0.0.1", 1))
        async with pages, AsyncClient(transport=transport, base_url="http://localhost") as client:
            async with asyncio.timeout(SLOW_S):
                paths = ("/health", "/ready", "/metrics")
                return [(await client.get(path)).status_code for path in paths]

    assert asyncio.run(asked()) == [200, 200, 200]


def test_a_log_line_for_each_request_is_json_and_names_nobody(site: Site) -> None:
    lines: list[str] = []
    site.app.user_middleware = [one for one in site.app.user_middleware if one.cls is not Measured]
    site.app.add_middleware(Measured, measures=Measures(), log=lines.append)
    sid = site.start()
    assert site.get(f"/s/{sid}?q=someone").status == 200
    read = [json.loads(line) for line in lines]
    assert [(one["kind"], one["method"], one["status"]) for one in read] == [
        ("other", "GET", 200),
        ("other", "POST", 303),
        ("session", "GET", 200),
    ]
    assert sid not in "".join(lines)
    assert "someone" not in "".join(lines)
    assert all(one["ms"] >= 0 for one in read)
