"""The plan of a push, without any server: every case of what should be, what was put and what is there."""

from __future__ import annotations

from itertools import product

import pytest

from api.caldav import Conflicts, Found, Item, Pushed, There
from api.caldav.content import digest_of, marked
from api.caldav.nouns import BEGUN
from api.caldav.plan import Deed, Sort, deeds_of, overtook, unread

from .events import edited, item_of, uid_of

NOW, OLD = item_of(1, 1, "M 57"), item_of(1)
UID = uid_of(1)
THEIRS = edited(OLD.text.encode(), summary="Elsewhere")
STRANGER = item_of(2).text
REPORT, KEEP, OVERWRITE = Conflicts.REPORT, Conflicts.KEEP, Conflicts.OVERWRITE
PUT = Pushed('"1"', digest_of(OLD.text))
KEPT = Pushed(None, digest_of(OLD.text))


def deed(
    item: Item | None, noted: Pushed | None, there: There | None, conflicts: Conflicts = REPORT
) -> Deed | None:
    found = deeds_of(
        [item] if item else [], {UID: noted} if noted else {}, {UID: there} if there else {}, conflicts
    )
    return found[0] if found else None


@pytest.mark.parametrize(("item", "noted", "there", "sort", "etag"), [
    (NOW, None, None, Sort.CREATE, None),
    (NOW, Pushed(BEGUN, "x"), None, Sort.CREATE, None),
    (OLD, PUT, There('"1"'), Sort.LEAVE, '"1"'),
    (NOW, PUT, There('"1"'), Sort.UPDATE, '"1"'),
    (NOW, PUT, There('"2"', marked(OLD.text)), Sort.UPDATE, '"2"'),
    (NOW, PUT, There('"2"', OLD.text), Sort.UPDATE, '"2"'),
    (NOW, PUT, There('"2"', NOW.text), Sort.ADOPT, '"2"'),
    (NOW, PUT, There('"2"', marked(NOW.text)), Sort.ADOPT, '"2"'),
    (NOW, None, There('"2"', marked(OLD.text)), Sort.UPDATE, '"2"'),
    (NOW, None, There('"2"', NOW.text), Sort.ADOPT, '"2"'),
    (NOW, Pushed(BEGUN, digest_of(NOW.text)), There('"2"', marked(NOW.text)), Sort.ADOPT, '"2"'),
    (OLD, KEPT, There('"2"', marked(OLD.text)), Sort.ADOPT, '"2"'),
    (NOW, KEPT, There('"2"', marked(OLD.text)), Sort.UPDATE, '"2"'),
    (None, PUT, There('"1"'), Sort.DELETE, '"1"'),
    (None, PUT, There('"2"', marked(NOW.text)), Sort.DELETE, '"2"'),
    (None, PUT, None, Sort.FORGET, None),
    (None, PUT, There('"2"', STRANGER), Sort.FORGET, None),
    (None, Pushed(BEGUN, digest_of(OLD.text)), There('"2"', marked(OLD.text)), Sort.DELETE, '"2"'),
])  # fmt: skip
@pytest.mark.parametrize("conflicts", list(Conflicts))
def test_what_nobody_changed_is_dealt_with_alike_under_every_policy(
    item: Item | None, noted: Pushed | None, there: There | None, sort: Sort, etag: str | None,
    conflicts: Conflicts,
) -> None:  # fmt: skip
    assert deed(item, noted, there, conflicts) == Deed(UID, sort, etag)


CHANGED, DELETED = Found.CHANGED, Found.DELETED


@pytest.mark.parametrize(("item", "noted", "there", "report", "keep", "overwrite"), [
    (NOW, PUT, There('"2"', THEIRS), Deed(UID, Sort.TELL, None, CHANGED),
     Deed(UID, Sort.KEEP, None, CHANGED), Deed(UID, Sort.UPDATE, '"2"', CHANGED)),
    (OLD, PUT, There('"2"', THEIRS), Deed(UID, Sort.TELL, None, CHANGED),
     Deed(UID, Sort.KEEP, None, CHANGED), Deed(UID, Sort.UPDATE, '"2"', CHANGED)),
    (OLD, None, There('"2"', THEIRS), Deed(UID, Sort.TELL, None, CHANGED),
     Deed(UID, Sort.KEEP, None, CHANGED), Deed(UID, Sort.UPDATE, '"2"', CHANGED)),
    (OLD, KEPT, There('"2"', THEIRS), Deed(UID, Sort.TELL, None, CHANGED),
     Deed(UID, Sort.STAY), Deed(UID, Sort.UPDATE, '"2"', CHANGED)),
    (NOW, KEPT, There('"2"', THEIRS), Deed(UID, Sort.TELL, None, CHANGED),
     Deed(UID, Sort.KEEP, None, CHANGED), Deed(UID, Sort.UPDATE, '"2"', CHANGED)),
    (NOW, PUT, None, Deed(UID, Sort.TELL, None, DELETED),
     Deed(UID, Sort.KEEP, None, DELETED), Deed(UID, Sort.CREATE, None, DELETED)),
    (OLD, KEPT, None, Deed(UID, Sort.TELL, None, DELETED),
     Deed(UID, Sort.STAY), Deed(UID, Sort.CREATE, None, DELETED)),
    (None, PUT, There('"2"', THEIRS), Deed(UID, Sort.TELL, None, CHANGED),
     Deed(UID, Sort.FORGET, None, CHANGED), Deed(UID, Sort.DELETE, '"2"', CHANGED)),
])  # fmt: skip
def test_what_was_changed_by_hand_is_dealt_with_by_policy(
    item: Item | None, noted: Pushed | None, there: There | None, report: Deed, keep: Deed, overwrite: Deed
) -> None:
    assert deed(item, noted, there, REPORT) == report
    assert deed(item, noted, there, KEEP) == keep
    assert deed(item, noted, there, OVERWRITE) == overwrite


WRITES = {Sort.CREATE, Sort.UPDATE, Sort.DELETE}


def test_no_case_at_all_writes_over_a_stranger_or_without_a_condition() -> None:
    """Every combination of what may be wanted, remembered and found."""
    noted = [None, PUT, KEPT, Pushed(BEGUN, PUT.digest), Pushed('"9"', digest_of(STRANGER))]
    texts = [None, STRANGER, THEIRS, "", "nonsense", OLD.text, marked(OLD.text), STRANGER + OLD.text]
    there = [None, *(There('"2"', text) for text in texts)]
    cases = list(product([None, NOW, OLD], noted, there, list(Conflicts)))
    for item, put, found, conflicts in cases:
        done = deed(item, put, found, conflicts)
        if done is None:
            assert item is None
            assert put is None
            continue
        if done.sort in WRITES:
            assert done.etag == (None if found is None else found.etag)
            assert (done.sort is Sort.CREATE) == (found is None)
        ours = found is not None and found.text is not None and found.text.count(UID) and (
            STRANGER not in found.text
        )  # fmt: skip
        if found is not None and not ours:
            assert done.sort in {Sort.TELL, Sort.FORGET}
        if found is not None and found.text == THEIRS and conflicts is not OVERWRITE:
            assert done.sort not in WRITES
    assert len(cases) == 3 * 5 * 9 * 3


def test_deeds_keep_the_order_of_the_feed_and_take_away_last() -> None:
    items = [item_of(night) for night in (3, 1, 2)]
    pushed = {uid_of(9): PUT, uid_of(1): PUT}
    assert [one.uid for one in deeds_of(items, pushed, {}, REPORT)] == [
        uid_of(3), uid_of(1), uid_of(2), uid_of(9)
    ]  # fmt: skip


def test_only_what_is_not_as_left_is_read() -> None:
    pushed = {"same": Pushed('"1"', ""), "other": Pushed('"1"', ""), "kept": Pushed(None, ""),
              "gone": Pushed('"1"', "")}  # fmt: skip
    there = {"same": There('"1"'), "other": There('"2"'), "kept": There('"3"'), "new": There('"4"')}
    assert unread(["same", "other", "kept", "gone", "new"], pushed, there) == ("other", "kept", "new")


def test_a_later_push_of_ours_is_known_by_its_sequence() -> None:
    assert overtook(OLD, There('"2"', marked(NOW.text)))
    assert not overtook(NOW, There('"2"', marked(OLD.text)))
    assert not overtook(NOW, There('"2"', marked(NOW.text)))
    assert not overtook(OLD, There('"2"', edited(marked(NOW.text).encode(), summary="Elsewhere")))
    assert not overtook(OLD, There('"2"', marked(item_of(2, 5).text)))
    assert not overtook(OLD, None)
