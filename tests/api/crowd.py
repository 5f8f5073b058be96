"""Clients that write all the time and note what was acknowledged, whatever happens to the service."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from threading import Event
from typing import Any

import httpx2 as httpx

from .journeys import Answer, files_of

MOST_UNFINISHED = 2
_FIRST_EVENING = date(2026, 9, 12)
_PASSING = {503, 507}


@dataclass
class Ledger:
    """What was acknowledged, and what was sent without an answer: that may be kept or not.

    Attributes
    ----------
    scenarios : Names by id.
    edits : Wish-lists by scenario and revision.
    lines : Notes by scenario and line of its log.
    jobs : Job by Idempotency-Key.
    cancelled : Jobs that were to stop.
    members : Age by id, as last acknowledged.
    unsure : Names, wish-lists, notes and ages that were sent without an answer.
    odd : Answers no client should get.
    """

    scenarios: dict[str, str] = field(default_factory=dict)
    edits: dict[tuple[str, int], bytes] = field(default_factory=dict)
    lines: dict[tuple[str, int], str] = field(default_factory=dict)
    jobs: dict[str, str] = field(default_factory=dict)
    cancelled: set[str] = field(default_factory=set)
    members: dict[str, int] = field(default_factory=dict)
    unsure: set[Any] = field(default_factory=set)
    odd: list[str] = field(default_factory=list)
    writes: int = 0
    stale: int = 0

    def note(self, book: dict[Any, Any], place: Any, content: Any, *, again: bool = False) -> None:
        """Note an acknowledged write; a place is given once, unless it is the same thing told again."""
        if place in book and not again and book[place] != content:
            self.odd.append(f"{place} was acknowledged twice: {book[place]!r} and {content!r}")
        book[place] = content
        self.writes += 1


class Client:
    """One client, with a scenario and members of its own, and a scenario all clients write to.

    Parameters
    ----------
    address : Of the service.
    club, shared : Addresses of the club, and of the scenario of all.
    ledger : Where everything is noted.
    number, seed : Which client this is, and what it does by chance.
    stopping : Set when it is to do nothing new.
    """

    def __init__(
        self, address: str, club: str, shared: str, ledger: Ledger, number: int, seed: int, stopping: Event
    ) -> None:  # fmt: skip
        self._http = httpx.Client(base_url=address, timeout=30, trust_env=False)
        self._club, self._shared, self._ledger = club, shared, ledger
        self._number, self._chance, self._stopping = number, random.Random(f"{seed} {number}"), stopping
        self._count = 0
        self._mine: list[str] = []
        self._members: list[tuple[str, int]] = []
        self._unfinished: list[str] = []
        self._plans: list[str] = []

    def run(self) -> None:
        """Write until it is time to stop."""
        deeds: list[Callable[[], None]] = [self._keep, self._edit, self._log, self._join, self._change_member]
        deeds += [self._edit, self._log, self._start, self._start, self._cancel, self._publish, self._odds]
        self._keep()
        while not self._stopping.is_set():
            self._chance.choice(deeds)()
            if self._chance.random() < 0.3:
                self._follow()
            time.sleep(0.02)
        self._http.close()

    def _once(self, method: str, path: str, **options: Any) -> Answer | None:
        """Ask once; None where nobody knows whether it was done."""
        try:
            answer: Answer = self._http.request(method, path, **options)
        except httpx.HTTPError:
            time.sleep(0.05)
            return None
        if answer.status_code in _PASSING:
            time.sleep(0.05)
            return None
        if answer.status_code >= 500:
            self._ledger.odd.append(f"{method} {path}: {answer.status_code} {answer.text}")
        return answer

    def _until_answered(self, method: str, path: str, **options: Any) -> Answer:
        """Ask what may be asked twice until there is an answer."""
        while (answer := self._once(method, path, **options)) is None:
            pass
        return answer

    def _text(self) -> str:
        self._count += 1
        return f"{self._number}-{self._count}"

    def _whole(self) -> int:
        self._count += 1
        return 1_000_000 * (self._number + 1) + self._count

    def _scenario(self) -> str:
        return self._chance.choice([self._shared, *self._mine[-2:]])

    def _keep(self) -> None:
        name = f"scenario {self._text()}"
        sent = {"data": {"name": name}, "files": files_of()}
        answer = self._once("POST", f"{self._club}/scenarios", **sent)
        if answer is None:
            self._ledger.unsure.add(name)
            return
        self._expect(answer, 201)
        path = str(answer.headers["location"])
        self._mine.append(path)
        self._ledger.note(self._ledger.scenarios, _id(path), name)

    def _edit(self) -> None:
        scenario = self._scenario()
        tag = str(self._until_answered("GET", scenario).headers["etag"])
        body = f"target,priority\r\nM 13,5\r\nM {self._whole()},3\r\n".encode()
        headers = {"If-Match": tag, "Content-Type": "text/csv"}
        answer = self._once("PUT", f"{scenario}/wish-list.csv", content=body, headers=headers)
        if answer is None:
            self._ledger.unsure.add(body)
        elif answer.status_code == 412:
            self._ledger.stale += 1
        else:
            self._expect(answer, 200)
            revision = int(answer.json()["revision"])
            if f'"r{revision - 1}"' != tag:
                self._ledger.odd.append(f"{scenario} went from {tag} to {revision}")
            self._ledger.note(self._ledger.edits, (_id(scenario), revision), body)

    def _log(self) -> None:
        scenario, note = self._scenario(), f"note {self._text()}"
        evening = _FIRST_EVENING + timedelta(days=self._chance.randrange(300))
        line = {"evening": str(evening), "outcome": "clouded out", "notes": note}
        answer = self._once("POST", f"{scenario}/outcomes", json=line)
        if answer is None:
            self._ledger.unsure.add(note)
            return
        self._expect(answer, 201)
        for item in answer.json()["items"]:
            self._ledger.note(self._ledger.lines, (_id(scenario), item["line"]), item["notes"])

    def _join(self) -> None:
        name, age = f"member {self._text()}", self._chance.randrange(20, 80)
        wish = {"name": name, "settings": {"age": age}}
        tries = 1
        while (answer := self._once("POST", f"{self._club}/members", json=wish)) is None:
            tries += 1
        if answer.status_code == 409 and tries > 1:  # the try without an answer kept it
            page = self._until_answered("GET", f"{self._club}/members?limit=200").json()["items"]
            member = next(item["id"] for item in page if item["name"] == name)
        else:
            self._expect(answer, 201)
            member = answer.json()["id"]
        self._members.append((member, 1))
        self._ledger.note(self._ledger.members, member, age)

    def _change_member(self) -> None:
        if not self._members:
            return
        place = self._chance.randrange(len(self._members))
        member, revision = self._members[place]
        name = self._until_answered("GET", f"/members/{member}").json()["name"]
        age = self._chance.randrange(20, 80)
        wish = {"name": name, "settings": {"age": age}}
        sent = {"json": wish, "headers": {"If-Match": f'"r{revision}"'}}
        tries = 1
        while (answer := self._once("PUT", f"/members/{member}", **sent)) is None:
            tries += 1
        if not (answer.status_code == 412 and tries > 1):  # the try without an answer changed it
            self._expect(answer, 200)
        self._members[place] = (member, revision + 1)
        self._ledger.note(self._ledger.members, member, age, again=True)

    def _start(self) -> None:
        if len(self._unfinished) < MOST_UNFINISHED:
            self._ask_for(f"{self._scenario()}/plans", seed=self._whole())

    def _odds(self) -> None:
        if self._plans and len(self._unfinished) < MOST_UNFINISHED:
            plan = self._chance.choice(self._plans)
            self._ask_for(f"{plan}/odds", seed=self._whole(), years=100)

    def _publish(self) -> None:
        if self._plans:
            self._ask_for(f"{self._chance.choice(self._plans)}/publish")

    def _ask_for(self, path: str, **wish: Any) -> None:
        key = f"key {self._text()}"
        sent: dict[str, Any] = {"headers": {"Idempotency-Key": key}} | ({"json": wish} if wish else {})
        answer = self._until_answered("POST", path, **sent)
        if answer.status_code == 429:
            return
        self._expect(answer, 202)
        job = answer.json()["id"]
        self._ledger.note(self._ledger.jobs, key, job)
        self._unfinished.append(job)
        if self._chance.random() < 0.2:
            again = self._until_answered("POST", path, **sent).json()["id"]
            if again != job:
                self._ledger.odd.append(f"{key} made {job} and {again}")

    def _cancel(self) -> None:
        if not self._unfinished or self._chance.random() < 0.5:
            return
        job = self._chance.choice(self._unfinished)
        answer = self._until_answered("POST", f"/jobs/{job}/cancel")
        if answer.status_code != 409:  # it has ended
            self._expect(answer, 202)
            self._ledger.cancelled.add(job)
            self._ledger.writes += 1

    def _follow(self) -> None:
        for job in list(self._unfinished):
            seen = self._until_answered("GET", f"/jobs/{job}").json()
            if seen["state"] in {"done", "failed", "cancelled"}:
                self._unfinished.remove(job)
                if "plan" in seen["links"] and seen["work"] == "plan":
                    self._plans = [*self._plans[-4:], seen["links"]["plan"]]

    def _expect(self, answer: Answer, status: int) -> None:
        if answer.status_code != status:
            self._ledger.odd.append(f"{status} expected, {answer.status_code} got: {answer.text[:500]}")
            raise AssertionError(self._ledger.odd[-1])


def _id(path: str) -> str:
    return path.rpartition("/")[2]
