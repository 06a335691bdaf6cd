"""The Brier score against its published examples.

Source: Glossary of Meteorology, American Meteorological Society, "Brier score": forecasts of 1, 0.7, 0.5 and 0.3 and
their scores; four forecasts together recomputed by hand from its definition. G. W. Brier, Monthly Weather Review 78
(1950) 1-3 (whose score for two classes is twice this, from memory).
"""

from __future__ import annotations

import pytest

from knowngood.belief.calibration import brier, deciles


@pytest.mark.parametrize(
    ("forecasts", "outcomes", "score"),
    [
        ([1.0], [True], 0.0),
        ([1.0], [False], 1.0),
        ([0.7], [True], 0.09),
        ([0.3], [True], 0.49),
        ([0.5], [True], 0.25),
        ([0.5], [False], 0.25),
        ([0.1, 0.9, 0.8, 0.3], [False, True, True, False], 0.0375),
    ],
)
def test_the_brier_score_of_the_glossary(forecasts: list[float], outcomes: list[bool], score: float) -> None:
    assert brier(forecasts, outcomes) == pytest.approx(score, abs=1e-12)


def test_claims_fall_into_tenths_and_none_is_lost() -> None:
    believed = [0.0, 0.05, 0.1, 0.3, 0.95, 1.0]
    found = deciles(believed, [False, True, False, True, True, True])
    assert [(one.low, one.high, one.count, one.true) for one in found] == [
        (0.0, 0.1, 2, 1),
        (0.1, 0.2, 1, 0),
        (0.3, 0.4, 1, 1),
        (0.9, 1.0, 2, 2),
    ]
    assert [one.believed for one in found] == pytest.approx([0.025, 0.1, 0.3, 0.975])
    assert deciles([], []) == []
