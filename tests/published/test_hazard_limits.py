"""The voltage to which a stored charge is let off, beside what is published of live parts.

Sources: 29 CFR 1910.333(a)(1) (live parts from 50 V to ground are de-energised before work, and lower ones if a burn is
to be feared); OSHA interpretation letter of 4 Sep 2015 on 29 CFR 1910.303(g)(2)(i) (injuries at 12 V and 24 V DC).
"""

from __future__ import annotations

from knowngood.maps.kinds import hazards

DE_ENERGISED_FROM = 50.0
INJURIES_FROM = 12.0


def test_hands_go_near_a_store_only_below_what_has_hurt_people() -> None:
    stored = hazards()["stored-charge"]
    assert stored.safe_below is not None
    assert stored.safe_below < INJURIES_FROM < DE_ENERGISED_FROM
    assert "29 CFR 1910.333(a)(1)" in stored.source
    assert "4 Sep 2015" in stored.source


def test_a_limit_from_memory_is_called_that_and_decides_nothing() -> None:
    stored = hazards()["stored-charge"]
    assert "60 V DC of IEC 62368-1, ES1, are from memory" in stored.source
    assert stored.safe_below != 60.0
