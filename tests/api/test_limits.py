from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from fastapi import FastAPI, Request
from fastapi.testclient import TestClient
from starlette.exceptions import HTTPException

from api.guards import Guards
from api.limits import FAILURES_PER_MINUTE, MOST_CALLERS, Buckets, Limits
from api.problems import answer_with_problems

from .conftest import StartService
from .journeys import Answer, assert_is_problem


class FakeClock:
    """A clock under the test's thumb."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


def test_a_bucket_bites_when_empty_and_lets_go_as_it_fills(clock: FakeClock) -> None:
    buckets = Buckets(6, clock)
    assert [buckets.take("a") for _ in range(7)] == [0, 0, 0, 0, 0, 0, 10]
    clock.now_s += 4
    assert buckets.take("a") == pytest.approx(6)
    clock.now_s += 6.001
    assert [buckets.take("a") > 0, buckets.take("a") > 0] == [False, True]
    clock.now_s += 3600
    assert [buckets.take("a") > 0 for _ in range(7)] == [False] * 6 + [True]


def test_buckets_do_not_share(clock: FakeClock) -> None:
    buckets = Buckets(1, clock)
    assert (buckets.take("a"), buckets.take("b"), buckets.take("a")) == (0, 0, 60)


def test_memory_is_bounded_and_the_longest_unheard_of_goes_first(clock: FakeClock) -> None:
    buckets = Buckets(2, clock, most=3)
    for name in ("a", "b", "c", "a", "d"):
        assert buckets.take(name) == 0
    assert len(buckets) == 3
    assert buckets.take("a") > 0
    assert [buckets.take("b"), buckets.take("b")] == [0, 0]
    many = Buckets(1, clock)
    for number in range(MOST_CALLERS + 500):
        many.take(str(number))
    assert len(many) == MOST_CALLERS == 10_000


def test_asking_how_long_takes_nothing(clock: FakeClock) -> None:
    buckets = Buckets(1, clock)
    assert [buckets.wait_s("a") for _ in range(3)] == [0, 0, 0]
    assert len(buckets) == 0


Ask = Callable[..., Answer]
KEY = "k1.right"


@pytest.fixture
def ask(clock: FakeClock) -> Callable[[int], Ask]:
    """Guards before an app that knows one key and calls it k1; whom it does not know it answers 401."""
    app = FastAPI()
    answer_with_problems(app, [])

    @app.get("/kept")
    def kept(request: Request) -> str:
        if request.headers.get("authorization") != f"Bearer {KEY}":
            raise HTTPException(401)
        request.state.key_id = "k1"
        return "kept"

    @app.get("/open")
    @app.get("/livez")
    def opened() -> str:
        return "open"

    def limited(per_minute: int) -> Ask:
        guards = Guards(app, {"127.0.0.1"}, 1000, Limits(per_minute, clock))

        def ask(path: str = "/kept", token: str | None = None, address: str = "192.0.2.7") -> Answer:
            client: Any = TestClient(guards, base_url="http://127.0.0.1", client=(address, 50000))
            answer: Answer = client.get(
                path, headers={} if token is None else {"Authorization": f"Bearer {token}"}
            )
            return answer

        return ask

    return limited


def test_a_caller_who_asks_too_often_is_told_when_to_come_again(
    ask: Callable[[int], Ask], clock: FakeClock
) -> None:
    asked = ask(4)
    assert [asked("/open").status_code for _ in range(4)] == [200] * 4
    refused = asked("/open")
    problem = assert_is_problem(refused, 429, "too-many-requests")
    assert refused.headers["retry-after"] == "15"
    assert problem["retry_after_s"] == 15
    assert asked("/open", address="192.0.2.8").status_code == 200
    clock.now_s += 14.9
    assert asked("/open").status_code == 429
    clock.now_s += 0.2
    assert asked("/open").status_code == 200


def test_that_the_process_lives_is_always_told(ask: Callable[[int], Ask]) -> None:
    asked = ask(1)
    asked("/open")
    assert asked("/open").status_code == 429
    assert [asked("/livez").status_code for _ in range(50)] == [200] * 50


def test_a_key_counts_for_itself_once_it_was_accepted(ask: Callable[[int], Ask]) -> None:
    asked = ask(3)
    assert asked(token=KEY).status_code == 200  # the address pays for the first one
    assert [asked("/open").status_code for _ in range(3)] == [200, 200, 429]
    assert [asked(token=KEY, address=f"192.0.2.{n}").status_code for n in range(4)] == [200] * 3 + [429]


def test_a_fresh_token_each_time_does_not_make_a_fresh_caller(ask: Callable[[int], Ask]) -> None:
    asked = ask(5)
    answers = [asked("/open", token=f"made-up-{turn}").status_code for turn in range(7)]
    assert answers == [200] * 5 + [429] * 2


def test_a_stranger_guessing_keys_is_slowed(ask: Callable[[int], Ask], clock: FakeClock) -> None:
    asked = ask(1000)
    assert asked(token=KEY).status_code == 200
    guesses = [asked(token=f"k1.wrong-{turn}").status_code for turn in range(FAILURES_PER_MINUTE + 5)]
    assert guesses == [401] * 10 + [429] * 5
    assert asked(token="k2.right?").headers["retry-after"] == "6"
    assert asked(token=KEY).status_code == 200, "a key that works is not shut out"
    assert asked("/open", address="192.0.2.8").status_code == 200
    clock.now_s += 6.1
    assert [asked(token="k1.wrong").status_code for _ in range(2)] == [401, 429]


def test_a_revoked_key_is_a_stranger_again(clock: FakeClock) -> None:
    limits = Limits(2, clock)
    limits.answered("192.0.2.7", KEY, 200, "k1")
    assert [limits.retry_after_s("192.0.2.7", KEY) for _ in range(3)] == [None, None, 30]
    limits.answered("192.0.2.7", KEY, 401, None)
    assert limits.retry_after_s("192.0.2.7", KEY) is None
    limits.answered("192.0.2.7", None, 200, None)
    assert [limits.retry_after_s("192.0.2.7", None) for _ in range(2)] == [None, 30]


def test_no_token_is_kept(clock: FakeClock) -> None:
    limits = Limits(2, clock)
    limits.retry_after_s("192.0.2.7", KEY)
    limits.answered("192.0.2.7", KEY, 200, "k1")
    limits.retry_after_s("192.0.2.7", KEY)
    kept = f"{vars(limits)} {vars(limits._requests)} {vars(limits._failures)}"
    assert "right" not in kept


def test_nought_sets_no_limit(ask: Callable[[int], Ask]) -> None:
    asked = ask(0)
    assert {asked(token="k1.wrong").status_code for _ in range(30)} == {401}


def test_the_setting_reaches_the_guards(start_service: StartService) -> None:
    service = start_service(requests_per_minute=3)
    assert [service.get("/docs").status_code for _ in range(4)] == [200, 200, 200, 429]
    assert service.get("/livez").status_code == 200
    assert "request" in service.get("/docs").json()
