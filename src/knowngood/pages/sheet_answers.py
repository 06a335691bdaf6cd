"""From the sheets of the terminal to what stands on paper and can be ticked on a screen. Nothing is decided here."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from knowngood.bench import proving, questions, release
from knowngood.bench.store import Store
from knowngood.cli import assembly_shapes, assembly_show, proof_show
from knowngood.cli.bring_up import bring_up_shape
from knowngood.cli.release import FIRST, test_shape
from knowngood.handbook.quantities import format_minutes
from knowngood.handbook.quantities import percent as chance

GAP = re.compile(r"\b([A-Z]{4,})\b")
"""Where a line of a sheet leaves a place for a person's figure or word: VALUE, INSTRUMENT, LIMIT."""


@dataclass(frozen=True)
class Piece:
    """A part of a line that is to be logged: as it stands, or a gap to fill in."""

    text: str
    gap: bool = False


@dataclass(frozen=True)
class Row:
    """One thing to do, with its box."""

    do: str
    log: str = ""
    """The line that ticks it; empty where no line does."""
    pieces: tuple[Piece, ...] = ()
    """The same line in pieces, where a figure is to be filled in."""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    held: str = ""
    first: str = ""
    done: bool = False


@dataclass(frozen=True)
class Group:
    """Rows under one heading, kept together on paper where they fit."""

    heading: str
    rows: tuple[Row, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Paper:
    """A sheet."""

    unit: str
    title: str
    seq: int
    verdict: str = ""
    lead: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    groups: tuple[Group, ...] = ()
    empty: str = ""
    """What is said where there is nothing to do."""


@dataclass
class _Once:
    """What was said stands once on a sheet."""

    said: set[str] = field(default_factory=set)

    def __call__(self, texts: Iterable[str]) -> tuple[str, ...]:
        new = [one for one in dict.fromkeys(texts) if one and one not in self.said]
        self.said.update(new)
        return tuple(new)


def _row(do: str, log: str, once: _Once, **more: object) -> Row:
    cautions = once(more.pop("cautions", ()))  # type: ignore[arg-type]
    pieces: tuple[Piece, ...] = ()
    if GAP.search(log):
        pieces = tuple(Piece(one, bool(GAP.fullmatch(one))) for one in (part.strip() for part in GAP.split(log)) if one)
    return Row(do=do, log=log, pieces=pieces, cautions=cautions, **more)  # type: ignore[arg-type]


def reassembly(store: Store, unit: str) -> Paper:
    """The way back."""
    found = assembly_show.reassembly(store.unit_id(unit), questions.reassembly_of(store, unit))
    once, torques = _Once(), _Once()

    def row(line: assembly_shapes.SheetLineShape) -> Row:
        notes = [one for one in line.notes if not one.startswith("torque") or torques([one])]
        return _row(
            line.do, line.log, once, notes=tuple(notes), cautions=line.cautions, held=line.held, first=line.first
        )

    groups = [
        Group(assembly_show.heading(block), tuple(row(line) for line in block.lines), tuple(block.remarks))
        for block in found.blocks
    ]
    lead = [assembly_show.balance(one) for one in found.balances]
    return Paper(
        unit=found.unit,
        title="Together again",
        seq=found.log_seq,
        lead=tuple(lead),
        groups=tuple(groups),
        empty="Nothing is open, unplugged, out or uncounted.",
    )


def before_power(store: Store, unit: str) -> Paper:
    """What is worth a check before power."""
    before, currency = questions.before_power_of(store, unit)
    found = assembly_show.before_power(store.unit_id(unit), before, currency)
    once = _Once()

    def row(line: assembly_shapes.PowerLineShape, *, tick: bool = True) -> Row:
        notes = [assembly_show.stake(line, currency)]
        if line.opens:
            notes.insert(0, f"behind {', '.join(line.opens)}")
        if line.shown_by and not line.held and not tick:
            notes.append(f"{line.shown_by} shows it")
        log = assembly_show.to_type(line) if tick else ""
        return _row(line.do, log, once, notes=tuple(notes), cautions=line.cautions, held=line.held, first=line.first)

    groups = [
        Group("Most at stake first", tuple(row(one) for one in found.lines)),
        Group("Held by a hard rule", tuple(row(one, tick=False) for one in found.held)),
        Group(
            "Closed in: a function that runs across it shows it, or open again",
            tuple(row(one, tick=False) for one in found.closed_in),
        ),
        Group("With the power", cautions=once(found.with_power)),
    ]
    lead = list(found.apart)
    if found.lines:
        lead.append(
            f"Something of what can be checked now is wrong with a chance of {chance(found.any_fault)}. "
            f"Together {format_minutes(found.minutes)}."
        )
    return Paper(
        unit=found.unit,
        title="Before power",
        seq=found.log_seq,
        verdict="No power yet" if found.no_power else "",
        lead=(*found.no_power, *lead),
        groups=tuple(one for one in groups if one.rows or one.cautions),
        empty="Nothing is left to check before power.",
    )


def proof(store: Store, unit: str) -> Paper:
    """What is still to pass."""
    found = proof_show.proof(store.unit_id(unit), proving.proof_of(store, unit))
    once = _Once()
    tests = []
    for one in found.tests:
        notes = [format_minutes(one.minutes)]
        notes += [f"open {', '.join(one.opens)} first"] if one.opens else []
        notes += ["from cold"] if one.from_cold else []
        notes += [f"watch it for {format_minutes(one.runs)}"] if one.runs else []
        notes.append(f"passes with {chance(one.p_pass)}; known good then {chance(one.after)}")
        log = f"{one.log.rpartition(' ')[0]} VALUE" if one.log.startswith("read ") else one.log
        tests.append(_row(one.do, log, once, notes=("; ".join(notes),), cautions=[*one.precautions, *one.cautions]))
    shown = [Row(one.what, done=True) for one in found.functions if one.proven]
    held = [_row(one.test, "", once, held=one.why, first=one.lifts) for one in found.held]
    groups = [
        Group("First", tuple(Row(line, line) for line in found.first)),
        Group("Still to pass, in this order", tuple(tests)),
        Group("Not to be made yet", tuple(held)),
        Group("Shown already", tuple(shown)),
    ]
    lead = [f"Does not work: {one}. Mend it, or declare it." for one in found.failing]
    lead += [f"Masked: {one.function}, by {', '.join(one.by)}." for one in found.masked]
    lead += [f"Still open: {', '.join(found.open)}. What is shown must be shown closed."] if found.open else []
    if found.tests:
        waits = f", and {format_minutes(found.wait)} without" if found.wait else ""
        lead.append(
            f"{format_minutes(found.minutes)} with hands{waits}. All pass with {chance(found.p_all_pass)}; then known "
            f"good {chance(found.known_good_after)}."
        )
    lead += [f"No test of this map shows: {'; '.join(found.gaps)}."] if found.gaps else []
    return Paper(
        unit=found.unit,
        title="Proof",
        seq=found.log_seq,
        verdict=f"{'Proved' if found.proved else 'Not proved'}: known good {chance(found.known_good)}",
        lead=tuple(lead),
        cautions=once([proof_show.SOAK_CAUTION]) if any(one.runs for one in found.tests) else (),
        groups=tuple(one for one in groups if one.rows),
        empty="Nothing is left to pass.",
    )


def safety_test(store: Store, unit: str) -> Paper:
    """The electrical tests after repair."""
    test, seq = release.safety_test_of(store, unit)
    found = test_shape(store.unit_id(unit), test, seq)
    once = _Once()
    rows = []
    for one in found.steps:
        if one.status == "not asked for":
            continue
        notes = [one.limit, f"{one.status}: {one.why}", f"{one.rules}; {one.source}".strip("; ")]
        notes += [f"line {each.seq}, {each.text}: {each.verdict}" for each in one.readings]
        rows.append(
            _row(
                f"{one.step.replace('-', ' ').capitalize()}: {one.do}",
                one.log if one.status == "open" else "",
                once,
                notes=tuple(text for text in notes if text),
                cautions=[one.caution],
                done=one.status == "passed",
            )
        )
    needless = tuple(f"{one.step}: {one.why}" for one in found.steps if one.status == "not asked for")
    asked = tuple(f"Still to be said: {line}" for line in found.asked)
    by_map = f", class {found.claimed} by its map" if found.claimed != found.protection else ""
    return Paper(
        unit=found.unit,
        title="Safety test after repair",
        seq=found.log_seq,
        verdict=f"Class {found.protection}{by_map}: {found.verdict}",
        lead=asked or (f"{found.why}.",),
        cautions=once([FIRST]),
        groups=tuple(
            one
            for one in (Group("In this order", tuple(rows)), Group("Not asked for", notes=needless))
            if one.rows or one.notes
        ),
        empty="No test is asked for.",
    )


def bring_up(store: Store, unit: str) -> Paper:
    """What can be tried at which stage."""
    found = bring_up_shape(store.unit_id(unit), questions.bring_up_of(store, unit))
    once = _Once()
    groups = []
    for number, stage in enumerate(found.stages):
        opened = f"with {', '.join(stage.open_steps)} open" if stage.open_steps else "closed"
        steps = [
            _row(one.do, one.log, once, notes=tuple(one.notes), cautions=one.cautions, held=one.held, first=one.first)
            for one in stage.do
        ]
        for line in stage.lines:
            source = f", by {line.source}" if line.source else ""
            steps.append(
                _row(
                    line.do,
                    line.log,
                    once,
                    notes=(f"expect: {line.expect}{source}",),
                    cautions=line.cautions,
                    held=line.held,
                    first=line.first,
                    done=line.done is not None,
                )
            )
        notes = [*stage.limits]
        if stage.not_yet and not number:
            notes.append(f"Cannot work yet, so that they fail says nothing: {', '.join(stage.not_yet)}")
        heading = f"{'As it is now' if not stage.do else 'Then'}, {opened}"
        groups.append(Group(heading, tuple(steps), tuple(notes), tuple(stage.warnings)))
    stop = found.stop
    lead: Sequence[str] = ()
    if stop:
        lead = (
            f"Line {stop.seq}, {stop.line}: {stop.why}.",
            "Power off, every source unplugged.",
            *(f"Since the last right answer: {line}" for line in stop.since),
        )
    return Paper(
        unit=found.unit,
        title="Bring-up",
        seq=found.log_seq,
        verdict="Stop here" if stop else "",
        lead=tuple(lead),
        groups=tuple(groups),
        empty="" if stop else "All that can be tried is right.",
    )


SHEETS: dict[str, tuple[str, Callable[[Store, str], Paper]]] = {
    "reassembly": ("Together again", reassembly),
    "before-power": ("Before power", before_power),
    "bring-up": ("Bring-up", bring_up),
    "proof": ("Proof", proof),
    "safety-test": ("Safety test", safety_test),
}
"""By the word in the address: what the link to it says, and what makes it. In the order of the work."""
