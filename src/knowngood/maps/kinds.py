"""The kinds library and the hazards that ship with the program, read and checked once."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path

from knowngood.errors import MapError, RangeError
from knowngood.handbook.charge import discharge_time
from knowngood.maps.device import Hazard, HazardRule, Precaution
from knowngood.maps.read import Document, Finding, Path_, read_file
from knowngood.maps.schema import (
    NAME,
    ChargeTable,
    HazardTable,
    KindTable,
    ModeTable,
    PartTable,
    RemedyTable,
    TestTable,
)
from knowngood.maps.shape import nearest, not_a_name, shape, similar
from knowngood.maps.words import ANY, CONDITIONS, FINE, MISSING, PASTS, REVERSED

EMPTY: set[str] = set()

LIBRARY = Path(__file__).parent / "library"
"""Kinds, hazards and starter maps that come with the program."""


def shipped_maps() -> dict[str, Path]:
    """Name and file of every map that comes with the program."""
    return {path.stem: path for path in sorted((LIBRARY / "maps").glob("*.yaml"))}


@lru_cache(maxsize=1)
def hazards() -> dict[str, Hazard]:
    """The hazards by id. Raises MapError if the library is wrong."""
    found: dict[str, Hazard] = {}
    document = read_file(LIBRARY / "hazards.yaml")
    for name in document.data or {}:
        table = shape(document, HazardTable, (name,))
        if table is not None:
            found[name] = _hazard(name, table)
    _raise_if(document.findings)
    return found


def _hazard(name: str, table: HazardTable) -> Hazard:
    rules = tuple(
        HazardRule(
            rule_id,
            tuple(rule.if_seen),
            rule.if_wet,
            tuple(rule.if_power),
            rule.if_touched,
            rule.if_short,
            tuple(rule.unless),
            rule.forbids,
            rule.why,
            Precaution(**rule.precaution.model_dump()) if rule.precaution else None,
        )
        for rule_id, rule in table.rules.items()
    )
    return Hazard(
        name, table.caution, table.source, rules, tuple(table.in_units_on), table.safe_below, table.discharge_through
    )


@lru_cache(maxsize=1)
def kinds() -> dict[str, KindTable]:
    """The part kinds by name. Raises MapError if the library is wrong."""
    found: dict[str, KindTable] = {}
    findings: list[Finding] = []
    for path in sorted((LIBRARY / "kinds").glob("*.yaml")):
        document = read_file(path)
        for name, kind in read_kinds(document).items():
            if name in found:
                message = f"The kind '{name}' is declared twice, here and in another file. Give each its own name."
                document.findings.append(Finding("declared-twice", document.at_key((name,)), message))
            found[name] = kind
        findings += document.findings
    _raise_if(findings)
    return found


def read_kinds(document: Document) -> dict[str, KindTable]:
    """The kinds of one document; what is wrong is added to its findings."""
    found: dict[str, KindTable] = {}
    for name in document.data or {}:
        if not re.match(NAME, name):
            document.findings.append(Finding("not-a-name", document.at_key((name,)), not_a_name(name)))
        table = shape(document, KindTable, (name,))
        if table is not None:
            found[name] = table
            modes = set(table.modes) | {MISSING}
            check_words(document, (name,), table)
            for mode, mode_table in table.modes.items():
                check_mode(document, (name, "modes", mode), mode, mode_table)
            check_tests(document, (name, "tests"), table.tests, modes)
            check_remedies(document, (name, "remedies"), table.remedies, modes)
    return found


def check_words(document: Document, path: Path_, table: KindTable) -> None:
    """Conditions, pasts and hazards that a kind names."""
    check_looks(document, (*path, "looks"), table.looks)
    check_pasts(document, (*path, "past"), table.past)
    check_hazards(document, (*path, "hazards"), table.hazards)
    check_charge(document, (*path, "charge"), table.charge, table.hazards)


def check_charge(document: Document, path: Path_, charge: ChargeTable | None, carried: list[str]) -> None:
    """That a charge is one of a part that carries its hazard, and one whose waiting time can be computed."""
    if charge is None:
        return
    stores = [one for name, one in hazards().items() if one.safe_below is not None and name in carried]
    if not stores:
        named = " or ".join(f"'{name}'" for name, one in hazards().items() if one.safe_below is not None)
        message = f"A 'charge' stands here, but no hazard that warns of it. Add {named} to its 'hazards'."
        document.findings.append(Finding("charge-without-hazard", document.at_key(path), message))
    for hazard in stores:
        for resistor in (charge.bleed, hazard.discharge_through):
            try:
                if resistor is not None:
                    discharge_time(charge.capacitance, resistor, charge.charged_to, hazard.safe_below or 0.0)
            except RangeError as error:
                message = f"This charge cannot be waited for: {error} Correct it, or take 'charge' out."
                document.findings.append(Finding("charge-limits", document.at_key(path), message))
                return


def modes_of(part: PartTable) -> dict[str, ModeTable]:
    """The modes that a part ends up with: those of its kind with the part's own changes, ``missing`` not among them."""
    modes = dict(kinds()[part.kind].modes)
    for name, change in part.modes.items():
        if change is None:
            modes.pop(name, None)
        else:
            own = modes.get(name, ModeTable())
            modes[name] = own.model_copy(update=change.model_dump(exclude_unset=True))
    return modes


def check_mode(
    document: Document, path: Path_, name: str, mode: ModeTable, whole: ModeTable | None = None, known: set[str] = EMPTY
) -> None:
    """One mode: its words, and that it says what and how often, itself or with its kind (then ``whole`` is both).

    ``known`` are the modes of the kind that a misspelt one may have meant.
    """
    if name in (MISSING, FINE, ANY, REVERSED):
        message = f"'{name}' has a meaning of its own and cannot be a mode. Choose another word."
        if name == MISSING:
            message = "Every part may be missing; it is not a mode to declare. Set its chance, as 'missing: 2 %'."
        if name == REVERSED:
            message = "A connection with 'reversible: true' may be reversed; it is not a mode to declare."
        document.findings.append(Finding("reserved-mode", document.at_key(path), message))
        return
    lacking = [f"'{key}'" for key in ("says", "ratio") if getattr(whole or mode, key) is None]
    if lacking:
        message = f"The mode '{name}' lacks {' and '.join(lacking)}."
        if name not in known and nearest(name, known):
            message = f"The kind has no mode '{name}'. {similar(name, known)} A new mode needs {' and '.join(lacking)}."
        document.findings.append(Finding("incomplete-mode", document.at_key(path), message))
    shown = whole or mode
    if shown.shows is not None and (shown.takes is not None or shown.high):
        message = f"The mode '{name}' has 'shows', and 'takes' or 'high'. What comes and goes may do neither: drop one."
        document.findings.append(Finding("passing-pull", document.at_key(path), message))
    check_looks(document, (*path, "looks"), mode.looks or {})
    check_pasts(document, (*path, "past"), mode.past or {})


def check_looks(document: Document, path: Path_, looks: dict[str, float]) -> None:
    """Conditions are words of the list, and their chances leave room for 'fine'."""
    for condition in looks:
        if condition not in CONDITIONS or condition == FINE:
            message = f"No condition '{condition}'. {similar(condition, set(CONDITIONS) - {FINE})}"
            document.findings.append(Finding("no-such-condition", document.at_key((*path, condition)), message))
    if sum(looks.values()) > 1.0 + 1e-9:
        message = (
            f"The chances of what an eye may find sum to {100 * sum(looks.values()):.0f} %. "
            "They must leave room for 'fine': at most 100 %."
        )
        document.findings.append(Finding("looks-over-one", document.at_key(path), message))


def check_pasts(document: Document, path: Path_, pasts: dict[str, float]) -> None:
    """Pasts are words of the list."""
    for past in pasts:
        if past not in PASTS:
            message = f"No past '{past}'. {similar(past, PASTS)}"
            document.findings.append(Finding("no-such-past", document.at_key((*path, past)), message))


def check_hazards(document: Document, path: Path_, names: list[str]) -> None:
    """Hazards are in the library."""
    for index, name in enumerate(names):
        if name not in hazards():
            message = f"No hazard '{name}'. {similar(name, hazards())}"
            document.findings.append(Finding("no-such-hazard", document.at_value((*path, index)), message))


def check_tests(
    document: Document, path: Path_, tests: dict[str, TestTable | None] | dict[str, TestTable], modes: set[str]
) -> None:
    """Tests of one part: they name its modes and sense nothing else."""
    for name, test in tests.items():
        if test is None:
            continue
        here = (*path, name)
        if test.detects is None or test.senses is not None or test.parts is not None:
            message = f"The test '{name}' of a part needs 'detects' (mode: chance), and neither 'senses' nor 'parts'."
            document.findings.append(Finding("test-senses", document.at_key(here), message))
        if test.feeds != "unit" and test.power != "bench":
            message = (
                f"The test '{name}' feeds a {test.feeds} alone, so it needs a current-limited supply: 'power: bench'."
            )
            document.findings.append(Finding("feeds-unlimited", document.at_value((*here, "feeds")), message))
        check_modes(document, (*here, "detects"), list(test.detects or {}), modes)
        check_hazards(document, (*here, "hazards"), test.hazards)
        check_outcomes(document, here, test)


def check_outcomes(document: Document, path: Path_, test: TestTable) -> None:
    """The two outcome words differ."""
    if test.outcomes[0] == test.outcomes[1]:
        message = f"Both outcomes are '{test.outcomes[0]}'. The first word means ok, the second bad: they must differ."
        document.findings.append(Finding("same-outcomes", document.at_value((*path, "outcomes")), message))


def check_remedies(
    document: Document, path: Path_, remedies: dict[str, RemedyTable | None] | dict[str, RemedyTable], modes: set[str]
) -> None:
    """Remedies name modes of the part."""
    for name, remedy in remedies.items():
        if remedy is not None:
            check_modes(document, (*path, name, "cures"), list(remedy.cures), modes | {ANY})
            check_modes(document, (*path, name, "spoils"), list(remedy.spoils), modes)
            check_hazards(document, (*path, name, "hazards"), remedy.hazards)


def check_modes(document: Document, path: Path_, names: list[str], known: set[str]) -> None:
    """Mode names that are keys (or entries) at ``path`` are known."""
    for index, name in enumerate(names):
        if name not in known:
            place = (
                document.at_key((*path, name)) if (*path, name) in document.keys else document.at_value((*path, index))
            )
            document.findings.append(
                Finding("no-such-mode", place, f"No mode '{name}' of this part. {similar(name, known)}")
            )


def _raise_if(findings: list[Finding]) -> None:
    if findings:
        raise MapError([str(finding) for finding in findings])
