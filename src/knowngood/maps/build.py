"""Joins a checked map with its kinds into a Device. Nothing here can fail on a map that the checker passed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import replace
from math import inf

from knowngood.handbook.human_error import CHECKED_FACTOR, REVERSED_PER_TOUCH, UNSEATED_PER_TOUCH
from knowngood.maps.check import all_parts, needs
from knowngood.maps.device import (
    AnyMode,
    Charge,
    Device,
    Fastener,
    Function,
    FunctionLevel,
    Married,
    Mode,
    Part,
    PartModes,
    Prices,
    RailToGround,
    RailVoltage,
    Remedy,
    Sensed,
    Step,
    Test,
    Worth,
)
from knowngood.maps.kinds import hazards, kinds, modes_of
from knowngood.maps.schema import (
    ConnectionTable,
    FunctionTable,
    MapTable,
    ModeTable,
    PartTable,
    RemedyTable,
    StepTable,
    TestTable,
)
from knowngood.maps.words import (
    ANY,
    DIODE,
    LEVEL_WORDS,
    MISSING,
    REVERSED,
    SEATED,
    TO_GROUND,
    Level,
)

TRIED_OUTCOMES = ("works", "weak", "fails")
"""Words for the three levels of a function, best first."""


SEATED_MINUTES, SEATED_ALARM = 0.2, 0.01
"""Time to check that a connection sits, and how often one that does is called wrong (common practice, no source)."""


def build(table: MapTable, text: str) -> Device:
    """The device of a checked map; ``text`` is the file, kept so that the log can be replayed against it."""
    parts = {name: _part(name, part, _lacks(table, part)) for name, part in all_parts(table).items()}
    functions = {name: _function(name, table.functions[name]) for name in _in_order(table)}
    return Device(
        id=table.map,
        what=table.what,
        power=table.power,
        protection_class=table.protection_class,
        unknown=table.unknown,
        worth=Worth(table.worth.working, table.worth.as_is, table.worth.parts),
        parts=parts,
        functions=functions,
        tests=_tests(table, parts),
        steps={name: _step(name, step) for name, step in table.access.items()},
        married=tuple(Married(tuple(one.parts), one.bond, tuple(one.spoils)) for one in table.married),
        hazards=hazards(),
        stores_data=table.stores_data,
        content_hash=hashlib.sha256(text.encode()).hexdigest()[:16],
        text=text,
        starter=table.starter,
        weight=table.weight,
        idle=table.idle,
    )


def _lacks(table: MapTable, part: PartTable) -> set[str]:
    """Hazards that its kind does not bring to this part: the unit never runs on the power that they come with, or the
    rails that it hangs on cannot charge anything above what hands may touch."""
    runs_on = {table.power, *(test.power for test in table.tests.values())}
    for function in table.functions.values():
        runs_on |= {one.power for one in (function.tried, function.probe) if one}
    rails = [table.functions[rail].nominal for rail in part.on]
    charge = part.charge.charged_to if part.charge else 0.0
    highest = max(charge, max((rail.high for rail in rails if rail), default=inf))
    return {
        name
        for name, one in hazards().items()
        if (one.in_units_on and not runs_on & set(one.in_units_on)) or (one.safe_below and highest < one.safe_below)
    }


def _brought(names: Iterable[str], lacks: set[str]) -> tuple[str, ...]:
    return tuple(name for name in names if name not in lacks)


def _in_order(table: MapTable) -> list[str]:
    """The functions in the order of the file, each after all that it needs."""
    order: dict[str, None] = {}
    waiting = list(reversed(table.functions))
    while waiting:
        first = [one for one in needs(table.functions[waiting[-1]]) if one in table.functions and one not in order]
        if first:
            waiting += reversed(first)
        else:
            order[waiting.pop()] = None
    return list(order)


def _part(name: str, table: PartTable, lacks: set[str]) -> Part:
    kind = kinds()[table.kind]
    charge = table.charge or kind.charge
    modes = modes_of(table)
    base = kind.base if table.base is None else table.base
    missing = kind.missing if table.missing is None else table.missing
    if isinstance(table, ConnectionTable) and table.reversible:
        modes[REVERSED] = _reversed(modes)
    whole = sum(mode.ratio or 0.0 for mode in modes.values())
    # 'missing' is a chance of its own on top of the base; together they are the chance of any fault.
    any_fault = base + missing - base * missing
    present_share = 1.0 - missing / any_fault if any_fault else 1.0
    built = [_mode(one, mode, present_share * (mode.ratio or 0.0) / whole) for one, mode in modes.items()]
    if missing:
        built.append(Mode(MISSING, "is not there", missing / any_fault, Level.NONE, looks=((MISSING, 0.95),)))
    hands_on = {**kind.remedies, **table.remedies}
    remedies = tuple(_remedy(one, built, remedy, lacks) for one, remedy in hands_on.items() if remedy)
    return Part(
        id=name,
        what=table.what,
        kind=table.kind,
        base=any_fault,
        modes=tuple(built),
        looks=tuple(kind.looks.items()),
        past=tuple({**kind.past, **table.past}.items()),
        remedies=remedies,
        price=Prices(table.price.new, table.price.used, table.price.donor),
        behind=table.behind,
        parent=table.parent,
        zone=table.zone,
        on=tuple(table.on),
        joins=tuple(table.joins) if isinstance(table, ConnectionTable) else (),
        carries=tuple(table.carries) if isinstance(table, ConnectionTable) else (),
        reversible=isinstance(table, ConnectionTable) and table.reversible,
        latch=table.latch if isinstance(table, ConnectionTable) else None,
        hazards=tuple(dict.fromkeys((*_brought(kind.hazards, lacks), *table.hazards))),
        stores_data=kind.stores_data if table.stores_data is None else table.stores_data,
        charge=Charge(charge.capacitance, charge.charged_to, charge.bleed) if charge else None,
        revisions=tuple((revision, tuple(others)) for revision, others in table.revisions.items()),
        weight=table.weight,
    )


def _reversed(modes: dict[str, ModeTable]) -> ModeTable:
    """The wrong way round: as much rarer than not seated as the figures for one touch say (common practice)."""
    unseated = sum(mode.ratio or 0.0 for mode in modes.values() if mode.seating)
    return ModeTable(
        says="in the wrong way round",
        ratio=unseated * REVERSED_PER_TOUCH / UNSEATED_PER_TOUCH or sum(m.ratio or 0.0 for m in modes.values()) / 100,
        seating=True,
        looks={"misaligned": 0.5},
        past={"opened-before": 3.0},
    )


def _seated(part: Part) -> Test:
    """The check that a connection sits: it finds all but the tenth that a check-off line leaves."""
    ways = tuple((mode.name, 1.0 - CHECKED_FACTOR) for mode in part.modes if mode.seating)
    mark = ", its orientation mark matches" if part.reversible else ""
    return Test(
        f"{part.id}.{SEATED}",
        "found",
        f"Look along it and tug it lightly: fully in, latch closed{mark}",
        PartModes(part.id, ways),
        ("right", "wrong"),
        SEATED_MINUTES,
        "off",
        part.behind,
        false_alarm=SEATED_ALARM,
    )


def _mode(name: str, table: ModeTable, share: float) -> Mode:
    limits = None
    if table.limits is not None:
        limits = tuple((function, LEVEL_WORDS[word]) for function, word in table.limits.items())
    return Mode(
        name=name,
        says=table.says or name,
        share=share,
        gives=LEVEL_WORDS[table.gives or "none"],
        takes=table.takes,
        high=bool(table.high),
        when=table.when,
        limits=limits,
        looks=tuple((table.looks or {}).items()),
        past=tuple((table.past or {}).items()),
        seating=bool(table.seating),
        blows=bool(table.blows),
        by_touch=table.by_touch or 0.0,
        shows=table.shows,
    )


def _remedy(name: str, modes: list[Mode], table: RemedyTable, lacks: set[str]) -> Remedy:
    cures = {mode.name: table.cures[ANY] for mode in modes} if ANY in table.cures else {}
    if ANY in table.cures and not table.part:
        cures.pop(MISSING, None)
    known = {mode.name for mode in modes}
    if REVERSED in known and REVERSED not in table.cures:  # whoever seats it anew turns it round, too
        by_hand = [cures.get(mode.name, table.cures.get(mode.name, 0.0)) for mode in modes if mode.seating]
        cures[REVERSED] = max(by_hand, default=0.0)
    cures |= {mode: chance for mode, chance in table.cures.items() if mode in known}
    return Remedy(
        name=name,
        do=table.do,
        cures=tuple(cures.items()),
        minutes=table.minutes,
        materials=table.materials,
        part=table.part,
        wait=table.wait,
        spoils=tuple((mode, chance) for mode, chance in table.spoils.items() if mode in known),
        tools=tuple(dict.fromkeys([*table.tools, *table.holds])),
        hazards=_brought(table.hazards, lacks),
        holds=tuple(table.holds),
    )


def _function(name: str, table: FunctionTable) -> Function:
    return Function(
        id=name,
        what=table.what,
        carries=table.carries,
        needs=tuple(table.needs),
        any_of=tuple(tuple(group) for group in table.any_of),
        spoiled_by=tuple(table.spoiled_by),
        wanted=table.wanted,
        without=table.without,
        nominal=table.nominal,
        to_ground=table.to_ground if table.nominal is not None else None,
        short_below=table.short_below,
        drift=table.drift,
        diode=table.diode,
        under_short=table.under_short,
    )


def _tests(table: MapTable, parts: dict[str, Part]) -> dict[str, Test]:
    tests = {one.id: one for part in parts.values() if any(m.seating for m in part.modes) for one in [_seated(part)]}
    for name, function in table.functions.items():
        tests |= _function_tests(name, function)
    for name, one in table.tests.items():
        sensed: Sensed
        if one.senses is not None:
            sensed = FunctionLevel(one.senses)
        else:
            sensed = AnyMode(tuple((part, tuple(modes)) for part, modes in (one.parts or {}).items()))
        tests[name] = _test(name, one, sensed, one.behind)
    for name, part_table in all_parts(table).items():
        own = {**kinds()[part_table.kind].tests, **part_table.tests}
        known, lacks = {mode.name for mode in parts[name].modes}, _lacks(table, part_table)
        for short_name, kind_test in own.items():
            if kind_test is None:
                continue
            detects = tuple((mode, chance) for mode, chance in (kind_test.detects or {}).items() if mode in known)
            test_name = f"{name}.{short_name}"
            behind = kind_test.behind or part_table.behind
            built = _test(test_name, kind_test, PartModes(name, detects), behind)
            # A kind's test on mains is made on what the unit runs on, where that is never mains.
            power = table.power if built.power == "mains" and "mains" in lacks else built.power
            fed = {"rail": next(iter(part_table.on), None), "part": name, "unit": None}[kind_test.feeds]
            tests[test_name] = replace(built, power=power, feeds=fed, hazards=_brought(built.hazards, lacks))
    return tests


def _function_tests(name: str, function: FunctionTable) -> dict[str, Test]:
    tests: dict[str, Test] = {}
    if function.nominal is not None and function.probe is not None:
        probe = function.probe
        tests[name] = Test(
            name,
            "read",
            f"Measure the {function.what} at {probe.where}",
            RailVoltage(name),
            ("good", "weak", "none", "high"),
            probe.minutes,
            probe.power,
            probe.behind,
            tools=("meter",),
        )
        tests[name + TO_GROUND] = Test(
            name + TO_GROUND,
            "read",
            f"Power off: resistance to ground of the {function.what} at {probe.where}",
            RailToGround(name),
            ("clear", "short"),
            probe.minutes,
            "off",
            probe.behind,
            tools=("meter",),
        )
        if function.diode is not None:
            tests[name + DIODE] = Test(
                name + DIODE,
                "read",
                f"Power off, diode mode, red probe on ground: forward drop of the {function.what} at {probe.where}",
                RailToGround(name, diode=True),
                ("clear", "short"),
                probe.minutes,
                "off",
                probe.behind,
                tools=("meter",),
            )
    if function.tried is not None:
        tried = function.tried
        tried_name = name if name not in tests else f"{name}.tried"
        tests[tried_name] = Test(
            tried_name,
            "tried",
            tried.do,
            FunctionLevel(name),
            TRIED_OUTCOMES,
            tried.minutes,
            tried.power,
            None,
            tried.closed,
            tried.warm,
            tried.miss,
            tried.false_alarm,
            tuple(tried.tools),
            tuple(tried.hazards),
            tried.runs,
            draw=tried.draw,
        )
    return tests


def _test(name: str, table: TestTable, sensed: Sensed, behind: str | None) -> Test:
    return Test(
        name,
        "found",
        table.do,
        sensed,
        (table.outcomes[0], table.outcomes[1]),
        table.minutes,
        table.power,
        behind,
        table.closed,
        table.warm,
        table.miss,
        table.false_alarm,
        tuple(table.tools),
        tuple(table.hazards),
        table.runs,
    )


def _step(name: str, table: StepTable) -> Step:
    fasteners = tuple(Fastener(one.count, one.thread, one.length, one.driver, one.where) for one in table.fasteners)
    return Step(
        name,
        table.do,
        tuple(table.after),
        table.open,
        table.close,
        fasteners,
        tuple(table.unplugs),
        tuple(table.removes),
        tuple(table.hazards),
        table.wait,
        tuple(tuple(group) for group in table.any_of),
        table.holds,
        table.risk,
    )
