"""Keys: who may do what. A key is an id and a secret; only the secret's digest is kept."""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from hashlib import sha256
from hmac import compare_digest
from math import inf
from time import monotonic
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.routing import APIRoute
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

from .deps import TheServices
from .errors import ForeignOrigin, KeyNeeded, NoSuch, NotAllowed
from .guards import SAFE_METHODS
from .headers import token_of
from .storage import KeyRecord, NewKey, Role, Storage, is_id

SECRET_BYTES = 32
_NO_SECRET = "0" * 64
_ROLES: dict[Any, str] = {}
"""What each guard of a route asks for, in words."""


@dataclass(frozen=True, slots=True)
class Bearer:
    """Who asks: with which role, and in which club alone; None means in every club of the service."""

    role: Role
    club: str | None

    @property
    def of_service(self) -> bool:
        """Whether it is the whole service's."""
        return self.club is None


def made_key(storage: Storage, new: NewKey) -> tuple[KeyRecord, str]:
    """Keep a new key and return its record with the token, which nobody can be told again."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    record = storage.keys.add(new, digest_of(secret))
    return record, f"{record.id}.{secret}"


def first_key(storage: Storage) -> str | None:
    """Return the token of the service's first owner key, None where the service has an owner already."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    record = storage.keys.add_first(NewKey(None, Role.OWNER, "the first owner's"), digest_of(secret))
    return None if record is None else f"{record.id}.{secret}"


def digest_of(secret: str) -> str:
    """Return what is kept of a secret: its SHA-256. It is random and long, so that no salt is needed.

    Examples
    --------
    >>> digest_of("abc")[:16]
    'ba7816bf8f01cfea'
    """
    return sha256(secret.encode()).hexdigest()


def bearer_of(storage: Storage, token: str) -> tuple[Bearer, str, float]:
    """Return who bears a token, the id of the key, and how long it still counts. [s]

    Raises
    ------
    KeyNeeded
        The token is no key's, or the key counts no more.
    """
    key, _, secret = token.partition(".")
    try:
        record = storage.keys.get(key) if is_id(key) else None
    except NoSuch:
        record = None
    kept = record.digest if record else _NO_SECRET  # compare all the same: time tells nothing
    if not compare_digest(digest_of(secret), kept) or record is None:
        raise KeyNeeded("this is no key of this service")
    if record.revoked is not None:
        raise KeyNeeded("this key has been revoked")
    life_s = inf if record.expires is None else (record.expires - storage.now()).total_seconds()
    if life_s <= 0:
        raise KeyNeeded("this key has expired")
    return Bearer(record.role, record.club), record.id, life_s


_scheme = HTTPBearer(auto_error=False, description="A key, as made at the first start or by an owner.")


async def _bearer(
    request: Request,
    services: TheServices,
    sent: Annotated[HTTPAuthorizationCredentials | None, Depends(_scheme)],
) -> Bearer:
    if services.settings.keys == "none":
        return Bearer(Role.OWNER, None)
    token = sent.credentials if sent else token_of(request.scope["headers"])
    if not token:
        raise KeyNeeded("no key was sent")
    if sent is None:
        _check_ours(request)
    name, mark = ("token", digest_of(token)), services.recent.mark
    known: tuple[Bearer, str, float] | None = services.recent.get(name)
    if known is None:
        asked_s = monotonic()
        bearer, key, life_s = await run_in_threadpool(bearer_of, services.storage, token)
        known = bearer, key, asked_s + life_s
        services.recent.put(name, known, mark, life_s)
    request.state.key_id, request.state.key_until_s = known[1], known[2]
    return known[0]


def _check_ours(request: Request) -> None:
    """Refuse a change asked for with a cookie, which browsers send unasked, unless a page of ours asks it.

    A foreign origin never comes as far as this: see `Guards`.
    """
    proofs = "origin" in request.headers, request.headers.get("sec-fetch-site") == "same-origin"
    if request.method not in SAFE_METHODS and not any(proofs):
        raise ForeignOrigin("nobody")


async def _maybe_bearer(
    request: Request,
    services: TheServices,
    sent: Annotated[HTTPAuthorizationCredentials | None, Depends(_scheme)],
) -> Bearer | None:
    try:
        return await _bearer(request, services, sent)
    except KeyNeeded as refused:
        if sent or token_of(request.scope["headers"]):
            request.state.key_refused = refused
        return None


TheBearer = Annotated[Bearer, Depends(_bearer)]
MaybeBearer = Annotated[Bearer | None, Depends(_maybe_bearer)]
"""Who asks, None where nobody's key came along."""


def needs(role: Role) -> Any:
    """Let in who has at least this role in the club of what the address names first.

    What belongs to another club is answered like what does not exist.
    """

    async def allowed(request: Request, services: TheServices, bearer: TheBearer) -> None:
        noun, one = next(iter(request.path_params.items()))
        mark = services.recent.mark
        owner: tuple[str | None] | None = services.recent.get((noun, one))
        if owner is None:
            owner = (await run_in_threadpool(services.storage.owners.club_of, noun, one),)
            services.recent.put((noun, one), owner, mark)
        (club,) = owner
        if not bearer.of_service and club != bearer.club:
            raise NoSuch(noun, one)
        _check(bearer, role)

    return _marked(allowed, role.value)


def needs_service(role: Role) -> Any:
    """Let in who has at least this role in the whole service."""

    async def allowed(bearer: TheBearer) -> None:
        if not bearer.of_service:
            raise NotAllowed(f"{bearer.role} of one club", f"{role} of the service")
        _check(bearer, role)

    return _marked(allowed, f"{role} of the service")


async def _any_key(bearer: TheBearer) -> None:
    """Any key that counts will do."""


def _check(bearer: Bearer, needed: Role) -> None:
    if not bearer.role.covers(needed):
        raise NotAllowed(bearer.role, needed)


def _marked(allowed: Callable[..., Awaitable[None]], needed: str) -> Any:
    _ROLES[allowed] = needed
    return Depends(allowed)


ANY_KEY = _marked(_any_key, Role.READER.value)


def role_of(route: APIRoute) -> str | None:
    """Return in words what role an operation needs, None where anybody may use it.

    Examples
    --------
    >>> role_of(APIRoute("/x", lambda: None)) is None
    True
    >>> role_of(APIRoute("/x/{scenario}", lambda: None, dependencies=[needs(Role.PLANNER)]))
    'planner'
    """
    return next((_ROLES[one.dependency] for one in route.dependencies if one.dependency in _ROLES), None)
