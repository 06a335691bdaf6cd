"""Twenty planted closing mistakes: sheet and list have a line for each, and it is gone where nobody asks in time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small import usual

from knowngood.maps import load
from knowngood.plan.before_power import BeforePower
from knowngood.plan.closing_drill import GENERAL, Job, Mistake, caught, drawn_job
from knowngood.plan.reassembly import Sheet

SEEDS = {"ceiling-projector": 0, "pocket-navigator": 1}


@pytest.fixture(scope="module")
def jobs() -> list[Job]:
    found = []
    for name, seed in SEEDS.items():
        on = load(name)
        found.append(drawn_job(on, usual(on), np.random.default_rng(seed)))
    return found


@pytest.fixture(scope="module")
def planted(jobs: list[Job]) -> list[tuple[Job, Mistake]]:
    """One of each kind on each job, then others at places that are drawn."""
    every = [(job, one) for job in jobs for one in job.mistakes]
    kinds = {(job.device.id, one.kind): (job, one) for job, one in reversed(every)}
    draw = np.random.default_rng(3)
    others = [every[int(place)] for place in draw.permutation(len(every))]
    return [*kinds.values(), *others][:20]


def test_every_kind_of_mistake_is_planted(planted: list[tuple[Job, Mistake]]) -> None:
    kinds = {one.kind for _, one in planted}
    assert len(planted) == 20
    assert kinds == {
        *("plug not in", "latch open", "coax forgotten", "cable reversed", "swapped with its twin"),
        *GENERAL,
    }


def test_sheet_and_list_each_ask_for_all_of_them(planted: list[tuple[Job, Mistake]]) -> None:
    for job, one in planted:
        found = caught(job, one)
        assert found.by_sheet, one
        assert found.by_list, one


def test_a_list_that_is_asked_for_only_once_all_is_closed_comes_too_late_for_what_is_behind(
    planted: list[tuple[Job, Mistake]],
) -> None:
    for job, one in planted:
        found = caught(job, one)
        assert found.by_late_list == (one.kind in GENERAL), one
        assert found.why == ("" if found.by_late_list else "asked for too late: closed in")


def test_a_line_that_is_not_there_catches_nothing(planted: list[tuple[Job, Mistake]]) -> None:
    for job, one in planted:
        empty = replace(job, sheet=_without(job.sheet, one), plugged=_less(job.plugged), closed=_less(job.closed))
        found = caught(empty, one)
        assert (found.by_sheet, found.by_list) == (False, False), one
        assert found.why == "no line of the sheet and list asks for it"


def _without(sheet: Sheet, mistake: Mistake) -> Sheet:
    """The sheet without the lines that are about the place of a mistake."""
    about = {mistake.target, mistake.other}
    blocks = (
        replace(block, lines=tuple(line for line in block.lines if line.target not in about)) for block in sheet.blocks
    )
    return replace(sheet, blocks=tuple(blocks))


def _less(found: BeforePower) -> BeforePower:
    return replace(found, lines=())
