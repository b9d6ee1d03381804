"""This server's own certificate authority, for https where no public authority reaches.

It may only ever vouch for the names it was made with (RFC 5280 §4.2.1.10, name constraints, marked
critical), so a phone that trusts it trusts nobody new about any other site, not even if the key is
stolen. The certificate phones see (the leaf) is made again here before it runs out.

Limits: Apple takes a leaf of an authority added by hand for at most 825 days (its support page
HT210176), with EKU serverAuth and the name in the alternative names; common practice elsewhere.
"""

import socket
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Network, IPv6Network, ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from lowside.web.access.secret_file import read_secret, write_secret

FOLDER = "authority"
AUTHORITY_LIVES = timedelta(days=3650)
LEAF_LIVES = timedelta(days=90)
LEAF_RENEWED_BEFORE = timedelta(days=30)
CLOCK_SLACK = timedelta(days=1)
"""Valid from before it was made: a phone's clock may be behind."""
NO_DNS_NAME = "invalid"
"""Used where no DNS name was chosen: without one, DNS names would not be constrained at all.
RFC 2606 promises that it never exists."""


class AuthorityError(Exception):
    """There is no usable certificate; the message is the sentence the user reads."""


@dataclass(frozen=True)
class Authority:
    """The authority in one data folder."""

    folder: Path
    certificate: x509.Certificate
    names: tuple[str, ...]
    """DNS names and IP addresses it may vouch for."""

    @property
    def leaf_path(self) -> Path:
        return self.folder / "server.crt"

    @property
    def leaf_key_path(self) -> Path:
        return self.folder / "server.key"

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate as phones show it: pairs of hexadecimal digits."""
        return self.certificate.fingerprint(hashes.SHA256()).hex(" ").upper()

    def for_phones(self) -> bytes:
        """The authority's certificate in the form phones install (DER)."""
        return self.certificate.public_bytes(serialization.Encoding.DER)

    def renew_leaf(self, now: datetime) -> bool:
        """Make the leaf when it is missing or soon runs out; whether it was made.

        Raises
            AuthorityError: the authority itself runs out before a new leaf would.
            OSError: the disk refused.
        """
        if self._leaf_lasts(now):
            return False
        if self.certificate.not_valid_after_utc < now + LEAF_LIVES:
            raise AuthorityError(
                f"The certificate authority in {self.folder} runs out on "
                f"{self.certificate.not_valid_after_utc:%Y-%m-%d}. Start once with "
                "--new-authority. Every phone must then trust the new one."
            )
        authority_key = _key_from(self.folder / "authority.key")
        key = ec.generate_private_key(ec.SECP256R1())
        leaf = _leaf(self.certificate, authority_key, key, self.names, now)
        # The key first: a certificate without its key would be served by nobody.
        write_secret(self.leaf_key_path, _pem_of(key))
        chain = leaf.public_bytes(serialization.Encoding.PEM) + self.certificate.public_bytes(
            serialization.Encoding.PEM
        )
        write_secret(self.leaf_path, chain)
        return True

    def _leaf_lasts(self, now: datetime) -> bool:
        try:
            leaf = x509.load_pem_x509_certificate(self.leaf_path.read_bytes())
            key = _key_from(self.leaf_key_path)
        except (FileNotFoundError, ValueError):
            return False
        return (
            leaf.issuer == self.certificate.subject
            and leaf.public_key() == key.public_key()
            and leaf.not_valid_before_utc <= now
            and now + LEAF_RENEWED_BEFORE < leaf.not_valid_after_utc
        )


def open_authority(
    data: Path, names: tuple[str, ...], now: datetime, new: bool = False
) -> Authority:
    """The authority of this data folder, made when there is none or `new` is set.

    Args:
        data: the data folder.
        names: DNS names and IP addresses phones open this server by; at least one.
        now: with its time zone.
        new: replace the one there is. Every phone must then trust the new one.

    Raises
        AuthorityError: it may not vouch for one of the names, or its files cannot be used.
        SecretError: other users of this machine may read its key.
        OSError: the disk refused.
    """
    folder = data / FOLDER
    path = folder / "authority.crt"
    wanted = tuple(dict.fromkeys(map(checked_host, names)))
    if not wanted:
        raise AuthorityError("Give the name or the address that phones use for this server.")
    key_path = folder / "authority.key"
    # A key without its certificate is what a phone trusts already: it is not replaced unasked.
    if new or not (path.exists() or key_path.exists()):
        _make(folder, path, wanted, now)
    try:
        certificate = x509.load_pem_x509_certificate(path.read_bytes())
        key = _key_from(key_path)
    except (ValueError, FileNotFoundError) as error:
        raise AuthorityError(
            f"The certificate authority in {folder} cannot be read ({error}). Put the folder back "
            "from a copy, or start once with --new-authority."
        ) from error
    if certificate.public_key() != key.public_key():
        raise AuthorityError(f"The certificate and the key in {folder} do not belong together.")
    may = constrained_names(certificate)
    missing = [name for name in wanted if name not in may]
    if missing:
        raise AuthorityError(
            f"The certificate authority here vouches for {', '.join(may)} only, not for "
            f"{', '.join(missing)}. Phones keep their unsent work under the old address. Let them "
            "send first. Then start once with --new-authority and trust the new one on each."
        )
    return Authority(folder, certificate, may)


def constrained_names(certificate: x509.Certificate) -> tuple[str, ...]:
    """The names an authority may vouch for, in the order they were chosen.

    Raises
        AuthorityError: it is not constrained.
    """
    try:
        constraints = certificate.extensions.get_extension_for_class(x509.NameConstraints).value
    except x509.ExtensionNotFound:
        raise AuthorityError("This certificate authority is not bound to any names.") from None
    names = []
    for subtree in constraints.permitted_subtrees or ():
        if isinstance(subtree, x509.DNSName) and subtree.value != NO_DNS_NAME:
            names.append(subtree.value)
        elif isinstance(subtree.value, IPv4Network | IPv6Network):
            names.append(str(subtree.value.network_address))
    return tuple(names)


def checked_host(typed: str) -> str:
    """A DNS name or IP address as it is compared, without port.

    Raises
        AuthorityError: it is neither.
    """
    name = typed.strip().lower().strip("[]").removesuffix(".")
    if _is_ip(name):
        return str(ip_address(name))
    labels = name.split(".")
    if len(name) > 253 or name.replace(".", "").isdigit() or not all(map(_is_label, labels)):
        raise AuthorityError(f"{typed!r} is not a host name or an IP address.")
    return name


def lan_address() -> str:
    """This machine's address on its network, as its routes have it; nothing is sent for it.

    Raises
        AuthorityError: there is no route to anywhere.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            # RFC 5737: an address for documentation. Connecting a datagram socket sends nothing.
            asking.connect(("192.0.2.1", 9))
            found = str(asking.getsockname()[0])
        except OSError:
            found = "127.0.0.1"
    if ip_address(found).is_loopback:
        raise AuthorityError(
            "This machine has no address on a network now. Give the name or address phones use, "
            "as --name 192.168.1.20."
        )
    return found


def _make(folder: Path, path: Path, names: tuple[str, ...], now: datetime) -> None:
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Lowside"),
            x509.NameAttribute(
                NameOID.COMMON_NAME, f"Lowside on {names[0][:30]}, {now:%Y-%m-%d %H:%M:%S}"
            ),
        ]
    )
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCK_SLACK)
        .not_valid_after(now + AUTHORITY_LIVES)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_key_usage(authority=True), critical=True)
        .add_extension(_constraints(names), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    write_secret(folder / "authority.key", _pem_of(key))
    write_secret(path, certificate.public_bytes(serialization.Encoding.PEM))


def _constraints(names: tuple[str, ...]) -> x509.NameConstraints:
    networks: list[IPv4Network | IPv6Network] = [ip_network(n) for n in names if _is_ip(n)]
    dns = [name for name in names if not _is_ip(name)] or [NO_DNS_NAME]
    permitted = [*map(x509.DNSName, dns), *map(x509.IPAddress, networks)]
    # A kind of address that is not permitted at all must be excluded as a whole.
    excluded = [
        x509.IPAddress(everything)
        for everything in (ip_network("0.0.0.0/0"), ip_network("::/0"))
        if all(network.version != everything.version for network in networks)
    ]
    return x509.NameConstraints(permitted, excluded or None)


def _leaf(
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    key: ec.EllipticCurvePrivateKey,
    names: tuple[str, ...],
    now: datetime,
) -> x509.Certificate:
    alternatives = [
        x509.IPAddress(ip_address(name)) if _is_ip(name) else x509.DNSName(name) for name in names
    ]
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Lowside server")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCK_SLACK)
        .not_valid_after(now + LEAF_LIVES)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(authority=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()),
            critical=False,
        )
        .sign(authority_key, hashes.SHA256())
    )


def _key_usage(authority: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not authority,
        key_cert_sign=authority,
        crl_sign=authority,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _pem_of(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def _key_from(path: Path) -> ec.EllipticCurvePrivateKey:
    key = serialization.load_pem_private_key(read_secret(path), None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise ValueError(f"{path} holds a key of another kind")
    return key


def _is_ip(name: str) -> bool:
    try:
        ip_address(name)
    except ValueError:
        return False
    return True


def _is_label(label: str) -> bool:
    plain = label.replace("-", "")
    return (
        0 < len(label) <= 63
        and label.isascii()
        and plain.isalnum()
        and not label.startswith("-")
        and not label.endswith("-")
    )


def utc_now() -> datetime:
    """Now, as certificates tell time."""
    return datetime.now(UTC)
