"""The plan of a push: what is done about each event, from what should be, what was put, and what is there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from .content import digest_of, is_as_written, sequence_of, uid_of
from .nouns import BEGUN, Conflicts, Found, Item, Pushed, There


class Sort(StrEnum):
    """What is done about one event: the first three write, the others only remember or tell."""

    CREATE = "create"
    UPDATE = "update"
    DELETE = "delete"
    ADOPT = "remember what is there as ours"
    LEAVE = "leave what is as it should be"
    FORGET = "remember it no longer"
    TELL = "leave what is theirs, and tell it"
    KEEP = "keep what is theirs from now on, and tell it once"
    STAY = "keep what is theirs, as told before"


@dataclass(frozen=True, slots=True)
class Deed:
    """What is done about one event: only while it has the tag `etag` there, None where there is none.

    `found` is what is told of it, None where it was as we had left it.
    """

    uid: str
    sort: Sort
    etag: str | None = None
    found: Found | None = None


def unread(uids: Iterable[str], pushed: Mapping[str, Pushed], there: Mapping[str, There]) -> tuple[str, ...]:
    """List the events whose text must be read before anything is decided: their tags are not as we left them.

    Examples
    --------
    >>> unread(["a", "b"], {"a": Pushed('"1"', "")}, {"a": There('"1"'), "b": There('"2"')})
    ('b',)
    """
    return tuple(
        uid for uid in uids
        if uid in there and (uid not in pushed or pushed[uid].etag != there[uid].etag)
    )  # fmt: skip


def deeds_of(
    items: Sequence[Item], pushed: Mapping[str, Pushed], there: Mapping[str, There], conflicts: Conflicts
) -> tuple[Deed, ...]:
    """List what is to be done: about each event wanted, in their order, then about those wanted no longer.

    Parameters
    ----------
    items : The events the collection should show.
    pushed : What is remembered of those we put, by UID.
    there : What the server has under our addresses, by UID; with its text wherever `unread` asks for it.
    conflicts : What becomes of events changed by hand.
    """
    wanted = {item.uid: item for item in items}
    deeds = [_wanted(item, pushed.get(uid), there.get(uid), conflicts) for uid, item in wanted.items()]
    deeds += [
        _unwanted(uid, noted, there.get(uid), conflicts)
        for uid, noted in pushed.items() if uid not in wanted
    ]  # fmt: skip
    return tuple(deeds)


def overtook(item: Item, there: There | None) -> bool:
    """Tell whether what is there was put by a later push of ours than this one."""
    if there is None or there.text is None or not is_as_written(there.text):
        return False
    return uid_of(there.text) == item.uid and sequence_of(there.text) > sequence_of(item.text)


def _wanted(item: Item, noted: Pushed | None, there: There | None, conflicts: Conflicts) -> Deed:
    digest, found = digest_of(item.text), _found(item.uid, noted, there)
    if found is Found.ANOTHER:
        return Deed(item.uid, Sort.TELL, found=found)
    if there is not None and digest == _digest_there(noted, there):
        known = noted == Pushed(there.etag, digest)
        return Deed(item.uid, Sort.LEAVE if known else Sort.ADOPT, there.etag)
    if found is not None and conflicts is Conflicts.REPORT:
        return Deed(item.uid, Sort.TELL, found=found)
    if found is not None and conflicts is Conflicts.KEEP:
        told = noted == Pushed(None, digest)
        return Deed(item.uid, Sort.STAY if told else Sort.KEEP, found=None if told else found)
    if there is None:
        return Deed(item.uid, Sort.CREATE, found=found)
    return Deed(item.uid, Sort.UPDATE, there.etag, found)


def _unwanted(uid: str, noted: Pushed, there: There | None, conflicts: Conflicts) -> Deed:
    found = _found(uid, noted, there)
    if there is None or found is Found.ANOTHER:
        return Deed(uid, Sort.FORGET)
    if found is not None and conflicts is Conflicts.REPORT:
        return Deed(uid, Sort.TELL, found=found)
    if found is not None and conflicts is Conflicts.KEEP:
        return Deed(uid, Sort.FORGET, found=found)
    return Deed(uid, Sort.DELETE, there.etag, found)


def _found(uid: str, noted: Pushed | None, there: There | None) -> Found | None:
    """Tell what is not as we left it; an event may be missing that we never put, or only began to."""
    if there is None:
        return None if noted is None or noted.etag == BEGUN else Found.DELETED
    if noted is not None and noted.etag == there.etag:
        return None
    if there.text is None or uid_of(there.text) != uid:
        return Found.ANOTHER
    ours = is_as_written(there.text) or (noted is not None and digest_of(there.text) == noted.digest)
    return None if ours else Found.CHANGED


def _digest_there(noted: Pushed | None, there: There) -> str | None:
    """What is not read says what was put, for its tag is the one it got then."""
    if there.text is not None:
        return digest_of(there.text)
    return None if noted is None else noted.digest
