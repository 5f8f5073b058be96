"""What the heads of requests and answers say, read and written as they come: every request passes here."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

Lines = Iterable[tuple[bytes, bytes]]
"""The lines of a head as servers give and take them, names in lower case."""

PROBLEM = "application/problem+json"
KEY_COOKIE = "duskwright-key"
"""The cookie in which a browser that signed in keeps its key; no script can read it."""

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


def cookie_of(lines: Lines, name: str) -> str | None:
    """Return the value of a cookie, None where none of this name was sent (RFC 6265, section 4.2.1).

    Examples
    --------
    >>> cookie_of([(b"cookie", b"light=red; duskwright-key=ab.cd")], "duskwright-key")
    'ab.cd'
    """
    pairs = (pair.strip().partition("=") for pair in (line_of(lines, b"cookie") or "").split(";"))
    return next((value.strip() for known, _, value in pairs if known == name), None)


def token_of(lines: Lines) -> str | None:
    """Return the key a request brings, as a bearer token or else in the cookie of who signed in.

    Examples
    --------
    >>> token_of([(b"authorization", b"Bearer ab.cd"), (b"cookie", b"duskwright-key=ef.gh")])
    'ab.cd'
    >>> token_of([(b"cookie", b"duskwright-key=ef.gh")])
    'ef.gh'
    """
    scheme, _, token = (line_of(lines, b"authorization") or "").partition(" ")
    return token.strip() if scheme.lower() == "bearer" else cookie_of(lines, KEY_COOKIE)


def wants_page(lines: Lines) -> bool:
    """Tell whether who asks is a browser that opens an address: it names HTML among what it takes."""
    return "text/html" in (line_of(lines, b"accept") or "")


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
