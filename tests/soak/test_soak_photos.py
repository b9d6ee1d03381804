"""Photos under attack: other bytes, half of them, more than a picture, too many, twice at a time.

What is acknowledged is on the disk, byte by byte; nothing else ever is. Short and seeded; `make
soak` runs it long.
"""

import hashlib
import random
import resource
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from httpx import Response
from photo_cases import as_file, facts_of, from_a_camera, multipart, photo, picture
from soaking import NASTY, SEED, limited, times
from store_cases import event
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.photo_form import MOST_BYTES
from lowside.core.session.photos import MOST_PHOTOS
from lowside.demo import scenarios
from lowside.outlining import outline
from lowside.store.check import check
from lowside.web.clock import new_ulid
from lowside.web.photos.picture import size_of_photo

JPEG = {"Content-Type": "image/jpeg"}
AT_ONCE = 4


class Attack:
    """Sessions whose entries name photos, and what of them was acknowledged."""

    def __init__(self, site: Site, chance: random.Random) -> None:
        self.site, self.chance = site, chance
        self.named: dict[tuple[str, str], bytes] = {}
        self.lies: dict[tuple[str, str], bytes] = {}
        """What an entry names and what is more than a picture, or none."""
        self.kept: dict[tuple[str, str], bytes] = {}
        for _ in range(3):
            sid = site.play(scenarios()[0])
            for number in range(MOST_PHOTOS // 3):
                content = photo(chance.randrange(200))
                facts = facts_of(content)
                site.store.append(
                    [event(number + 1, sid=sid, dev="camera", kind="photo.taken", **facts)]
                )
                self.named[sid, facts["photo"]] = content
            lies = [
                photo(1) + b"<script>alert(1)</script>", from_a_camera(64, 48),
                as_file(picture(64, 48), "PNG"), as_file(picture(64, 48), comment=b"<html>"),
                photo(1)[:-1],
            ]  # fmt: skip
            for number, content in enumerate(lies, MOST_PHOTOS // 3 + 1):
                facts = facts_of(photo(1)) | {"photo_bytes": str(len(content))}
                facts["photo"] = hashlib.sha256(content).hexdigest()
                site.store.append(
                    [event(number, sid=sid, dev="camera", kind="photo.taken", **facts)]
                )
                self.lies[sid, facts["photo"]] = content

    def turn(self) -> None:
        acts: list[Callable[[], None]] = [
            self.right, self.changed, self.changed, self.elsewhere, self.together,
            self.refused_by_disk, self.form, self.lied,
        ]  # fmt: skip
        self.chance.choice(acts)()

    def post(self, sid: str, name: str, content: bytes, headers: dict[str, str] = JPEG) -> Response:
        answer = self.site.send("POST", f"/api/photo/{sid}/{name}", content, headers)
        assert answer.status_code in (200, 404, 413, 415, 422, 503), answer.text
        if answer.status_code == 200:
            assert answer.json() == {"stored": name}
            assert self.named.get((sid, name)) == content, "other bytes were acknowledged"
            self.kept[sid, name] = content
        return answer

    def any(self) -> tuple[str, str, bytes]:
        sid, name = self.chance.choice(sorted(self.named))
        return sid, name, self.named[sid, name]

    def right(self) -> None:
        assert self.post(*self.any()).status_code == 200

    def changed(self) -> None:
        sid, name, content = self.any()
        chance, at = self.chance, self.chance.randrange(len(content))
        flipped = bytearray(content)
        flipped[at] ^= 1 << chance.randrange(8)
        other = chance.choice(
            [content[:at], b"", bytes(flipped), content + b"<script>alert(1)</script>",
             b"GIF89a/*" + content, content[:2] + b"\xff\xfe\x00\x08<html>"[:10] + content[2:],
             from_a_camera(64, 48), photo(chance.randrange(200, 400)), content * 9_000,
             b"\xff\xd8" + b"\xff" * MOST_BYTES, as_file(picture(64, 48), "PNG"),
             as_file(picture(900, 900, noise=True), quality=95)]
        )  # fmt: skip
        headers = chance.choice([JPEG, JPEG, JPEG, {"Content-Type": "text/html"}, {}])
        if other != content:
            assert self.post(sid, name, other, headers).status_code != 200

    def lied(self) -> None:
        (sid, name), content = self.chance.choice(sorted(self.lies.items()))
        assert self.post(sid, name, content).status_code == 422

    def elsewhere(self) -> None:
        sid, name, content = self.any()
        odd = [*NASTY, name.upper(), name[:-1], f"{name}.jpg", f"../{name}", "0" * 64]
        where = self.chance.choice(odd).encode("utf-8", "replace")
        path = "".join(f"%{byte:02X}" for byte in where[:200])
        sids = [sid, new_ulid(self.chance.randrange(1 << 47)), "x", "%2e%2e"]
        target = f"/api/photo/{self.chance.choice(sids)}/{path}"
        answer = self.site.send("POST", target, content, JPEG)
        assert 400 <= answer.status_code < 500, (target, answer.text)

    def together(self) -> None:
        sid, name, content = self.any()
        with ThreadPoolExecutor(AT_ONCE) as pool:
            asked = [pool.submit(self.post, sid, name, content) for _ in range(AT_ONCE)]
            assert [one.result().status_code for one in asked] == [200] * AT_ONCE

    def refused_by_disk(self) -> None:
        """No file may grow beyond a random size; whatever was acknowledged before stays."""
        sid, name, content = self.any()
        with limited(resource.RLIMIT_FSIZE, self.chance.randrange(len(content))):
            answer = self.post(sid, name, content)
        assert answer.status_code == (200 if (sid, name) in self.kept else 503)

    def form(self) -> None:
        """From a browser without our script: anything may be in it."""
        sid, _, content = self.any()
        chance = self.chance
        sent = chance.choice(
            [from_a_camera(300, 200), as_file(picture(), "PNG"), content[: len(content) // 2], b"",
             b"BM" + bytes(200), as_file(picture(), "GIF"), chance.randbytes(500), content]
        )  # fmt: skip
        typed = {"eid": new_ulid(chance.randrange(1 << 47)), "step": "", "back": ""}
        typed["photo_kind"] = chance.choice(["nameplate", "other", *NASTY])
        typed["photo"] = chance.choice(NASTY)
        body, kind = multipart(typed, sent, chance.choice(["x.jpg", "../../x", "x.svg"]))
        answer = self.site.send("POST", f"/s/{sid}/form/photo", body, {"Content-Type": kind})
        assert answer.status_code in (303, 422), answer.text

    def on_disk(self) -> dict[tuple[str, str], bytes]:
        folder = self.site.store.root / "photos"  # type: ignore[attr-defined]
        files = [path for path in folder.rglob("*") if path.is_file()]
        return {(path.parent.name, path.stem): path.read_bytes() for path in files}


def test_what_is_acknowledged_is_there_and_nothing_else(tmp_path: Path, handbook: Handbook) -> None:
    chance = random.Random(SEED)
    count = times(30, 3_000)
    with open_site(tmp_path / "data", handbook) as site:
        attack = Attack(site, chance)
        for _ in range(count):
            attack.turn()
        found = attack.on_disk()
        assert attack.kept.items() <= found.items()
        for key, content in found.items():
            assert size_of_photo(content) is not None, key
            if key in attack.named:
                assert content == attack.named[key]
        for sid, name in attack.kept:
            shown = site.send("GET", f"/photo/{sid}/{name}.jpg")
            assert shown.content == attack.kept[sid, name]
        for sid in {sid for sid, _ in attack.named}:
            assert site.get(f"/office/session/{sid}").status == 200
            assert site.get(f"/s/{sid}/timeline").status == 200
        root = site.store.root  # type: ignore[attr-defined]
    assert check(root, outline).problems == ()
    print(f"{count} attacks on photos, {len(attack.kept)} acknowledged and whole, none other kept")
