"""Entity tags: change only what you have read, fetch only what is new.

References
----------
R. Fielding, M. Nottingham, J. Reschke, "HTTP Semantics", RFC 9110, 2022, sections 8.8.3 and 13.1.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated

from fastapi import Depends, Header, Response

from .errors import PreconditionMissing

_TAG = re.compile(r'(W/)?("[\x21\x23-\x7e\x80-\xff]*")')
_REVISION = re.compile(r'"r([1-9][0-9]{0,17})"')


def expected_revisions(if_match: str | None) -> frozenset[int] | None:
    """Return the revisions an If-Match header names, or None for any.

    A weak tag never matches a change, and a tag that is none of ours matches no revision.

    Raises
    ------
    PreconditionMissing
        If there is no such header.

    Examples
    --------
    >>> sorted(expected_revisions('"r2", W/"r3", "r4", "else"'))
    [2, 4]
    >>> expected_revisions("*") is None
    True
    """
    if if_match is None:
        raise PreconditionMissing
    if if_match.strip() == "*":
        return None
    strong = [tag for weak, tag in _TAG.findall(if_match) if not weak]
    return frozenset(int(found[1]) for tag in strong if (found := _REVISION.fullmatch(tag)))


def is_known(if_none_match: str | None, tag: str) -> bool:
    """Tell whether an If-None-Match header says that the caller has `tag` already.

    Examples
    --------
    >>> is_known('"a", W/"b"', '"b"'), is_known("*", '"b"'), is_known(None, '"b"')
    (True, True, False)
    """
    if if_none_match is None:
        return False
    return if_none_match.strip() == "*" or tag in {known for _, known in _TAG.findall(if_none_match)}


def answer_if_new(
    if_none_match: str | None,
    tag: str,
    content: str | bytes,
    media_type: str,
    headers: Mapping[str, str] | None = None,
) -> Response:
    """Return `content`, or 304 without it where the caller has it already."""
    lasting = {"ETag": tag, "Cache-Control": "private, no-cache", **(headers or {})}
    if is_known(if_none_match, tag):
        return Response(status_code=304, headers=lasting)
    return Response(content, 200, lasting, media_type)


async def _if_match(
    if_match: Annotated[
        str | None, Header(description="Entity tag of the version you read.", examples=['"r1"'])
    ] = None,
) -> frozenset[int] | None:
    return expected_revisions(if_match)


ExpectedRevisions = Annotated[frozenset[int] | None, Depends(_if_match)]
IfNoneMatch = Annotated[
    str | None, Header(description="Entity tag of the version you have.", examples=['"r1"'])
]
