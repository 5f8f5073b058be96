"""Clubs."""

from __future__ import annotations

from api.storage import Storage


def test_a_club_is_kept(storage: Storage) -> None:
    club = storage.clubs.add("Larkmoor")
    assert storage.clubs.get(club.id) == club
