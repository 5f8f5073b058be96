"""Whoever wrote a text, it stays a text."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.pictures.letters import clean, fitted, width_of, written


@given(st.text())
def test_any_text_may_stand_in_a_picture(text: str) -> None:
    element = ElementTree.fromstring(f'<text label="{written(text)}">{written(text)}</text>')
    assert (element.text or "") == element.get("label") == clean(text)
    assert len(element) == 0


@pytest.mark.parametrize(
    "unseen", ["\x00", "\x07", "\x7f", "\x85", "\u202e", "\u2066", "\ufeff", "\ufffe", "\ud800"]
)
def test_what_xml_forbids_and_what_turns_writing_is_left_out(unseen: str) -> None:
    assert clean(f"M{unseen}42") == "M42"


def test_letters_of_any_script_stay() -> None:
    assert clean("Ωmega – Ķ 星団 \U0001f319") == "Ωmega – Ķ 星団 \U0001f319"


@given(st.text(alphabet="abcdefgh ", min_size=1, max_size=200), st.floats(30, 400), st.floats(8, 16))
def test_a_cut_text_fits(text: str, width: float, size: float) -> None:
    cut = fitted(text, width, size)
    assert width_of(cut, size) <= width + width_of("x", size)
    assert cut == clean(text) or cut.endswith("…")
