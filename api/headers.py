"""What the heads of answers say."""

from __future__ import annotations

from collections.abc import Mapping

PROBLEM = "application/problem+json"

SECURITY_HEADERS: Mapping[str, str] = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Content-Security-Policy": (
        "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
    ),
    "Cache-Control": "no-store",
}
"""On every answer: nothing is to be framed, sniffed, run or kept unless a route says otherwise."""
