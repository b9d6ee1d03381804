"""The built-in certificate authority: whom phones then trust, for how long, and nobody else."""

import asyncio
import os
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509 import verification
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from lowside.web.access import authority as module
from lowside.web.access.authority import (
    AUTHORITY_LIVES,
    LEAF_LIVES,
    LEAF_RENEWED_BEFORE,
    Authority,
    AuthorityError,
    checked_host,
    constrained_names,
    lan_address,
    open_authority,
)
from lowside.web.access.secret_file import SecretError, read_secret

NOW = datetime.now(UTC).replace(microsecond=0)
NAMES = ("shop.lowside.test", "127.0.0.1")
APPLE_LONGEST = timedelta(days=825)
"""Apple support page HT210176: the longest a leaf of an authority added by hand may last."""


@pytest.fixture
def opened(tmp_path: Path) -> Authority:
    found = open_authority(tmp_path, NAMES, NOW)
    found.renew_leaf(NOW)
    return found


def leaf_of(authority: Authority) -> x509.Certificate:
    return x509.load_pem_x509_certificate(authority.leaf_path.read_bytes())


def verified(authority: x509.Certificate, leaf: x509.Certificate, name: str) -> int:
    """Length of the chain `cryptography` builds for this name."""
    subject: x509.IPAddress | x509.DNSName
    try:
        subject = x509.IPAddress(ip_address(name))
    except ValueError:
        subject = x509.DNSName(name)
    verifier = (
        verification.PolicyBuilder()
        .store(verification.Store([authority]))
        .time(NOW)
        .build_server_verifier(subject)
    )
    return len(verifier.verify(leaf, []))


def forged_leaf(authority: Authority, folder: Path, names: list[x509.GeneralName]) -> Path:
    """What someone who stole the authority's key would make: a leaf for other names."""
    stolen = serialization.load_pem_private_key(
        (authority.folder / "authority.key").read_bytes(), None
    )
    assert isinstance(stolen, ec.EllipticCurvePrivateKey)
    key = ec.generate_private_key(ec.SECP256R1())
    leaf = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Forged leaf")]))
        .issuer_name(authority.certificate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - timedelta(days=1))
        .not_valid_after(NOW + timedelta(days=30))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(stolen.public_key()),
            critical=False,
        )
        .sign(stolen, hashes.SHA256())
    )
    path = folder / "forged.pem"
    path.write_bytes(
        leaf.public_bytes(serialization.Encoding.PEM)
        + key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return path


@contextmanager
def tls_server(certificate: Path, key: Path) -> Iterator[int]:
    """The port of a real TLS server that shows this certificate."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)
    ready = threading.Event()
    stop: asyncio.Event
    loop: asyncio.AbstractEventLoop
    port = 0

    async def serve() -> None:
        nonlocal stop, loop, port
        stop, loop = asyncio.Event(), asyncio.get_running_loop()
        loop.set_exception_handler(lambda _loop, _context: None)  # refused handshakes are expected

        async def greet(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            writer.write(b"hello")
            await writer.drain()
            writer.close()

        server = await asyncio.start_server(greet, "127.0.0.1", 0, ssl=context)
        async with server:
            port = server.sockets[0].getsockname()[1]
            ready.set()
            await stop.wait()

    thread = threading.Thread(target=lambda: asyncio.run(serve()))
    thread.start()
    assert ready.wait(60)
    try:
        yield port
    finally:
        loop.call_soon_threadsafe(stop.set)
        thread.join(20)


def greeted(authority: Authority, port: int, name: str) -> bytes:
    """What a TLS client that trusts only this authority reads; SSLError when it refuses."""
    context = ssl.create_default_context(cadata=authority.for_phones())
    with (
        closing(socket.create_connection(("127.0.0.1", port), 20)) as plain,
        context.wrap_socket(plain, server_hostname=name) as secure,
    ):
        return secure.recv(16)


# The chain


@pytest.mark.parametrize("name", NAMES)
def test_the_chain_is_good_for_each_chosen_name(opened: Authority, name: str) -> None:
    assert verified(opened.certificate, leaf_of(opened), name) == 2


@pytest.mark.parametrize("name", ["other.test", "lowside.test", "10.0.0.1"])
def test_the_chain_is_good_for_no_other_name(opened: Authority, name: str) -> None:
    with pytest.raises(verification.VerificationError):
        verified(opened.certificate, leaf_of(opened), name)


@pytest.mark.parametrize("name", NAMES)
def test_a_real_tls_client_takes_it(opened: Authority, name: str) -> None:
    with tls_server(opened.leaf_path, opened.leaf_key_path) as port:
        assert greeted(opened, port, name) == b"hello"


def test_a_real_tls_client_without_the_authority_refuses_it(opened: Authority) -> None:
    context = ssl.create_default_context()
    with (
        tls_server(opened.leaf_path, opened.leaf_key_path) as port,
        closing(socket.create_connection(("127.0.0.1", port), 20)) as plain,
        pytest.raises(ssl.SSLCertVerificationError, match="self-signed"),
    ):
        context.wrap_socket(plain, server_hostname=NAMES[0])


OTHERS = [
    (x509.DNSName("bank.example"), "bank.example"),
    (x509.DNSName("lowside.test"), "lowside.test"),
    (x509.IPAddress(ip_address("127.0.0.2")), "127.0.0.2"),
    (x509.IPAddress(ip_address("::1")), "::1"),
]


@pytest.mark.parametrize(("entry", "name"), OTHERS)
def test_a_stolen_authority_key_vouches_for_no_other_name(
    opened: Authority, tmp_path: Path, entry: x509.GeneralName, name: str
) -> None:
    """RFC 5280 §4.2.1.10: the name is right for the leaf, and the constraint refuses it."""
    forged = forged_leaf(opened, tmp_path, [entry])
    with tls_server(forged, forged) as port, pytest.raises(ssl.SSLCertVerificationError) as caught:
        greeted(opened, port, name)
    assert "subtree violation" in str(caught.value)
    with pytest.raises(verification.VerificationError):
        verified(opened.certificate, x509.load_pem_x509_certificate(forged.read_bytes()), name)


def test_the_same_forgery_for_a_chosen_name_is_taken(opened: Authority, tmp_path: Path) -> None:
    """So that the refusals above are the constraint's doing and nothing else's."""
    forged = forged_leaf(opened, tmp_path, [x509.DNSName(NAMES[0])])
    with tls_server(forged, forged) as port:
        assert greeted(opened, port, NAMES[0]) == b"hello"


@pytest.mark.parametrize("names", [("192.168.1.20",), ("shop.test",), ("fd00::1",)])
def test_kinds_of_names_that_were_not_chosen_are_excluded_too(
    tmp_path: Path, names: tuple[str, ...]
) -> None:
    found = open_authority(tmp_path, names, NOW)
    for entry, name in (*OTHERS, (x509.DNSName("a.test"), "a.test")):
        forged = forged_leaf(found, tmp_path, [entry])
        with tls_server(forged, forged) as port, pytest.raises(ssl.SSLCertVerificationError):
            greeted(found, port, name)


def test_the_constraint_is_critical_and_the_authority_makes_no_other(opened: Authority) -> None:
    extensions = opened.certificate.extensions
    assert extensions.get_extension_for_class(x509.NameConstraints).critical
    basic = extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical
    assert basic.value.ca
    assert basic.value.path_length == 0
    assert constrained_names(opened.certificate) == NAMES


def test_an_authority_without_a_constraint_is_not_used(tmp_path: Path) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Any")])
    bare = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(NOW)
        .not_valid_after(NOW + timedelta(days=1))
        .sign(key, hashes.SHA256())
    )
    open_authority(tmp_path, NAMES, NOW)
    folder = tmp_path / module.FOLDER
    (folder / "authority.crt").write_bytes(bare.public_bytes(serialization.Encoding.PEM))
    (folder / "authority.key").write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    with pytest.raises(AuthorityError, match="not bound"):
        open_authority(tmp_path, NAMES, NOW)


# Keys


def test_keys_are_for_this_user_alone(opened: Authority) -> None:
    for path in (opened.folder / "authority.key", opened.leaf_key_path):
        assert path.stat().st_mode & 0o777 == 0o600
    assert opened.folder.stat().st_mode & 0o777 == 0o700


def test_a_loose_umask_does_not_loosen_them(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        found = open_authority(tmp_path, NAMES, NOW)
        found.renew_leaf(NOW)
    finally:
        os.umask(before)
    assert (found.folder / "authority.key").stat().st_mode & 0o777 == 0o600
    assert found.leaf_key_path.stat().st_mode & 0o777 == 0o600


def test_a_key_that_others_may_read_is_not_used(opened: Authority, tmp_path: Path) -> None:
    (opened.folder / "authority.key").chmod(0o640)
    with pytest.raises(SecretError, match="chmod 600"):
        open_authority(tmp_path, NAMES, NOW)


def test_what_phones_get_holds_no_key(opened: Authority) -> None:
    given = x509.load_der_x509_certificate(opened.for_phones())
    assert given == opened.certificate
    secret = read_secret(opened.folder / "authority.key")
    assert secret not in opened.for_phones()
    assert b"PRIVATE" not in opened.for_phones()


# Time


def test_the_leaf_lasts_less_than_phones_allow() -> None:
    assert LEAF_LIVES + module.CLOCK_SLACK < APPLE_LONGEST
    assert LEAF_RENEWED_BEFORE < LEAF_LIVES


def test_a_leaf_that_lasts_is_kept(opened: Authority) -> None:
    before = opened.leaf_path.read_bytes()
    assert not opened.renew_leaf(NOW)
    assert not opened.renew_leaf(NOW + LEAF_LIVES - LEAF_RENEWED_BEFORE - timedelta(hours=1))
    assert opened.leaf_path.read_bytes() == before


def test_a_leaf_that_soon_runs_out_is_made_anew_by_the_same_authority(opened: Authority) -> None:
    before = leaf_of(opened)
    later = NOW + LEAF_LIVES - LEAF_RENEWED_BEFORE + timedelta(hours=1)
    assert opened.renew_leaf(later)
    fresh = leaf_of(opened)
    assert fresh.not_valid_after_utc == later + LEAF_LIVES
    assert fresh.serial_number != before.serial_number
    fresh.verify_directly_issued_by(opened.certificate)


@pytest.mark.parametrize("lost", ["server.crt", "server.key"])
def test_a_lost_or_damaged_leaf_is_made_anew(opened: Authority, lost: str) -> None:
    (opened.folder / lost).unlink()
    assert opened.renew_leaf(NOW)
    assert verified(opened.certificate, leaf_of(opened), NAMES[0]) == 2
    (opened.folder / lost).write_bytes(b"damaged")
    (opened.folder / lost).chmod(0o600)
    assert opened.renew_leaf(NOW)
    assert verified(opened.certificate, leaf_of(opened), NAMES[0]) == 2


def test_a_leaf_and_a_key_that_do_not_belong_together_are_made_anew(
    opened: Authority, tmp_path: Path
) -> None:
    """As a power cut between the two files leaves them."""
    other = open_authority(tmp_path / "other", NAMES, NOW)
    other.renew_leaf(NOW)
    opened.leaf_key_path.write_bytes(other.leaf_key_path.read_bytes())
    assert opened.renew_leaf(NOW)
    with tls_server(opened.leaf_path, opened.leaf_key_path) as port:
        assert greeted(opened, port, NAMES[0]) == b"hello"


def test_a_clock_a_day_behind_still_takes_it(opened: Authority) -> None:
    assert leaf_of(opened).not_valid_before_utc <= NOW - timedelta(days=1)


def test_an_authority_that_runs_out_says_so_in_time(opened: Authority) -> None:
    late = NOW + AUTHORITY_LIVES - LEAF_LIVES + timedelta(days=1)
    with pytest.raises(AuthorityError, match="--new-authority"):
        opened.renew_leaf(late)


# Names


def test_the_same_authority_serves_again(opened: Authority, tmp_path: Path) -> None:
    assert open_authority(tmp_path, NAMES, NOW).fingerprint == opened.fingerprint
    assert open_authority(tmp_path, NAMES[:1], NOW).fingerprint == opened.fingerprint


def test_a_new_name_needs_a_new_authority_and_says_what_that_costs(
    opened: Authority, tmp_path: Path
) -> None:
    with pytest.raises(AuthorityError, match="unsent work under the old address"):
        open_authority(tmp_path, ("192.168.1.9",), NOW)
    fresh = open_authority(tmp_path, ("192.168.1.9",), NOW, new=True)
    assert fresh.fingerprint != opened.fingerprint
    assert fresh.renew_leaf(NOW)
    assert verified(fresh.certificate, leaf_of(fresh), "192.168.1.9") == 2


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Shop.Lowside.Test.", "shop.lowside.test"),
        ("[FD00::1]", "fd00::1"),
        (" 192.168.1.20 ", "192.168.1.20"),
        ("office-pc", "office-pc"),
    ],
)
def test_a_host_is_compared_in_one_way(typed: str, kept: str) -> None:
    assert checked_host(typed) == kept


@pytest.mark.parametrize(
    "typed",
    ["", "a..b", "-a", "a-", "a_b", "*.shop.test", "shop.test:443", "http://x", "1.2.3", "ü.test"],
)
def test_what_is_no_host_is_refused(typed: str) -> None:
    with pytest.raises(AuthorityError):
        checked_host(typed)


def test_no_names_are_refused(tmp_path: Path) -> None:
    with pytest.raises(AuthorityError):
        open_authority(tmp_path, (), NOW)


class Routed:
    """A datagram socket on a machine whose route leads out by `address`; "" when none does."""

    def __init__(self, address: str) -> None:
        self.address = address

    def __enter__(self) -> "Routed":
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def connect(self, _to: tuple[str, int]) -> None:
        if self.address == "":
            raise OSError("Network is unreachable")

    def getsockname(self) -> tuple[str, int]:
        return (self.address, 4711)


def test_without_a_name_this_machine_s_address_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module.socket, "socket", lambda *_: Routed("192.168.7.8"))
    assert lan_address() == "192.168.7.8"


@pytest.mark.parametrize("address", ["", "127.0.1.1"])
def test_without_a_network_it_says_what_to_give(
    monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    monkeypatch.setattr(module.socket, "socket", lambda *_: Routed(address))
    with pytest.raises(AuthorityError, match="--name"):
        lan_address()


@pytest.mark.parametrize("lost", ["authority.key", "authority.crt"])
def test_a_lost_half_is_told_and_the_other_is_kept(
    opened: Authority, tmp_path: Path, lost: str
) -> None:
    """What is left is what the phones trust: it goes only when it is asked for."""
    (opened.folder / lost).unlink()
    left = {path: path.read_bytes() for path in opened.folder.iterdir()}
    with pytest.raises(AuthorityError, match="cannot be read"):
        open_authority(tmp_path, NAMES, NOW)
    assert {path: path.read_bytes() for path in opened.folder.iterdir()} == left
    assert open_authority(tmp_path, NAMES, NOW, new=True).folder == opened.folder
