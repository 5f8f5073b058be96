"""Secrets of others: sealed with the environment's key, opened by it alone."""

from __future__ import annotations

import pytest

from api.errors import NoSealKey, SealBroken
from api.seal import SEAL_KEY, Seal, made_seal_key

SECRET = "correct horse 🐎"


def test_the_same_text_is_sealed_otherwise_each_time_and_nothing_of_it_shows() -> None:
    seal = Seal({SEAL_KEY: made_seal_key()})
    first, second = seal.sealed(SECRET), seal.sealed(SECRET)
    assert first != second
    assert b"horse" not in first
    assert seal.opened(first) == seal.opened(second) == SECRET


def test_another_key_or_a_changed_seal_opens_nothing() -> None:
    seal = Seal({SEAL_KEY: made_seal_key()})
    sealed = seal.sealed(SECRET)
    for opener, text in (
        (Seal({SEAL_KEY: made_seal_key()}), sealed),
        (seal, sealed[:-1] + b"A"),
        (seal, b""),
    ):
        with pytest.raises(SealBroken):
            opener.opened(text)


def test_a_new_key_before_the_old_one_opens_both_and_seals_with_the_new() -> None:
    old, new = made_seal_key(), made_seal_key()
    sealed = Seal({SEAL_KEY: old}).sealed(SECRET)
    both = Seal({SEAL_KEY: f"{new}, {old}"})
    assert both.opened(sealed) == SECRET
    assert Seal({SEAL_KEY: new}).opened(both.sealed(SECRET)) == SECRET


@pytest.mark.parametrize("environment", [{}, {SEAL_KEY: ""}, {SEAL_KEY: " , "}])
def test_without_a_key_nothing_is_sealed_or_opened(environment: dict[str, str]) -> None:
    seal = Seal(environment)
    with pytest.raises(NoSealKey, match=SEAL_KEY):
        seal.sealed(SECRET)
    with pytest.raises(NoSealKey, match=SEAL_KEY):
        seal.opened(b"")


def test_what_is_no_key_is_refused_without_being_told() -> None:
    with pytest.raises(NoSealKey) as told:
        Seal({SEAL_KEY: "not-a-key"})
    assert "not-a-key" not in str(told.value)
