"""What the heads of requests and answers say, read and written as they come: every request passes here."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

Lines = Iterable[tuple[bytes, bytes]]
"""The lines of a head as servers give and take them, names in lower case."""

PROBLEM = "application/problem+json"

SECURITY_HEADERS: Mapping[str, str] = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Embedder-Policy": "require-corp",
    "Permissions-Policy": "camera=(), display-capture=(), geolocation=(), microphone=(), payment=(), usb=()",
    "X-Frame-Options": "DENY",
    "X-Permitted-Cross-Domain-Policies": "none",
    "Content-Security-Policy": (
        "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
    ),
    "Cache-Control": "no-store",
}
"""On every answer: nothing is to be framed, sniffed, run or kept unless a route says otherwise.

After the secure headers project's advice (OWASP, from memory). Strict-Transport-Security is the proxy's,
which holds the certificate; X-Frame-Options says to old browsers what the policy says to new ones.
"""

_GZIP = re.compile(r"\s*(?i:gzip)\s*(;\s*[qQ]=(?!0(\.0{0,3})?\s*$)[0-9.]+\s*)?")
_STANDING = tuple((name.lower().encode(), value.encode()) for name, value in SECURITY_HEADERS.items())


def line_of(lines: Lines, name: bytes) -> str | None:
    """Return the first line of a head with this name, None where there is none.

    Examples
    --------
    >>> line_of([(b"host", b"a.example"), (b"host", b"b.example")], b"host")
    'a.example'
    """
    return next((value.decode("latin-1") for known, value in lines if known == name), None)


def add_standing(lines: list[tuple[bytes, bytes]]) -> None:
    """Add the standing lines that a head has not yet.

    Examples
    --------
    >>> lines = [(b"cache-control", b"private")]
    >>> add_standing(lines)
    >>> len(lines) == len(SECURITY_HEADERS), line_of(lines, b"cache-control")
    (True, 'private')
    """
    known = {name for name, _ in lines}
    lines += [line for line in _STANDING if line[0] not in known]


def takes_gzip(accept_encoding: str) -> bool:
    """Tell whether an Accept-Encoding header takes gzip by name (RFC 9110, section 12.5.3).

    Examples
    --------
    >>> takes_gzip("br, gzip;q=0.5"), takes_gzip("gzip; q=0"), takes_gzip("*"), takes_gzip("")
    (True, False, False, False)
    """
    return any(_GZIP.fullmatch(one) for one in accept_encoding.split(","))
