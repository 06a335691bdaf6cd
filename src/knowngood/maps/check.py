"""Checks a map in named passes: read, shape, references, conflicts, whole.

Each pass reports everything it can find; a later pass runs only when the earlier ones found nothing, so that one slip
is one message. Every rule (``Finding.rule``) has a small wrong map in the tests in which it fires.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from knowngood.maps.kinds import (
    check_hazards,
    check_looks,
    check_mode,
    check_modes,
    check_outcomes,
    check_pasts,
    check_remedies,
    check_tests,
    kinds,
)
from knowngood.maps.read import Document, Finding, Path_
from knowngood.maps.schema import ConnectionTable, FunctionTable, MapTable, ModeTable, PartTable
from knowngood.maps.shape import shape, similar
from knowngood.maps.words import LEVEL_WORDS, MISSING, Level

RULES = (
    *("readable", "yaml", "empty", "not-a-table", "declared-twice", "alias"),
    *("unknown-key", "missing-key", "not-a-name", "not-a-choice", "not-a-quantity", "wrong-form"),
    *("no-such-kind", "no-such-part", "no-such-rail", "no-such-step", "no-such-function", "no-such-need"),
    *("no-such-mode", "no-such-condition", "no-such-past", "no-such-hazard", "no-such-connection"),
    *("same-name-twice", "reserved-mode", "incomplete-mode", "looks-over-one", "test-senses", "same-outcomes"),
    *("function-cycle", "step-cycle", "probe-without-voltage", "rail-not-in-volts", "certain-fault", "joins-itself"),
    *("nothing-wanted", "wanted-untestable", "part-without-effect", "currencies"),
)
"""Every rule of the checker."""


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

    def known(rule: str, what: str, names: Iterable[str]) -> Callable[[Path_, str | None], None]:
        listed = set(names)

        def look_up(path: Path_, name: str | None) -> None:
            if name is not None and name not in listed:
                message = f"No {what} '{name}'. {similar(name, listed)}"
                document.findings.append(Finding(rule, document.at_value(path), message))

        return look_up

    kind = known("no-such-kind", "part kind", kinds())
    part_name = known("no-such-part", "part or connection", parts)
    connection = known("no-such-connection", "connection", table.connections)
    rail = known("no-such-rail", "rail (a function with 'nominal')", rails)
    step = known("no-such-step", "access step", table.access)
    function_name = known("no-such-function", "function", table.functions)
    need = known("no-such-need", "part, connection or function", set(parts) | set(table.functions))

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
                message = f"No part or connection '{sensed}'. {similar(sensed, parts)}"
                document.findings.append(Finding("no-such-part", document.at_key((*path, "parts", sensed)), message))
            elif parts[sensed].kind in kinds():
                check_modes(document, (*path, "parts", sensed), modes, mode_names(parts[sensed]))
    for index, married in enumerate(table.married):
        each(part_name, ("married", index, "parts"), married.parts)
        each(function_name, ("married", index, "spoils"), married.spoils)


def mode_names(part: PartTable) -> set[str]:
    """Names of all modes that a part ends up with."""
    names = set(kinds()[part.kind].modes) | {MISSING}
    for name, mode in part.modes.items():
        names = names - {name} if mode is None else names | {name}
    return names


def _part_modes(
    document: Document, path: Path_, part: PartTable, function_name: Callable[[Path_, str | None], None]
) -> None:
    own = kinds()[part.kind].modes
    for name, mode in part.modes.items():
        here = (*path, "modes", name)
        if mode is None:
            check_modes(document, (*path, "modes"), [name], set(own))
            continue
        check_mode(document, here, name, mode, new=name not in own)
        for limited in mode.limits or {}:
            function_name((*here, "limits", limited), limited)
    names = mode_names(part)
    check_tests(document, (*path, "tests"), part.tests, names)
    check_remedies(document, (*path, "remedies"), part.remedies, names)


def _conflicts(document: Document, table: MapTable) -> None:
    _same_names(document, table)
    _cycle(document, "function-cycle", "functions", _function_needs(table))
    _cycle(document, "step-cycle", "access", {name: step.after for name, step in table.access.items()})
    for name, function in table.functions.items():
        if function.probe is not None and function.nominal is None:
            message = (
                f"'{name}' has a probe but no 'nominal' voltage to expect there. Add one, as 'nominal: 12 V +/- 5 %'."
            )
            document.findings.append(
                Finding("probe-without-voltage", document.at_key(("functions", name, "probe")), message)
            )
        if function.nominal is not None and function.nominal.unit != "V":
            message = (
                f"'nominal' of '{name}' is in {function.nominal.unit}. A rail's nominal is a voltage, as '5 V +/- 5 %'."
            )
            document.findings.append(
                Finding("rail-not-in-volts", document.at_value(("functions", name, "nominal")), message)
            )
    for name, test in table.tests.items():
        path: Path_ = ("tests", name)
        if test.detects is not None or (test.senses is None) == (test.parts is None):
            message = (
                f"The test '{name}' needs either 'senses' (a function) or 'parts' (modes of parts), and only that."
            )
            document.findings.append(Finding("test-senses", document.at_key(path), message))
        check_outcomes(document, path, test)
    for path, name, part in _parts_at(table):
        base = kinds()[part.kind].base if part.base is None else part.base
        if base >= 1.0:
            message = f"A fault of '{name}' is certain (100 %). Odds need room for doubt: write less, as '90 %'."
            document.findings.append(Finding("certain-fault", document.at_value((*path, "base")), message))
        if isinstance(part, ConnectionTable) and len(set(part.joins)) < len(part.joins):
            message = f"'{name}' joins '{part.joins[0]}' to itself. Name what hangs on it, then what it hangs on."
            document.findings.append(Finding("joins-itself", document.at_value((*path, "joins")), message))


def _same_names(document: Document, table: MapTable) -> None:
    seen: dict[str, Path_] = {}
    for where in ("parts", "connections", "functions", "tests", "access"):
        for name in getattr(table, where):
            path: Path_ = (where, name)
            if name in seen:
                first = document.at_key(seen[name])
                message = (
                    f"'{name}' is declared twice, here under {where} and at line {first.line} under {seen[name][0]}. "
                    "A typed line must know which is meant: give each its own name."
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


def _cycle(document: Document, rule: str, where: str, after: dict[str, list[str]]) -> None:
    done: set[str] = set()
    for start in after:
        trail: list[str] = []
        cycle = _find_cycle(start, after, done, trail)
        if cycle:
            chain = " needs ".join(f"'{one}'" for one in cycle)
            message = f"A circle: {chain}. Split one of them in two, as 'starts' and 'stays-on'."
            document.findings.append(Finding(rule, document.at_key((where, cycle[0])), message))
            return


def _find_cycle(node: str, after: dict[str, list[str]], done: set[str], trail: list[str]) -> list[str]:
    if node in trail:
        return [*trail[trail.index(node) :], node]
    if node in done:
        return []
    trail.append(node)
    for needed in after[node]:
        cycle = _find_cycle(needed, after, done, trail)
        if cycle:
            return cycle
    trail.pop()
    done.add(node)
    return []


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
    needed = {one for function in table.functions.values() for one in needs(function)}
    for path, name, part in _parts_at(table):
        if name not in needed and _could_stop(part):
            message = (
                f"No function needs '{name}', so its faults could never show. Add it to a function's 'needs', "
                "or give it a kind whose faults stop nothing, as 'cosmetic-shell'."
            )
            document.findings.append(Finding("part-without-effect", document.at_key(path), message))
    _one_currency(document, table)


def _could_stop(part: PartTable) -> bool:
    modes: dict[str, ModeTable] = {**kinds()[part.kind].modes}
    for name, mode in part.modes.items():
        if mode is None:
            modes.pop(name, None)
        else:
            own = modes.get(name, ModeTable())
            modes[name] = own.model_copy(update=mode.model_dump(exclude_unset=True))
    return any(
        LEVEL_WORDS[mode.gives or "none"] < Level.GOOD and not mode.limits and not mode.takes for mode in modes.values()
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


__all__ = ["RULES", "all_parts", "check", "check_looks", "mode_names", "needs"]
