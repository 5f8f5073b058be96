"""What is asked of a calendar server in XML, and what it answers, read with bounds and without entities.

References
----------
L. Dusseault (ed.), "HTTP Extensions for Web Distributed Authoring and Versioning (WebDAV)", RFC 4918, 2007,
sections 9.1 (PROPFIND), 14.16 (multistatus).
C. Daboo, B. Desruisseaux, L. Dusseault, "Calendaring Extensions to WebDAV (CalDAV)", RFC 4791, 2007, sections
5.2.3 (supported components), 7.9 (calendar-multiget).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import unquote, urlsplit
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat
from xml.sax.saxutils import escape

DAV, CALDAV = "{DAV:}", "{urn:ietf:params:xml:ns:caldav}"
MOST_ELEMENTS = 100_000
DEEPEST = 40
_HEAD = '<?xml version="1.0" encoding="utf-8"?>\n'
_NAMES = 'xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav"'

ABOUT_COLLECTION = (
    f"{_HEAD}<propfind {_NAMES}><prop><resourcetype/><C:supported-calendar-component-set/></prop></propfind>"
)


class NotXml(ValueError):
    """An answer that is no XML, or more of it than a calendar server has reason to send."""


@dataclass(frozen=True, slots=True)
class Resource:
    """What an answer tells of one resource: its path, decoded, and its properties; None if missing."""

    path: str
    properties: Mapping[str, Element] | None

    def text(self, name: str) -> str | None:
        """Return the text of a property, None where it is not told."""
        found = None if self.properties is None else self.properties.get(name)
        return None if found is None else (found.text or "")


def multiget(hrefs: Sequence[str], *, texts: bool) -> str:
    """Return the question for the entity tags of resources, and their `texts` too.

    Examples
    --------
    >>> multiget(["/club/a&b.ics"], texts=False).partition("<prop>")[2]
    '<getetag/></prop><href>/club/a&amp;b.ics</href></C:calendar-multiget>'
    """
    wanted = "<getetag/><C:calendar-data/>" if texts else "<getetag/>"
    listed = "".join(f"<href>{escape(href)}</href>" for href in hrefs)
    return f"{_HEAD}<C:calendar-multiget {_NAMES}><prop>{wanted}</prop>{listed}</C:calendar-multiget>"


def resources_of(answer: bytes) -> tuple[Resource, ...]:
    """List what a multistatus answer tells.

    Raises
    ------
    NotXml
        It is none.
    """
    root = parsed(answer)
    if root.tag != f"{DAV}multistatus":
        raise NotXml("another root than multistatus")
    return tuple(_resources(root))


def is_calendar(resource: Resource) -> bool:
    """Tell whether a resource is a collection of calendar events."""
    told = resource.properties or {}
    kind, components = told.get(f"{DAV}resourcetype"), told.get(f"{CALDAV}supported-calendar-component-set")
    if kind is None or kind.find(f"{CALDAV}calendar") is None:
        return False
    named = [one.get("name", "").upper() for one in components or ()]
    return not named or "VEVENT" in named


def names_uid_conflict(answer: bytes) -> bool:
    """Tell whether a refusal says that the UID lies under another address already (RFC 4791, 5.3.2.1)."""
    try:
        return parsed(answer).find(f".//{CALDAV}no-uid-conflict") is not None
    except NotXml:
        return False


def parsed(answer: bytes) -> Element:
    """Return the root element of an answer.

    A document type, and with it every entity of its own, is refused before anything is made of it.

    Raises
    ------
    NotXml
        It cannot be read, or is too deep or too large.

    Examples
    --------
    >>> parsed(b"<a xmlns='DAV:'><b>M 13</b></a>")[0].text
    'M 13'
    >>> parsed(b"<!DOCTYPE a [<!ENTITY b 'M 13'>]><a>&b;</a>")
    Traceback (most recent call last):
    ...
    api.caldav.multistatus.NotXml: a document type
    """
    reader = _Reader()
    parser = expat.ParserCreate(namespace_separator="}")
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = reader.start, reader.end
    parser.CharacterDataHandler = reader.text
    parser.StartDoctypeDeclHandler = reader.document_type
    try:
        parser.Parse(answer, True)
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise error if isinstance(error, NotXml) else NotXml("no XML") from error
    return reader.root()


class _Reader:
    """Builds the elements, and counts them."""

    def __init__(self) -> None:
        self._builder = TreeBuilder()
        self._depth, self._elements = 0, 0

    def start(self, name: str, attributes: Mapping[str, str]) -> None:
        self._depth, self._elements = self._depth + 1, self._elements + 1
        if self._depth > DEEPEST or self._elements > MOST_ELEMENTS:
            raise NotXml("too deep or too many elements")
        self._builder.start(_named(name), {_named(one): value for one, value in attributes.items()})

    def end(self, name: str) -> None:
        self._depth -= 1
        self._builder.end(_named(name))

    def text(self, text: str) -> None:
        self._builder.data(text)

    def document_type(self, *_: object) -> None:
        raise NotXml("a document type")

    def root(self) -> Element:
        return self._builder.close()


def _named(name: str) -> str:
    return f"{{{name}" if "}" in name else name


def _resources(root: Element) -> Iterator[Resource]:
    for response in root.findall(f"{DAV}response"):
        path = path_of(response.findtext(f"{DAV}href") or "")
        status = response.findtext(f"{DAV}status")
        if status is not None:
            yield Resource(path, None if not _is_ok(status) else {})
            continue
        found: dict[str, Element] = {}
        for part in response.findall(f"{DAV}propstat"):
            if _is_ok(part.findtext(f"{DAV}status") or ""):
                found |= {one.tag: one for one in part.findall(f"{DAV}prop/*")}
        yield Resource(path, found)


def path_of(href: str) -> str:
    """Return the decoded path of an href, which may be a whole address.

    Examples
    --------
    >>> path_of("/club/M%2013.ics"), path_of("https://calendar.example/club/a.ics")
    ('/club/M 13.ics', '/club/a.ics')
    """
    try:
        return unquote(urlsplit(href.strip()).path)
    except ValueError:
        return ""


def _is_ok(status: str) -> bool:
    return status.split()[1:2] == ["200"]
