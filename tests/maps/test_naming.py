"""The words of a name propose a kind: those that stand last, the longest of them."""

from __future__ import annotations

import pytest

from knowngood.maps.kinds import kinds
from knowngood.maps.naming import PLUG_KINDS, kind_words, proposed_kind


def test_every_kind_has_words_and_every_word_a_kind() -> None:
    assert set(kind_words().values()) == set(kinds())
    assert set(PLUG_KINDS) < set(kinds())


@pytest.mark.parametrize(
    ("name", "plug", "kind"),
    [
        ("fan", False, "fan"),
        ("wifi-board", False, "wireless"),
        ("main-board", False, "board"),
        ("left-speaker-2", False, "loudspeaker"),
        ("fan-board", False, "board"),
        ("fan-plug", True, "plug"),
        ("speaker-lead", True, "wire-lead"),
        ("fan", True, None),
        ("thing", False, None),
    ],
)
def test_a_name_proposes(name: str, plug: bool, kind: str | None) -> None:
    assert proposed_kind(name, plug=plug) == kind
