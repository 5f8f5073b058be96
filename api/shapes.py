"""What goes over the wire: the bodies of requests and answers, with an example of each."""

from __future__ import annotations

from datetime import date, datetime
from http import HTTPStatus
from typing import Any, TypeAlias

from pydantic import BaseModel, ConfigDict, Field

from .storage import JobRecord, JobState, PlanRecord, ScenarioRecord


class Shape(BaseModel):
    """A body; unknown members of a request are refused, so that a misspelt one is not silently ignored."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ScenarioShape(Shape):
    """A kept scenario."""

    id: str = Field(examples=["3f9a0c52d1e84b7766aa"])
    name: str = Field(examples=["winter-year"])
    title: str = Field(examples=["A winter year from the allotment"])
    revision: int = Field(description="Counts the changes from 1.", examples=[1])
    targets: int = Field(description="Entries of the wish-list.", examples=[60])
    season_start: date = Field(description="First evening of the season.", examples=["2026-09-01"])
    season_nights: int = Field(description="Nights of the season.", examples=[365])
    created: datetime
    changed: datetime
    links: dict[str, str] = Field(examples=[{
        "self": "/scenarios/3f9a0c52d1e84b7766aa",
        "scenario_toml": "/scenarios/3f9a0c52d1e84b7766aa/scenario.toml",
        "wish_list_csv": "/scenarios/3f9a0c52d1e84b7766aa/wish-list.csv",
        "plans": "/scenarios/3f9a0c52d1e84b7766aa/plans",
    }])  # fmt: skip

    @classmethod
    def of(cls, record: ScenarioRecord) -> ScenarioShape:
        """Return `record` as it is shown."""
        here = f"/scenarios/{record.id}"
        links = {
            "self": here,
            "scenario_toml": f"{here}/scenario.toml",
            "wish_list_csv": f"{here}/wish-list.csv",
            "plans": f"{here}/plans",
        }
        return cls(**_shared(cls, record), links=links)


class PlanWish(Shape):
    """How a scenario is to be planned."""

    seed: int = Field(0, ge=0, le=2**31 - 1, description="The same seed gives the same plan.", examples=[0])
    seconds: float = Field(10.0, ge=0.1, le=86_400, allow_inf_nan=False, examples=[10],
                           description="Effort of the search; the server may grant less. [s]")  # fmt: skip


class ProgressShape(Shape):
    """How far a job has come."""

    stage: str = Field(examples=["assigning targets to nights"])
    fraction: float = Field(ge=0, le=1, examples=[0.4])
    objective: float | None = Field(description="Worth of the best plan so far.", examples=[61.5])
    bound: float | None = Field(description="No plan is worth more than this.", examples=[64.0])


class JobShape(Shape):
    """A job: long work on a scenario."""

    id: str = Field(examples=["9b1d7e03c4a2f5860011"])
    state: JobState = Field(examples=["at work"])
    cancelling: bool = Field(description="Whether it has been asked to stop.", examples=[False])
    progress: ProgressShape
    scenario: str = Field(examples=["3f9a0c52d1e84b7766aa"])
    revision: int = Field(description="The scenario's revision it plans.", examples=[1])
    seed: int = Field(examples=[0])
    seconds: float = Field(description="Effort granted. [s]", examples=[10.0])
    problem: dict[str, Any] | None = Field(description="Why it failed.", examples=[None])
    created: datetime
    started: datetime | None
    ended: datetime | None
    links: dict[str, str] = Field(
        description="`plan` appears when the job is done.", examples=[{"self": "/jobs/9b1d7e03c4a2f5860011"}]
    )

    @classmethod
    def of(cls, record: JobRecord) -> JobShape:
        """Return `record` as it is shown."""
        links = {"self": f"/jobs/{record.id}", "scenario": f"/scenarios/{record.scenario}"}
        if not record.state.ended:
            links["cancel"] = f"/jobs/{record.id}/cancel"
        if record.plan is not None:
            links["plan"] = f"/plans/{record.plan}"
        progress = ProgressShape(
            stage=record.stage, fraction=record.fraction, objective=record.objective, bound=record.bound
        )
        return cls(**_shared(cls, record), progress=progress, links=links)


class PlanShape(Shape):
    """A kept plan, as lists show it; the plan itself is at its `self` link."""

    id: str = Field(examples=["77c0de1f2a3b4c5d6e7f"])
    scenario: str = Field(examples=["3f9a0c52d1e84b7766aa"])
    revision: int = Field(description="The scenario's revision it answers.", examples=[1])
    version: int = Field(description="Counts the scenario's plans from 1.", examples=[1])
    objective: float = Field(description="Its worth.", examples=[63.2])
    bound: float = Field(description="No plan is worth more than this.", examples=[64.0])
    visits: int = Field(examples=[58])
    unplaced: int = Field(description="Targets with fewer visits than wanted.", examples=[2])
    created: datetime
    links: dict[str, str] = Field(examples=[{"self": "/plans/77c0de1f2a3b4c5d6e7f"}])

    @classmethod
    def of(cls, record: PlanRecord) -> PlanShape:
        """Return `record` as it is shown."""
        here = f"/plans/{record.id}"
        links = {
            "self": here,
            "scenario": f"/scenarios/{record.scenario}",
            "schedule_csv": f"{here}/schedule.csv",
            "nights_csv": f"{here}/nights.csv",
            "unplaced_csv": f"{here}/unplaced.csv",
            "moon_csv": f"{here}/moon.csv",
            "odds_csv": f"{here}/odds.csv",
            "changes_csv": f"{here}/changes.csv",
        }
        return cls(**_shared(cls, record), links=links)


class ScenarioPage(Shape):
    """A page of scenarios, newest first."""

    items: list[ScenarioShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])


class PlanPage(Shape):
    """A page of plans, newest first."""

    items: list[PlanShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])


class Health(Shape):
    """That the service is well."""

    status: str = Field(examples=["ready"])


class ProblemEntry(BaseModel):
    """One fault of a request: where, and what is wrong with it."""

    model_config = ConfigDict(extra="allow")

    detail: str = Field(
        examples=["wish-list.csv, row 5, priority: read '9', expected a whole number from 1 to 5"]
    )
    pointer: str | None = Field(None, description="JSON Pointer into the request, as a fragment.",
                                examples=["#/wish_list_csv/5/priority"])  # fmt: skip


class Problem(BaseModel):
    """What went wrong, after RFC 9457; further members depend on the type."""

    model_config = ConfigDict(extra="allow")

    type: str = Field(
        description="Address of a page about this kind.", examples=["/problems/scenario-faults"]
    )
    title: str = Field(examples=["The scenario cannot be read"])
    status: int = Field(examples=[422])
    detail: str = Field(examples=["1 fault in the scenario"])
    request: str | None = Field(
        None, description="Names the request in the service's log.", examples=["0c1d2e3f4a5b6978"]
    )
    errors: list[ProblemEntry] | None = None


class ProblemKind(Shape):
    """A kind of problem, and what to do about it."""

    type: str = Field(examples=["/problems/stale"])
    title: str = Field(examples=["It has changed since you read it"])
    status: int = Field(examples=[412])
    advice: str = Field(examples=["Read it again and repeat your change on the new version."])


Described: TypeAlias = dict[int | str, dict[str, Any]]
ANY_REFUSAL: Described = {
    422: {"model": Problem, "description": "Everything wrong with the request, at once."},
    "default": {"model": Problem, "description": "Any other problem."},
}


def refusals(*statuses: int) -> Described:
    """Return the description of the problems an operation answers with."""
    return {status: {"model": Problem, "description": HTTPStatus(status).phrase} for status in statuses}


def answers(status: int, media_type: str | None = None, **headers: str) -> Described:
    """Return the description of a success, with its headers and their meaning."""
    kind = "object" if media_type == "application/json" else "string"
    text = {"content": {media_type: {"schema": {"type": kind}}}} if media_type else {}
    told = {
        name.replace("_", "-"): {"description": meaning, "schema": {"type": "string"}}
        for name, meaning in headers.items()
    }
    return {status: {**text, "headers": told}}


ETAG = "Version of what is returned."
IF_NEW: Described = {304: {"description": "You have the newest version already."}}


def next_page(path: str, cursor: int | None, limit: int) -> str | None:
    """Return the address of the page after `cursor`, None where there is none."""
    return None if cursor is None else f"{path}?cursor={cursor}&limit={limit}"


def _shared(shape: type[Shape], record: object) -> dict[str, Any]:
    """Return the members `shape` has in common with `record`."""
    return {name: getattr(record, name) for name in shape.model_fields if hasattr(record, name)}
