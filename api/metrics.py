"""What can be counted of the service, for a monitoring system to fetch. Every app has its own counts.

Labels come from small closed sets (route templates, not paths), so that no caller can make the page grow.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from typing import Protocol

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, ProcessCollector
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
OTHER = "other"
_REQUEST_S = (0.001, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)

_log = logging.getLogger("duskwright.api")


class Tally(Protocol):
    """How many jobs of one work stand in one state, and how long those that ended were at work."""

    @property
    def work(self) -> str:
        """What they do."""

    @property
    def state(self) -> str:
        """Where they stand."""

    @property
    def jobs(self) -> int:
        """How many there are."""

    @property
    def at_work_s(self) -> float:
        """How long those that ended were at work. [s]"""


class Metrics:
    """Counts of one app.

    Parameters
    ----------
    version : Of the service.
    """

    def __init__(self, version: str) -> None:
        self._registry = registry = CollectorRegistry()
        asked = ("method", "route", "status")
        self._requests = Counter("duskwright_requests", "Requests answered.", asked, registry=registry)
        self._request_s = Histogram(
            "duskwright_request_duration_seconds",
            "Time from request to end of answer.",
            asked,
            buckets=_REQUEST_S,
            registry=registry,
        )
        self._asked: dict[tuple[str, str, str], tuple[Counter, Histogram]] = {}
        self._refused = Counter(
            "duskwright_requests_refused",
            "Requests refused before any route saw them.",
            ("reason",),
            registry=registry,
        )
        Gauge("duskwright_info", "The service's version.", ("version",), registry=registry).labels(
            version
        ).set(1)
        ProcessCollector(registry=registry)
        self._jobs_now = _JobsNow()
        registry.register(self._jobs_now)

    def request_answered(self, method: str, route: str, status: int, duration_s: float) -> None:
        """Count a request; `route` is a template such as /jobs/{job}, or "none"."""
        asked = method if method in METHODS else OTHER, route, f"{status // 100}xx"
        known = self._asked.get(asked)
        if known is None:  # looking labels up takes longer than counting
            known = self._asked[asked] = self._requests.labels(*asked), self._request_s.labels(*asked)
        counted, timed = known
        counted.inc()
        timed.observe(duration_s)

    def request_refused(self, reason: str) -> None:
        """Count a request refused by the guards; `reason` is the name of its kind of problem."""
        self._refused.labels(reason).inc()

    def count_jobs(self, tallies: Callable[[], Iterable[Tally]]) -> None:
        """Ask `tallies` what is kept of jobs whenever somebody fetches the counts.

        They are asked of the database, so that every process tells the same, whichever did the work.
        """
        self._jobs_now.tallies = tallies

    def page(self, accept: str | None) -> tuple[bytes, str]:
        """Return the page of counts and its media type: OpenMetrics for who accepts it, else plain text."""
        encode, media_type = choose_encoder(accept or "")
        return encode(self._registry), media_type


class _JobsNow(Collector):
    def __init__(self) -> None:
        self.tallies: Callable[[], Iterable[Tally]] = tuple

    def describe(self) -> Iterable[Metric]:
        """Name the counts without asking for them."""
        return self._families()

    def collect(self) -> Iterable[Metric]:
        """Return the counts as they are now; none where they cannot be had, for the rest still counts."""
        jobs, seconds = families = self._families()
        try:
            for tally in self.tallies():
                jobs.add_metric([tally.work, tally.state], tally.jobs)
                seconds.add_metric([tally.work, tally.state], tally.at_work_s)
        except Exception as error:
            _log.warning("jobs cannot be counted", exc_info=error)
        return families

    def _families(self) -> tuple[GaugeMetricFamily, GaugeMetricFamily]:
        labels = ["work", "state"]
        return (
            GaugeMetricFamily("duskwright_jobs", "Jobs kept.", labels=labels),
            GaugeMetricFamily(
                "duskwright_jobs_seconds", "Time the jobs that ended were at work.", labels=labels
            ),
        )
