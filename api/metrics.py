"""What can be counted of the service, for a monitoring system to fetch. Every app has its own counts.

Labels come from small closed sets (route templates, not paths), so that no caller can make the page grow.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, ProcessCollector
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
WORKS = frozenset({"plan", "re-plan", "odds", "what-if", "why", "prices", "publish"})
OTHER = "other"
_REQUEST_S = (0.001, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
_JOB_S = (1.0, 3.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0)

_log = logging.getLogger("duskwright.api")

JobsByState = Callable[[], Mapping[str, int]]


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
        self._refused = Counter(
            "duskwright_requests_refused",
            "Requests refused before any route saw them.",
            ("reason",),
            registry=registry,
        )
        self._ended = Counter("duskwright_jobs_ended", "Jobs ended.", ("work", "state"), registry=registry)
        self._job_s = Histogram(
            "duskwright_job_duration_seconds",
            "Time from a job's start at work to its end.",
            ("work", "state"),
            buckets=_JOB_S,
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
        self._requests.labels(*asked).inc()
        self._request_s.labels(*asked).observe(duration_s)

    def request_refused(self, reason: str) -> None:
        """Count a request refused by the guards; `reason` is the name of its kind of problem."""
        self._refused.labels(reason).inc()

    def job_ended(self, work: str, state: str, duration_s: float) -> None:
        """Count a job that ended after this time at work."""
        labels = work if work in WORKS else OTHER, state
        self._ended.labels(*labels).inc()
        self._job_s.labels(*labels).observe(duration_s)

    def count_jobs(self, by_state: JobsByState) -> None:
        """Ask `by_state` how many jobs there are whenever somebody fetches the counts."""
        self._jobs_now.by_state = by_state

    def page(self, accept: str | None) -> tuple[bytes, str]:
        """Return the page of counts and its media type: OpenMetrics for who accepts it, else plain text."""
        encode, media_type = choose_encoder(accept or "")
        return encode(self._registry), media_type


class _JobsNow(Collector):
    def __init__(self) -> None:
        self.by_state: JobsByState = dict

    def describe(self) -> Iterable[Metric]:
        """Name the counts without asking for them."""
        return [self._family()]

    def collect(self) -> Iterable[Metric]:
        """Return the counts as they are now; none where they cannot be had, for the rest still counts."""
        family = self._family()
        try:
            for state, count in self.by_state().items():
                family.add_metric([state], count)
        except Exception as error:
            _log.warning("jobs cannot be counted", exc_info=error)
        return [family]

    def _family(self) -> GaugeMetricFamily:
        return GaugeMetricFamily("duskwright_jobs", "Jobs kept, by state.", labels=["state"])
