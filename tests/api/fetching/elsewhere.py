"""A server elsewhere that speaks TLS with a certificate made here, on this machine for all that."""

from __future__ import annotations

import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

HOST = "calendars.example.org"

Answer = Callable[[ssl.SSLSocket, bytes], None]
"""Answers a request, whose head is given, on its connection."""


def certified(folder: Path, host: str = HOST) -> tuple[Path, Path]:
    """Return a certificate for a host that signed itself, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, host)])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1)).not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(host)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    certificate, secret = folder / f"{host}.pem", folder / f"{host}.key"
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    secret.write_bytes(key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    ))  # fmt: skip
    return certificate, secret


@dataclass
class Elsewhere:
    """A server at a port of this machine; what it was asked is kept, with the names it was called by."""

    port: int
    answers: dict[str, Answer] = field(default_factory=dict)
    asked: list[bytes] = field(default_factory=list)
    called: list[str | None] = field(default_factory=list)

    def address(self, path: str, host: str = HOST) -> str:
        return f"https://{host}:{self.port}{path}"


def plain(status: str, body: bytes = b"", *headers: str) -> Answer:
    """Answer like this."""

    def answer(connection: ssl.SSLSocket, head: bytes) -> None:
        told = [f"HTTP/1.1 {status}", f"Content-Length: {len(body)}", "Connection: close", *headers]
        connection.sendall("\r\n".join([*told, "", ""]).encode() + body)

    return answer


@contextmanager
def elsewhere(certificate: Path, key: Path) -> Iterator[Elsewhere]:
    """Run a server until the test is over."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)
    listener = socket.create_server(("127.0.0.1", 0))
    server = Elsewhere(listener.getsockname()[1])

    def note(connection: ssl.SSLObject | ssl.SSLSocket, name: str | None, context: ssl.SSLContext) -> None:
        server.called.append(name)

    context.sni_callback = note

    def serve(taken: socket.socket) -> None:
        with suppress(OSError), context.wrap_socket(taken, server_side=True) as connection:
            head = b""
            while b"\r\n\r\n" not in head and (part := connection.recv(65536)):
                head += part
            server.asked.append(head)
            path = head.split(b" ")[1].decode() if head else ""
            server.answers.get(path, plain("404 Not Found"))(connection, head)

    def listen() -> None:
        with suppress(OSError):
            while True:
                taken, _ = listener.accept()
                threading.Thread(target=serve, args=(taken,), daemon=True).start()

    threading.Thread(target=listen, daemon=True).start()
    try:
        yield server
    finally:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()
