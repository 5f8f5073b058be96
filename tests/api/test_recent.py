"""No key is let in longer than is said, whatever was found a moment ago."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from api.auth import first_key, made_key
from api.recent import GRACE_S, LIFE_S, Recent
from api.storage import NewKey, Role, Storage

from .conftest import StartService
from .journeys import Service


@pytest.fixture
def guarded(start_service: StartService) -> Service:
    """A service with a plan, asked with the key of its owner."""
    service = start_service(keys="required")
    service.client.headers["Authorization"] = f"Bearer {first_key(kept(service))}"
    return service


def kept(service: Service) -> Storage:
    storage: Storage = service.client.app.state.services.storage
    return storage


class Asked:
    """A plan's schedule asked for again and again with one key, by who has it already."""

    def __init__(self, service: Service, expires: datetime | None = None) -> None:
        self._service = service
        self.plan = service.planned(service.kept())
        club = service.club.rpartition("/")[2]
        self.record, self._token = made_key(kept(service), NewKey(club, Role.READER, "tablet", expires))
        self._tag = service.get(f"{self.plan}/schedule.csv").headers["etag"]

    def status(self, **more: str) -> int:
        headers = {"Authorization": f"Bearer {self._token}", "If-None-Match": self._tag, **more}
        return self._service.ask("GET", f"{self.plan}/schedule.csv", headers=headers).status_code


def test_who_asks_again_is_answered_from_what_was_found(guarded: Service, monkeypatch: Any) -> None:
    asked = Asked(guarded)
    assert asked.status() == 304
    monkeypatch.setattr(type(kept(guarded).plans), "digest", None)  # asking the database would fail now
    monkeypatch.setattr(type(kept(guarded).keys), "get", None)
    assert asked.status() == 304
    monkeypatch.undo()
    counted = 'duskwright_requests_total{method="GET",route="/plans/{plan}/schedule.csv",status="3xx"} 2.0'
    assert counted in guarded.get("/metrics").text


def test_a_revoked_key_is_refused_at_once(guarded: Service) -> None:
    asked = Asked(guarded)
    assert [asked.status(), asked.status()] == [304, 304]
    assert guarded.ask("POST", f"/keys/{asked.record.id}/revoke").status_code == 200
    assert asked.status() == 401


def test_a_key_revoked_by_another_process_is_refused_after_its_moment(guarded: Service) -> None:
    asked = Asked(guarded)
    assert asked.status() == 304
    kept(guarded).keys.revoke(asked.record.id)
    time.sleep(LIFE_S + GRACE_S)
    assert asked.status() == 401


def test_a_key_is_taken_no_longer_than_it_counts(guarded: Service) -> None:
    expires = datetime.now(UTC) + timedelta(seconds=LIFE_S / 2)
    asked = Asked(guarded, expires)
    while datetime.now(UTC) < expires:
        before = datetime.now(UTC)
        assert asked.status() == 304 or before > expires - timedelta(seconds=0.3)
    assert asked.status() == 401


def test_what_one_key_found_opens_nothing_to_another(guarded: Service) -> None:
    asked = Asked(guarded)
    assert asked.status() == 304
    other = kept(guarded).clubs.add("Another club").id
    _, theirs = made_key(kept(guarded), NewKey(other, Role.OWNER, "theirs"))
    assert asked.status(Authorization=f"Bearer {theirs}") == 404
    assert asked.status(Authorization=f"Bearer {asked.record.id}.wrong") == 401
    assert asked.status(Authorization="") == 401


def test_a_deleted_plan_is_gone_at_once(guarded: Service) -> None:
    asked = Asked(guarded)
    assert asked.status() == 304
    scenario = guarded.scenarios[0]["links"]["self"]
    assert guarded.ask("DELETE", scenario, headers={"If-Match": "*"}).status_code == 204
    assert asked.status() == 404


def test_what_has_another_version_is_sent_whole(guarded: Service) -> None:
    asked = Asked(guarded)
    assert asked.status() == 304
    assert asked.status(**{"If-None-Match": '"else"'}) == 200


def test_a_finding_lives_a_moment_and_only_so_many_are_kept() -> None:
    now = 0.0
    recent = Recent(clock=lambda: now, life_s=2.0, most=2)
    recent.put("a", 1, recent.mark, life_s=0.5)
    recent.put("b", 2, recent.mark, life_s=9.0)
    now = 1.0
    assert (recent.get("a"), recent.get("b")) == (None, 2)
    recent.put("c", 3, recent.mark)
    assert (recent.get("b"), recent.get("c")) == (2, 3)
    recent.put("d", 4, recent.mark)
    assert recent.get("b") is None
    now = 3.0
    assert recent.get("c") is None


def test_what_was_looked_up_before_a_change_is_not_kept() -> None:
    recent = Recent()
    mark = recent.mark
    recent.forget()
    recent.put("key", "as it was", mark)
    assert recent.get("key") is None


def test_when_a_finding_is_old_one_looks_again_and_the_others_go_on_for_a_while() -> None:
    now = 0.0
    recent = Recent(clock=lambda: now)
    recent.put("a", "old", recent.mark)
    now = LIFE_S
    assert [recent.get("a") for _ in range(4)] == [None, "old", "old", "old"]
    recent.put("a", "new", recent.mark)
    assert recent.get("a") == "new"
    now += LIFE_S
    assert recent.get("a") is None
    now += GRACE_S
    assert [recent.get("a") for _ in range(3)] == [None, None, None], "whoever looked found nothing"


def test_nobody_goes_on_with_a_finding_beyond_its_own_end() -> None:
    now = 0.0
    recent = Recent(clock=lambda: now)
    recent.put("a", "a key", recent.mark, life_s=LIFE_S + GRACE_S / 2)
    now = LIFE_S + GRACE_S / 4
    assert [recent.get("a"), recent.get("a")] == [None, "a key"]
    now = LIFE_S + GRACE_S / 2
    assert recent.get("a") is None
    recent.put("b", "a key", recent.mark, life_s=LIFE_S / 2)
    now += LIFE_S / 2
    assert [recent.get("b"), recent.get("b")] == [None, None]
