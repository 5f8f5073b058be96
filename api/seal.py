"""Secrets of others that are kept: sealed with a key that only the environment holds.

Passwords of calendar servers and the private addresses of members' calendars are needed again in the clear,
so that a digest will not do. Who has the database alone cannot read them; who loses the key must enter them
anew.

References
----------
Fernet (AES-128-CBC with HMAC-SHA-256), specification 0x80, as in the library `cryptography`.
"""

from __future__ import annotations

import os
from collections.abc import Mapping

from cryptography.fernet import Fernet, InvalidToken, MultiFernet

from .errors import NoSealKey, SealBroken

SEAL_KEY = "DUSKWRIGHT_SEAL_KEY"
"""One key or several with commas between: the first seals, each opens; so a key can be changed."""


class Seal:
    """Seals and opens texts.

    Parameters
    ----------
    environment : Holds the key under `SEAL_KEY`; without one everything but sealing goes on.

    Raises
    ------
    NoSealKey
        A key is no Fernet key.

    Examples
    --------
    >>> seal = Seal({SEAL_KEY: made_seal_key()})
    >>> seal.opened(seal.sealed("a password"))
    'a password'
    """

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        keys = [one.strip() for one in environment.get(SEAL_KEY, "").split(",") if one.strip()]
        try:
            self._keys = MultiFernet([Fernet(key) for key in keys]) if keys else None
        except ValueError as error:
            raise NoSealKey(f"{SEAL_KEY} holds no such key") from error

    def sealed(self, text: str) -> bytes:
        """Return a text sealed; the same text is sealed otherwise each time.

        Raises
        ------
        NoSealKey
            The environment holds no key.
        """
        return self._ready().encrypt(text.encode())

    def opened(self, sealed: bytes) -> str:
        """Return the text that was sealed.

        Raises
        ------
        NoSealKey
            The environment holds no key.
        SealBroken
            It was sealed with another key, or changed.
        """
        try:
            return self._ready().decrypt(sealed).decode()
        except InvalidToken as error:
            raise SealBroken from error

    def _ready(self) -> MultiFernet:
        if self._keys is None:
            raise NoSealKey(f"{SEAL_KEY} is not set")
        return self._keys


def made_seal_key() -> str:
    """Return a fresh key."""
    return Fernet.generate_key().decode()
