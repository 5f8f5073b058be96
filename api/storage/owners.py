"""Whose everything is: the club that what an address names belongs to."""

from __future__ import annotations

from sqlalchemy import select

from ..errors import NoSuch
from .database import Database, is_id
from .tables import (
    clubs,
    collections,
    engagements,
    feeds,
    jobs,
    keys,
    members,
    plans,
    scenarios,
    sites,
    telescopes,
)

_OWNED = {
    "key": keys,
    "member": members,
    "site": sites,
    "telescope": telescopes,
    "scenario": scenarios,
    "job": jobs,
    "feed": feeds,
}

NOUNS = ("club", *_OWNED, "plan", "collection", "engagement")


class StoredOwners:
    """Answers whose something is."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def club_of(self, noun: str, one: str) -> str | None:
        """Return the id of the club something belongs to, None for what belongs to the service.

        Raises
        ------
        NoSuch
            If there is no such thing.
        """
        if not is_id(one):
            raise NoSuch(noun, one)
        if noun == "club":
            query = select(clubs.c.id).where(clubs.c.id == one)
        elif noun == "plan":
            query = (
                select(scenarios.c.club)
                .join(plans, plans.c.scenario == scenarios.c.id)
                .where(plans.c.id == one)
            )
        elif noun == "collection":
            query = (
                select(feeds.c.club)
                .join(collections, collections.c.feed == feeds.c.id)
                .where(collections.c.id == one)
            )
        elif noun == "engagement":
            query = (
                select(members.c.club)
                .join(engagements, engagements.c.member == members.c.id)
                .where(engagements.c.id == one)
            )
        else:
            query = select(_OWNED[noun].c.club).where(_OWNED[noun].c.id == one)
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        if row is None:
            raise NoSuch(noun, one)
        club: str | None = row[0]
        return club
