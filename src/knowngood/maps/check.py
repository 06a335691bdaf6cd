"""Checks a map in named passes: read, shape, references, conflicts, whole.

Each pass reports everything it can find; a later pass runs only when the earlier ones found nothing, so that one slip
is one message. Every rule (``Finding.rule``) has a small wrong map in the tests in which it fires.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from graphlib import CycleError, TopologicalSorter
from itertools import chain

from knowngood.handbook.quantities import format_quantity
from knowngood.handbook.readings import DIODE_RANGE, NONE_BELOW, OHMS_RANGE
from knowngood.maps.kinds import (
    check_charge,
    check_hazards,
    check_mode,
    check_modes,
    check_outcomes,
    check_pasts,
    check_remedies,
    check_tests,
    kinds,
    modes_of,
)
from knowngood.maps.read import Document, Finding, Path_
from knowngood.maps.schema import ConnectionTable, FunctionTable, MapTable, ModeTable, PartTable, StepTable
from knowngood.maps.shape import shape, similar
from knowngood.maps.words import DIODE, LEVEL_WORDS, MISSING, REVISION, TO_GROUND, Level

RULES = (
    *("readable", "yaml", "empty", "not-a-table", "not-a-key", "declared-twice", "alias", "tag", "too-deep"),
    *("unknown-key", "missing-key", "not-a-name", "not-a-choice", "not-a-quantity", "wrong-form"),
    *("no-such-kind", "no-such-part", "no-such-rail", "no-such-step", "no-such-function", "no-such-need"),
    *("no-such-mode", "no-such-condition", "no-such-past", "no-such-hazard", "no-such-connection"),
    *("same-name-twice", "reserved-mode", "incomplete-mode", "looks-over-one", "test-senses", "same-outcomes"),
    *("passing-pull", "feeds-unlimited", "feeds-no-part"),
    *("function-cycle", "step-cycle", "parent-cycle", "joins-itself", "married-to-itself"),
    *("not-a-revision", "no-such-revision"),
    *("probe-without-voltage", "rail-limits", "ground-limits", "diode-limits", "diode-unread", "rail-drift"),
    *("charge-without-hazard", "charge-limits", "certain-fault", "no-modes-left"),
    *("needless-choice", "holds-and-risk"),
    *("nothing-wanted", "wanted-untestable", "needs-nothing", "part-without-effect", "currencies"),
)
"""Every rule of the checker."""

MOST_DRIFT = 0.2
"""A rail that age moved further than this share of its nominal is not healthy (common practice, no source)."""


def check(document: Document) -> MapTable | None:
    """The map of a read document, or None with everything wrong in ``document.findings``."""
    if document.findings or document.data is None:
        return None
    table = shape(document, MapTable)
    if table is None:
        return None
    for check_pass in (_references, _conflicts, _whole):
        check_pass(document, table)
        if document.findings:
            return None
    return table


def all_parts(table: MapTable) -> dict[str, PartTable]:
    """Parts and connections together, in the order of the file."""
    return {**table.parts, **table.connections}


def _parts_at(table: MapTable) -> Iterator[tuple[Path_, str, PartTable]]:
    for name, part in table.parts.items():
        yield ("parts", name), name, part
    for name, part in table.connections.items():
        yield ("connections", name), name, part


def _references(document: Document, table: MapTable) -> None:
    parts = all_parts(table)
    rails = {name for name, function in table.functions.items() if function.nominal is not None}

    def known(rule: str, what: str, names: Iterable[str], under: str = "") -> Callable[[Path_, str | None], None]:
        listed = set(names)
        else_declare = f" Correct the name, or declare it under {under}." if under else ""

        def look_up(path: Path_, name: str | None) -> None:
            if name is not None and name not in listed:
                message = f"No {what} '{name}'. {similar(name, listed)}{else_declare}"
                document.findings.append(Finding(rule, document.at_value(path), message))

        return look_up

    kind = known("no-such-kind", "part kind", kinds())
    part_name = known("no-such-part", "part or connection", parts, "'parts' or 'connections'")
    connection = known("no-such-connection", "connection", table.connections, "'connections'")
    rail = known("no-such-rail", "rail", rails, "'functions' with its 'nominal'")
    step = known("no-such-step", "access step", table.access, "'access'")
    function_name = known("no-such-function", "function", table.functions, "'functions'")
    need = known(
        *("no-such-need", "part, connection or function", set(parts) | set(table.functions)),
        under="'parts', 'connections' or 'functions'",
    )

    def each(look_up: Callable[[Path_, str | None], None], path: Path_, names: Iterable[str]) -> None:
        for index, name in enumerate(names):
            look_up((*path, index), name)

    for path, _, part in _parts_at(table):
        kind((*path, "kind"), part.kind)
        part_name((*path, "parent"), part.parent)
        step((*path, "behind"), part.behind)
        each(rail, (*path, "on"), part.on)
        if isinstance(part, ConnectionTable):
            each(part_name, (*path, "joins"), part.joins)
        check_hazards(document, (*path, "hazards"), part.hazards)
        check_pasts(document, (*path, "past"), part.past)
        carried = [*(kinds()[part.kind].hazards if part.kind in kinds() else ()), *part.hazards]
        check_charge(document, (*path, "charge"), part.charge, carried)
        _revisions(document, (*path, "revisions"), part.revisions)
        for test_name, own in part.tests.items():
            step((*path, "tests", test_name, "behind"), own.behind if own else None)
        if part.kind in kinds():
            _part_modes(document, path, part, function_name)
    for name, function in table.functions.items():
        path = ("functions", name)
        each(need, (*path, "needs"), function.needs)
        for index, group in enumerate(function.any_of):
            each(need, (*path, "any_of", index), group)
        each(rail, (*path, "spoiled_by"), function.spoiled_by)
        if function.probe is not None:
            step((*path, "probe", "behind"), function.probe.behind)
        if function.tried is not None:
            check_hazards(document, (*path, "tried", "hazards"), function.tried.hazards)
    for name, one in table.access.items():
        path = ("access", name)
        each(step, (*path, "after"), one.after)
        for index, group in enumerate(one.any_of):
            each(step, (*path, "any_of", index), group)
        each(connection, (*path, "unplugs"), one.unplugs)
        each(part_name, (*path, "removes"), one.removes)
        check_hazards(document, (*path, "hazards"), one.hazards)
    for name, test in table.tests.items():
        path = ("tests", name)
        function_name((*path, "senses"), test.senses)
        step((*path, "behind"), test.behind)
        check_hazards(document, (*path, "hazards"), test.hazards)
        for sensed, modes in (test.parts or {}).items():
            if sensed not in parts:
                part_name((*path, "parts", sensed), sensed)
            elif parts[sensed].kind in kinds():
                check_modes(document, (*path, "parts", sensed), modes, mode_names(parts[sensed]))
    for index, married in enumerate(table.married):
        each(part_name, ("married", index, "parts"), married.parts)
        each(function_name, ("married", index, "spoils"), married.spoils)


def _revisions(document: Document, path: Path_, revisions: dict[str, list[str]]) -> None:
    """Each is one word that a line of the log can say, and those that fit in its place exist."""
    for name, others in revisions.items():
        if not re.fullmatch(REVISION, name):
            message = f"'{name}' is not a revision: letters, digits, dots and hyphens in one word, as 'B' or '1.2'."
            document.findings.append(Finding("not-a-revision", document.at_key((*path, name)), message))
        for index, other in enumerate(others):
            if other not in revisions:
                message = f"No revision '{other}' of this part. {similar(other, revisions)}"
                document.findings.append(Finding("no-such-revision", document.at_value((*path, name, index)), message))


def mode_names(part: PartTable) -> set[str]:
    """Names of all modes that a part ends up with."""
    return set(modes_of(part)) | {MISSING}


def _part_modes(
    document: Document, path: Path_, part: PartTable, function_name: Callable[[Path_, str | None], None]
) -> None:
    own, whole = set(kinds()[part.kind].modes), modes_of(part)
    for name, mode in part.modes.items():
        here = (*path, "modes", name)
        if mode is None and name != MISSING:
            check_modes(document, (*path, "modes"), [name], own)
            continue
        mode = mode or ModeTable()
        check_mode(document, here, name, mode, whole.get(name), own)
        for limited in mode.limits or {}:
            function_name((*here, "limits", limited), limited)
    names = mode_names(part)
    check_tests(document, (*path, "tests"), part.tests, names)
    check_remedies(document, (*path, "remedies"), part.remedies, names)


def _conflicts(document: Document, table: MapTable) -> None:
    _same_names(document, table)
    _circles(document, table)
    for name, function in table.functions.items():
        if function.probe is not None and function.nominal is None:
            message = (
                f"'{name}' has a probe but no 'nominal' voltage to expect there. Add one, as 'nominal: 12 V +/- 5 %'."
            )
            document.findings.append(
                Finding("probe-without-voltage", document.at_key(("functions", name, "probe")), message)
            )
        _rail_limits(document, name, function)
    for name, step in table.access.items():
        _step(document, ("access", name), name, step)
    for name, test in table.tests.items():
        path: Path_ = ("tests", name)
        if test.detects is not None or (test.senses is None) == (test.parts is None):
            message = (
                f"The test '{name}' needs either 'senses' (a function) or 'parts' (modes of parts), and only that."
            )
            document.findings.append(Finding("test-senses", document.at_key(path), message))
        if test.feeds != "unit":
            message = (
                f"'{name}' is a test of the unit, so it feeds the unit. Put a test that feeds a {test.feeds} alone "
                "under the 'tests' of that part."
            )
            document.findings.append(Finding("feeds-no-part", document.at_value((*path, "feeds")), message))
        check_outcomes(document, path, test)
    for path, name, part in _parts_at(table):
        for key in ("base", "missing"):
            if getattr(part, key) == 1.0:
                message = f"A fault of '{name}' is certain (100 %). Odds need room for doubt: write less, as '90 %'."
                document.findings.append(Finding("certain-fault", document.at_value((*path, key)), message))
        if not modes_of(part):
            message = (
                f"No mode of '{name}' is left, so it can never be faulty. Keep one; a rare one takes a small 'base'."
            )
            document.findings.append(Finding("no-modes-left", document.at_key((*path, "modes")), message))
        if isinstance(part, ConnectionTable) and len({name, *part.joins}) <= len(part.joins):
            message = f"'{name}' joins a thing to itself. Name what hangs on it, then what it hangs on."
            document.findings.append(Finding("joins-itself", document.at_value((*path, "joins")), message))
    for index, married in enumerate(table.married):
        if len(set(married.parts)) < len(married.parts):
            message = "A part is married to itself here. Name each part of the group once."
            document.findings.append(
                Finding("married-to-itself", document.at_value(("married", index, "parts")), message)
            )


def _step(document: Document, path: Path_, name: str, step: StepTable) -> None:
    """Choices that are choices, and a risk wherever something holds."""
    for index, group in enumerate(step.any_of):
        if before := [one for one in group if one in step.after]:
            message = (
                f"'{name}' comes after '{before[0]}' in any case, so this group leaves no choice. Take '{before[0]}' "
                "out of 'after', or the group out."
            )
            document.findings.append(Finding("needless-choice", document.at_value((*path, "any_of", index)), message))
    if (step.holds is None) != (step.risk is None):
        has, lacks = ("holds", "risk") if step.risk is None else ("risk", "holds")
        example = "'risk: The glass may crack'" if lacks == "risk" else "'holds: glue' (or seal, one-way)"
        message = (
            f"'{name}' has '{has}' but no '{lacks}'. What holds and what may go wrong belong together, as {example}."
        )
        document.findings.append(Finding("holds-and-risk", document.at_key((*path, has)), message))


def _rail_limits(document: Document, name: str, function: FunctionTable) -> None:
    """Limits that the models of a rail's readings can use: a voltage above zero, a resistance above a short."""
    rail, ground = function.nominal, function.to_ground
    if rail is not None and not (rail.unit == "V" and NONE_BELOW * rail.nominal < rail.low < rail.high):
        message = (
            f"The rail '{name}' needs volts with a tolerance, as '12 V +/- 5 %'. Its lower limit must be above a tenth "
            "of its nominal, below which it counts as absent; a negative rail is written without its sign."
        )
        document.findings.append(Finding("rail-limits", document.at_value(("functions", name, "nominal")), message))
    lowest, highest = OHMS_RANGE
    if not (ground.unit == "ohm" and lowest < function.short_below <= ground.low and ground.high <= highest):
        message = (
            f"'{name}' to ground: 'short_below' must be more than {format_quantity(lowest, 'ohm')}, and 'to_ground' in "
            f"ohm between 'short_below' ({format_quantity(function.short_below, 'ohm')}) and "
            f"{format_quantity(highest, 'ohm')}, as '20 ohm to 1 Mohm'."
        )
        key = "to_ground" if ("functions", name, "to_ground") in document.keys else "short_below"
        document.findings.append(Finding("ground-limits", document.at_value(("functions", name, key)), message))
    _diode_limits(document, name, function)
    if function.drift and (rail is None or function.drift > MOST_DRIFT):
        message = (
            f"The 'drift' of '{name}' is a share of its 'nominal' voltage: it needs one, and at most "
            f"{100 * MOST_DRIFT:.0f} %, as 'drift: 2 %'."
        )
        document.findings.append(Finding("rail-drift", document.at_value(("functions", name, "drift")), message))


def _diode_limits(document: Document, name: str, function: FunctionTable) -> None:
    """A forward drop that diode mode can tell from a short and from overload, on a rail that can be probed."""
    drop, place = function.diode, ("functions", name, "diode")
    if drop is None:
        return
    if function.nominal is None or function.probe is None:
        message = f"'{name}' has a 'diode' drop, but it is no rail that is read: give it 'nominal' and 'probe', too."
        document.findings.append(Finding("diode-unread", document.at_key(place), message))
    lowest, highest = DIODE_RANGE
    if not (drop.unit == "V" and lowest < drop.low < drop.high <= highest):
        message = (
            f"The 'diode' drop of '{name}' needs volts with a tolerance, between {format_quantity(lowest, 'V')} (a "
            f"short) and {format_quantity(highest, 'V')} (overload), as '0.45 V +/- 15 %' or '0.3 V to 0.6 V'."
        )
        document.findings.append(Finding("diode-limits", document.at_value(place), message))


def _same_names(document: Document, table: MapTable) -> None:
    of_rails = {
        name: (name + TO_GROUND, *((name + DIODE,) if function.diode is not None else ()))
        for name, function in table.functions.items()
        if function.nominal is not None and function.probe is not None
    }
    seen: dict[str, Path_] = {test: ("functions", name) for name, tests in of_rails.items() for test in tests}
    for where in ("parts", "connections", "functions", "tests", "access"):
        for name in getattr(table, where):
            path: Path_ = (where, name)
            if name in seen:
                first = document.at_key(seen[name])
                of_rail = "" if name in seen[name] else ", for what is read of the rail to ground"
                message = (
                    f"'{name}' is declared twice, here under '{where}' and at line {first.line} under "
                    f"'{seen[name][0]}'{of_rail}. A typed line must know which is meant: give each its own name."
                )
                document.findings.append(Finding("same-name-twice", document.at_key(path), message))
            seen.setdefault(name, path)


def _function_needs(table: MapTable) -> dict[str, list[str]]:
    return {
        name: [one for one in needs(function) if one in table.functions] for name, function in table.functions.items()
    }


def needs(function: FunctionTable) -> list[str]:
    """All that a function names: needs, members of any-of groups, and rails that spoil it."""
    return [*function.needs, *(one for group in function.any_of for one in group), *function.spoiled_by]


def _circles(document: Document, table: MapTable) -> None:
    parents = {name: [part.parent] if part.parent else [] for name, part in all_parts(table).items()}
    steps = {name: [*step.after, *chain.from_iterable(step.any_of)] for name, step in table.access.items()}
    advice = "Split one of them in two, as 'starts' and 'stays-on'."
    _circle(document, "function-cycle", ("functions",), _function_needs(table), "needs", advice)
    _circle(document, "step-cycle", ("access",), steps, "comes after", "Take one of them out.")
    _circle(document, "parent-cycle", ("parts", "connections"), parents, "belongs to", "Take one 'parent' out.")


def _circle(
    document: Document, rule: str, places: tuple[str, ...], after: dict[str, list[str]], verb: str, advice: str
) -> None:
    try:
        TopologicalSorter(after).prepare()
    except CycleError as error:
        circle: list[str] = error.args[1][:0:-1]  # in the order of the verb, each once
        start = min(range(len(circle)), key=lambda index: list(after).index(circle[index]))
        circle = [*circle[start:], *circle[:start]]
        told = f" {verb} ".join(f"'{one}'" for one in [*circle, circle[0]])
        where = next((place, circle[0]) for place in places if (place, circle[0]) in document.keys)
        document.findings.append(Finding(rule, document.at_key(where), f"A circle: {told}. {advice}"))


def _whole(document: Document, table: MapTable) -> None:
    wanted = [name for name, function in table.functions.items() if function.wanted]
    if not wanted:
        message = (
            "No function is wanted, so nothing would ever need mending. Mark what a buyer pays for: 'wanted: true'."
        )
        document.findings.append(Finding("nothing-wanted", document.at_key(("functions",)), message))
    sensed = {test.senses for test in table.tests.values()}
    for name in wanted:
        if table.functions[name].tried is None and name not in sensed:
            message = (
                f"'{name}' is wanted but nothing can show that it works. Add 'tried' to it, or a test that senses it."
            )
            document.findings.append(Finding("wanted-untestable", document.at_key(("functions", name)), message))
    for name, function in table.functions.items():
        if not function.needs and not function.any_of:
            message = f"'{name}' needs nothing, so it could never fail. Name what it takes, as 'needs: [supply]'."
            document.findings.append(Finding("needs-nothing", document.at_key(("functions", name)), message))
    needed = {one for function in table.functions.values() for one in needs(function)}
    for path, name, part in _parts_at(table):
        if name not in needed and could_stop(part):
            message = (
                f"No function needs '{name}', so its faults could never show. Add it to a function's 'needs', "
                "or give it a kind whose faults stop nothing, as 'cosmetic-shell'."
            )
            document.findings.append(Finding("part-without-effect", document.at_key(path), message))
    _one_currency(document, table)


def could_stop(part: PartTable) -> bool:
    """Whether a fault of a part can stop a function that needs it."""
    return any(
        LEVEL_WORDS[mode.gives or "none"] < Level.GOOD and not mode.limits and not mode.takes
        for mode in modes_of(part).values()
    )


def _one_currency(document: Document, table: MapTable) -> None:
    currency = table.worth.working.currency
    amounts: list[tuple[Path_, str]] = [
        (("worth", "as_is"), table.worth.as_is.currency),
        (("worth", "parts"), table.worth.parts.currency),
    ]
    for path, _, part in _parts_at(table):
        for field in ("new", "used", "donor"):
            price = getattr(part.price, field)
            if price is not None:
                amounts.append(((*path, "price", field), price.currency))
    for place, other in amounts:
        if other != currency:
            message = f"This is in {other}, but the map's worth is in {currency}. Use one currency in a map."
            document.findings.append(Finding("currencies", document.at_value(place), message))


__all__ = ["RULES", "all_parts", "check", "could_stop", "mode_names", "needs"]
