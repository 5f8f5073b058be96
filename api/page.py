"""Pages: HTML from templates, and the headers that hold browsers to what a page may do.

A page asks for nothing but our own files: no other host, no script or style within the page, no frame. Its
light is the reader's: day, red, or red after dusk, kept in a cookie, so that a page is red from its first
moment on; a white flash would cost half an hour of dark adaptation.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, tzinfo
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from scheduler.clock import clock_of
from scheduler.domain import Span
from scheduler.figures import error_words, odds_percent, odds_words, percent
from scheduler.pictures import COLOURS, themed

from .headers import KEY_COOKIE, cookie_of

PLACE = Path(__file__).parent / "pages"
CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'"
)
PAGE_HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    # Under "no-referrer" browsers hide where our own forms come from, and the guards would refuse them.
    "Referrer-Policy": "same-origin",
    "Cache-Control": "no-store",
}
LIGHT_COOKIE, TWILIT_COOKIE = "duskwright-light", "duskwright-dusk"
LIGHTS = "day", "red", "dusk"
BRIGHTEST = 5
TWILIT_NIGHTS = 14
"""Of so many nights to come a page knows when they are dark: so long a kept copy of it is lit rightly."""
_TWILIT = re.compile(r"(\d{1,11})-(\d{1,11})", re.ASCII)
_TIME = re.compile(r"(?<![\w:&#])((?:[01]\d|2[0-3]):[0-5]\d)(?![\w:;])", re.ASCII)
_DATE = re.compile(r"(?<![\w-])\d{4}-\d\d-\d\d(?![\w-])", re.ASCII)
PICTURES = {"night": "ink", "lit": "ground"}
"""Colours of pictures that pages call otherwise."""
MEDIA = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".png": "image/png",
         ".webmanifest": "application/manifest+json"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Light:
    """How a page is lit.

    Attributes
    ----------
    chosen : "day", "red", or "dusk" for red after dusk at the site shown last.
    bright : How bright red is, from 1 to 5.
    twilit : From dusk to dawn there, on the coming nights and this one; none where that is not known.
    """

    chosen: str = "day"
    bright: int = BRIGHTEST
    twilit: tuple[Span, ...] = ()

    def shown(self, now: datetime) -> str:
        """Return "red" or "day"."""
        if self.chosen != "dusk":
            return self.chosen
        return "red" if any(one.start <= now < one.end for one in self.twilit) else "day"

    @property
    def twilit_told(self) -> str:
        """The nights as cookies and scripts know them: "1799431200-1799478000.1799517660-…", say. [Unix s]"""
        return ".".join(f"{one.start.timestamp():.0f}-{one.end.timestamp():.0f}" for one in self.twilit)


def light_of(request: Request) -> Light:
    """Return how the reader wants pages lit; by day where the cookie says nothing readable."""
    lines = request.scope["headers"]
    chosen, _, bright = (cookie_of(lines, LIGHT_COOKIE) or "").partition("-")
    return Light(
        chosen if chosen in LIGHTS else "day",
        int(bright) if bright in {str(step) for step in range(1, BRIGHTEST + 1)} else BRIGHTEST,
        tuple(_twilit_in(cookie_of(lines, TWILIT_COOKIE) or "")),
    )  # fmt: skip


def _twilit_in(told: str) -> Iterator[Span]:
    """Read nights as `Light.twilit_told` has them; what cannot be read is none."""
    for one in told.split(".")[:TWILIT_NIGHTS]:
        found = _TWILIT.fullmatch(one)
        if found and int(found[1]) < int(found[2]):
            yield Span(*(datetime.fromtimestamp(int(moment_unix_s), UTC) for moment_unix_s in found.groups()))


def page(
    request: Request, template: str, *, status: int = 200, headers: Mapping[str, str] | None = None,
    twilit: tuple[Span, ...] = (), **shown: Any,
) -> Response:  # fmt: skip
    """Return a page.

    Parameters
    ----------
    template : Name of its template.
    headers : Beside the standing ones of pages.
    twilit : When the Sun is well below the horizon at the site shown, tonight and on the nights to come: then
        red is wanted, if red is wanted after dusk.
    shown : What the template shows.
    """
    light, now = light_of(request), datetime.now(UTC)
    nights = twilit or light.twilit
    light = replace(light, twilit=tuple(one for one in nights if one.end > now))
    text = _templates().get_template(template).render(
        shown, light=light, lit=light.shown(now), signed_in=bool(cookie_of(request.scope["headers"],
        KEY_COOKIE)), here=_here(request), now=now, static=address_of,
    )  # fmt: skip
    answer = HTMLResponse(text, status, {**PAGE_HEADERS, **(headers or {})})
    if twilit:
        told = replace(light, twilit=twilit).twilit_told
        answer.set_cookie(TWILIT_COOKIE, told, TWILIT_NIGHTS * 86_400, samesite="strict")
    return answer


def led_to(address: str) -> Response:
    """Return an answer that leads a browser on after a form was taken in (RFC 9110, section 15.4.4)."""
    return RedirectResponse(address, 303, {"Cache-Control": "no-store"})


def own_address(read: str | None) -> str:
    """Return an address of this service to lead on to; the front page where what was read is none.

    Examples
    --------
    >>> own_address("/year/3f9a0c52d1e84b7766aa"), own_address("//elsewhere.example/"), own_address(None)
    ('/year/3f9a0c52d1e84b7766aa', '/', '/')
    """
    plain = read is not None and read.isascii() and read.isprintable() and "\\" not in read
    return read if plain and read and read[0] == "/" and read[:2] != "//" else "/"


@cache
def statics() -> Mapping[str, tuple[bytes, str]]:
    """Return the fixed files of pages by name, each with its digest."""
    files = (path for path in sorted((PLACE / "static").iterdir()) if path.suffix in MEDIA)
    whole = {path.name: path.read_bytes() for path in files}
    whole["pictures.css"] = themed({name: f"var(--{PICTURES.get(name, name)})" for name in COLOURS}).encode()
    return {name: (content, sha256(content).hexdigest()[:16]) for name, content in whole.items()}


def address_of(name: str) -> str:
    """Return where a fixed file is; another address for each content, so that it may be kept for good."""
    return f"/static/{name}?{urlencode({'v': statics()[name][1]})}"


def _here(request: Request) -> str:
    """Return the address that shows this page again; the front where it was the answer to a form."""
    if request.scope["method"] != "GET":
        return "/"
    query = request.url.query
    return request.url.path + (f"?{query}" if query else "")


@cache
def _templates() -> Environment:
    made = Environment(
        loader=FileSystemLoader(PLACE / "templates"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.filters |= {"day": day_words, "day_long": long_day_words, "clock": clock_words, "percent": percent,
                     "timed": timed, "dated": dated, "at": time_at}  # fmt: skip
    made.globals |= {"odds_percent": odds_percent, "odds_words": odds_words, "error_words": error_words}
    return made


def day_words(one: date) -> str:
    """Return a date as in "Fri 8 Jan"."""
    return f"{one:%a} {one.day} {one:%b}"


def long_day_words(one: date) -> str:
    """Return a date as in "Friday 8 January 2027"."""
    return f"{one:%A} {one.day} {one:%B %Y}"


def clock_words(moment: datetime, zone: tzinfo) -> str:
    """Return the local time of a moment, as in "21:05", or "01:30 GMT" where it comes twice."""
    return clock_of(moment, zone)


def time_at(moment: datetime, zone: tzinfo) -> Markup:
    """Return the local time of a moment as a `<time>` that machines read too."""
    told = moment.astimezone(zone).isoformat(timespec="minutes")
    return Markup('<time datetime="{}">{}</time>').format(told, clock_words(moment, zone))


def timed(words: str) -> Markup:
    """Return words with every time of day in them as a `<time>`; all else in them is text.

    Examples
    --------
    >>> print(timed("out from 18:08 <b> at 7:00"))
    out from <time>18:08</time> &lt;b&gt; at 7:00
    """
    return Markup(_TIME.sub(r"<time>\1</time>", str(escape(words))))


def dated(words: str) -> Markup:
    """Return words with every date in them told as a day, as in "Wed 4 Nov"; all else in them is text.

    Examples
    --------
    >>> print(dated("not seen <b> on 2026-11-04, nor on 2026-13-04"))
    not seen &lt;b&gt; on <time datetime="2026-11-04">Wed 4 Nov</time>, nor on 2026-13-04
    """
    return Markup(_DATE.sub(_day_in_words, str(escape(words))))


def _day_in_words(found: re.Match[str]) -> str:
    try:
        day = date.fromisoformat(found[0])
    except ValueError:
        return found[0]
    return f'<time datetime="{day}">{day_words(day)}</time>'
