"""What the heads of requests and answers say."""

from __future__ import annotations

import re
from collections.abc import Mapping

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


def takes_gzip(accept_encoding: str) -> bool:
    """Tell whether an Accept-Encoding header takes gzip by name (RFC 9110, section 12.5.3).

    Examples
    --------
    >>> takes_gzip("br, gzip;q=0.5"), takes_gzip("gzip; q=0"), takes_gzip("*"), takes_gzip("")
    (True, False, False, False)
    """
    return any(_GZIP.fullmatch(one) for one in accept_encoding.split(","))
