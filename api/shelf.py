"""Plans as they were read back: they never change, so the ones asked for last are kept at hand."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock

from scheduler.domain import Plan

from .ports import PLAN_JSON, Door
from .storage import Storage

MOST = 6
"""A plan of a thousand targets takes some 20 MB."""


class Shelf:
    """Reads plans, and keeps a few.

    Parameters
    ----------
    storage : Where plans are kept.
    door : Reads them.
    most : How many stay at hand; whichever was asked for longest ago goes first.
    """

    def __init__(self, storage: Storage, door: Door, most: int = MOST) -> None:
        self._storage, self._door, self._most = storage, door, most
        self._plans: OrderedDict[str, Plan] = OrderedDict()
        self._lock = Lock()

    def plan(self, plan: str) -> Plan:
        """Return a plan by its id, or raise `NoSuch`."""
        with self._lock:
            if plan in self._plans:
                self._plans.move_to_end(plan)
                return self._plans[plan]
        read = self._door.read_plan(self._storage.plans.file(plan, PLAN_JSON).text)
        with self._lock:
            self._plans[plan] = read
            while len(self._plans) > self._most:
                self._plans.popitem(last=False)
        return read
