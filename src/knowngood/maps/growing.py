"""A map grown from what a teardown met: new entries in its text, and what the teardown says otherwise than the map.

On a starter map, which is of no one model, how it opens is a guess, and the teardown goes before it. On any other map
what the teardown says otherwise is a conflict: it is shown, and the map stays as it is. A part comes in only with a
kind that a person said or agreed to. What nobody said of a new entry is set on the plain or the safe side, and named
(``Grown.assumed``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any

from knowngood.errors import NotFoundError
from knowngood.maps.check import all_parts, check, could_stop
from knowngood.maps.device import Fastener
from knowngood.maps.facts import Fact
from knowngood.maps.kinds import kinds
from knowngood.maps.load import load_text
from knowngood.maps.naming import PLUG_KINDS, in_words, proposed_kind
from knowngood.maps.read import Path_
from knowngood.maps.rewrite import Changes, block, flow
from knowngood.maps.schema import ConnectionTable, FastenerTable, MapTable, PartTable, StepTable
from knowngood.maps.shape import similar

UNTIMED = 5.0
"""Minutes to open a step of which no line gives the time (common practice, no source)."""

ALL_ELSE, ALL_ELSE_MINUTES = "all-else", 5.0
"""The function that new parts hang on until somebody says what they are for, and the time to try it (common practice,
no source)."""

NO_SORT, NO_DRIVER = "screw", "not noted"
"""Thread and driver of fasteners of which no line says them."""


@dataclass(frozen=True)
class Proposal:
    """A part or plug that the map lacks, the kind that its name proposes or a person said, and whether it was taken."""

    name: str
    kind: str
    taken: bool
    by: str
    """Who says so: ``log`` (its line), ``person`` (agreed to), ``name`` (proposed by its words)."""


@dataclass(frozen=True)
class Conflict:
    """Something that a log says otherwise than the map, which stays as it is."""

    what: str
    place: str
    """``file:line:column`` of the map."""
    map_says: str
    seq: int
    log_says: str


@dataclass(frozen=True)
class Grown:
    """A map as it would be, and what a person has to know of it."""

    text: str
    changed: str
    proposals: tuple[Proposal, ...]
    left_out: tuple[tuple[str, str], ...]
    """Name, and why it is not in the map."""
    conflicts: tuple[Conflict, ...]
    assumed: tuple[str, ...]
    """What nobody said, and what stands there for it."""


def grow(
    text: str, file: str, facts: Mapping[str, Fact], yes: Mapping[str, str], *, agreed: bool, name: str, unit: str
) -> Grown:
    """The map of ``text`` with what a teardown of ``unit`` met.

    ``yes`` are kinds that a person said, by name; with ``agreed`` every proposal is taken. ``name`` is what the map is
    called then. Raises NotFoundError for a yes to what was not met or a kind that there is not, MapError if the map
    would be wrong: the lines make a circle.
    """
    table = check(Changes(text, file).document)
    assert table is not None, "a map that was loaded is right"
    for one, kind in yes.items():
        known = [fact.name for fact in facts.values() if fact.met and fact.sort != "step"]
        if one not in known:
            raise NotFoundError(f"No part or plug '{one}' was met. {similar(one, known)}")
        if kind not in kinds():
            raise NotFoundError(f"No part kind '{kind}' for '{one}'. {similar(kind, kinds())}")
    return _Growth(text, file, table, facts, yes, agreed, name, unit).grown()


class _Growth:
    """One growth: the map as it was, the facts, and what is gathered on the way."""

    def __init__(
        self,
        text: str,
        file: str,
        table: MapTable,
        facts: Mapping[str, Fact],
        yes: Mapping[str, str],
        agreed: bool,
        name: str,
        unit: str,
    ) -> None:
        self.text, self.file, self.table, self.facts, self.name, self.unit = text, file, table, facts, name, unit
        self.yes, self.agreed = yes, agreed
        self.changes = Changes(text, file)
        self.parts = all_parts(table)
        self.after = {name: list(step.after) for name, step in table.access.items()}
        self.proposals: list[Proposal] = []
        self.left_out: list[tuple[str, str]] = []
        self.conflicts: list[Conflict] = []
        self.assumed: list[str] = []

    def grown(self) -> Grown:
        chosen = self._kinds()
        plugs = self._plugs(chosen)
        self.come = {*self.parts, *chosen}
        steps = [fact for fact in self.facts.values() if fact.sort == "step"]
        for fact in steps:
            self._order(fact)
        coming_off = self._coming_off()
        self._new_parts("parts", "parts", {one: kind for one, kind in chosen.items() if one not in plugs}, {})
        self._new_parts("connections", "parts", {one: chosen[one] for one in plugs}, plugs)
        self._known_parts()
        self._steps(steps, coming_off)
        self._needs(chosen)
        changed = self._headed(self.changes.made())
        load_text(changed, self.file)
        return Grown(
            self.text,
            changed,
            tuple(self.proposals),
            tuple(self.left_out),
            tuple(self.conflicts),
            tuple(self.assumed),
        )

    # ---- which parts come in ----------------------------------------------------------------------------------------

    def _kinds(self) -> dict[str, str]:
        """The kind of each new part and plug that comes in."""
        chosen: dict[str, str] = {}
        for name, fact in self.facts.items():
            if fact.sort == "step" or not fact.met or name in self.parts:
                continue
            plug = fact.sort == "plug"
            said = self.yes.get(name) or fact.kind
            proposed = proposed_kind(name, plug=plug)
            if said:
                chosen[name] = said
                self.proposals.append(Proposal(name, said, True, "person" if name in self.yes else "log"))
            elif proposed and self.agreed:
                chosen[name] = proposed
                self.proposals.append(Proposal(name, proposed, True, "person"))
            elif proposed and proposed != PLUG_KINDS[0]:
                self.proposals.append(Proposal(name, proposed, False, "name"))
            if plug and name not in chosen:
                chosen[name] = PLUG_KINDS[0]
                self.assumed.append(f"'{name}' is a plain plug: nobody said more.")
            elif name not in chosen:
                hint = f"{name}={proposed}" if proposed else f"{name}=KIND"
                self.left_out.append((name, f"nobody said what kind it is: --yes {hint}"))
        return chosen

    def _plugs(self, chosen: dict[str, str]) -> dict[str, tuple[str, ...]]:
        """What each new plug joins; one that joins nothing that the map has stays out of ``chosen``."""
        joined: dict[str, tuple[str, ...]] = {}
        for name in [name for name in chosen if self.facts[name].sort == "plug"]:
            said = self.facts[name].joins or ()
            joins = tuple(one for one in said if one in self.parts or one in chosen)
            if joins:
                joined[name] = joins
                for one in said:
                    if one not in joins:
                        self.assumed.append(f"'{name}' joins '{one}', too, which is left out.")
            else:
                del chosen[name]
                self.proposals = [one for one in self.proposals if one.name != name]
                why = "nothing that it joins is on the map" if said else f"log what it joins: met plug {name} joins ..."
                self.left_out.append((name, why))
        return joined

    # ---- steps ------------------------------------------------------------------------------------------------------

    def _order(self, fact: Fact) -> None:
        """Which steps come before a step: said, else the one opened last before it."""
        known = self.table.access.get(fact.name)
        before = list(fact.behind or fact.order[-1:])
        if known is None or (self.table.starter and fact.met):
            self.after[fact.name] = before
        elif self.table.starter:
            ahead = self._ahead(fact.name)
            self.after[fact.name] = [*known.after, *(one for one in before if one not in ahead)]
        elif fact.met:
            ahead = self._ahead(fact.name)
            late = [one for one in ahead if one not in fact.order]
            strange = [one for one in fact.behind or () if one not in ahead]
            if strange or (not fact.behind and late and not known.any_of):
                said = f"after {_and(strange)}" if strange else f"before {_and(late)}"
                says = f"after {_and(known.after)}" if known.after else "after no other"
                self._conflict(fact, "order", ("access", fact.name, "after"), says, said)

    def _ahead(self, step: str) -> set[str]:
        """Every step that comes before a step, at any distance."""
        found: set[str] = set()
        waiting = [step]
        while waiting:
            one = waiting.pop()
            table = self.table.access.get(one)
            groups = list(chain.from_iterable(table.any_of)) if table else []
            new = {*self.after.get(one, ()), *groups} - found
            found |= new
            waiting += new
        return found - {step}

    def _coming_off(self) -> dict[tuple[str, str], list[str]]:
        """What opening each step unplugs and removes then, by step and key, where that changes."""
        lists: dict[tuple[str, str], list[str]] = {}

        def of(step: str, key: str) -> list[str]:
            known = self.table.access.get(step)
            return lists.setdefault((step, key), list(getattr(known, key)) if known else [])

        for name, fact in self.facts.items():
            if not fact.step or name not in self.come:
                continue
            key = "unplugs" if fact.sort == "plug" else "removes"
            others = [one for one, step in self.table.access.items() if name in getattr(step, key) and one != fact.step]
            if others and not self.table.starter:
                self._conflict(fact, key, ("access", others[0], key), f"with {others[0]}", f"with {fact.step}")
                continue
            for other in others:
                of(other, key).remove(name)
            if name not in of(fact.step, key):
                of(fact.step, key).append(name)
        return lists

    def _steps(self, steps: Iterable[Fact], coming_off: Mapping[tuple[str, str], list[str]]) -> None:
        blocks = []
        for fact in steps:
            if fact.name not in self.table.access:
                blocks.append(self._new_step(fact, coming_off))
                continue
            path: Path_ = ("access", fact.name)
            step = self.table.access[fact.name]
            self._fasteners(fact, step)
            if self.table.starter:
                self.changes.listed((*path, "after"), self.after[fact.name])
                for key, minutes in (("open", fact.opened), ("close", fact.closed)):
                    if minutes is not None and minutes != getattr(step, key):
                        self.changes.put((*path, key), _minutes(minutes))
        for (name, key), names in coming_off.items():
            if name in self.table.access:
                self.changes.listed(("access", name, key), names)
        self.changes.entries("access", "parts", blocks)

    def _new_step(self, fact: Fact, coming_off: Mapping[tuple[str, str], list[str]]) -> str:
        opened = UNTIMED if fact.opened is None else fact.opened
        if fact.opened is None:
            self.assumed.append(f"'{fact.name}' opens in {UNTIMED:g} min: no line gives its time.")
        if fact.closed is None:
            self.assumed.append(f"'{fact.name}' closes in the time that it opens: no line gives it.")
        hazards = list(dict.fromkeys(chain.from_iterable(step.hazards for step in self.table.access.values())))
        if hazards:
            self.assumed.append(f"'{fact.name}' has the hazards of every step of the map: {', '.join(hazards)}.")
        values = {
            "do": in_words(fact.name),
            "after": self.after[fact.name],
            "open": _minutes(opened),
            "close": _minutes(opened if fact.closed is None else fact.closed),
            "fasteners": self._logged_fasteners(fact),
            "unplugs": coming_off.get((fact.name, "unplugs"), []),
            "removes": coming_off.get((fact.name, "removes"), []),
            "hazards": hazards,
        }
        return self._block(fact, values)

    def _fasteners(self, fact: Fact, step: StepTable) -> None:
        """Fasteners of a step that the map has: taken from the log, agreed to, or a conflict."""
        if not fact.out:
            return
        path: Path_ = ("access", fact.name, "fasteners")
        by_map = _counts(step.fasteners)
        if set(fact.out) == {""} and fact.out[""] == sum(by_map.values()):
            return
        if (self.table.starter or not by_map) and fact.out != by_map:
            self.changes.put(path, flow(self._logged_fasteners(fact)))
            return
        if "" in fact.out:
            if sum(fact.out.values()) != sum(by_map.values()):
                self._conflict(fact, "fasteners", path, _said(by_map), _said(fact.out), fact.counted)
            return
        for sort, count in fact.out.items():
            if by_map.get(sort) != count:
                says = f"{by_map[sort]} x {sort}" if sort in by_map else f"none of {sort}: {_said(by_map)}"
                self._conflict(fact, "fasteners", path, says, f"{count} x {sort}", fact.counted)

    def _logged_fasteners(self, fact: Fact) -> list[dict[str, object]]:
        drivers = {one.thread: one.driver for step in self.table.access.values() for one in step.fasteners}
        found: list[dict[str, object]] = []
        for sort, count in fact.out.items():
            if not count:
                continue
            measured = re.fullmatch(r"(.+?)x(\d+(?:\.\d+)?)", sort)
            thread = measured[1] if measured else sort or NO_SORT
            long = {"length": f"{measured[2]} mm"} if measured else {}
            driver = drivers.get(thread, NO_DRIVER)
            found.append({"count": count, "thread": thread, **long, "driver": driver})
            if driver == NO_DRIVER:
                self.assumed.append(f"What turns the {thread} of '{fact.name}' is {NO_DRIVER}.")
        return found

    # ---- parts ------------------------------------------------------------------------------------------------------

    def _behind(self, fact: Fact) -> str | None:
        """The step behind which it lies: said, else the one before that with which it comes off, else the last."""
        if fact.behind:
            return fact.behind[-1]
        if fact.step:
            before = self.after.get(fact.step, [])
            return before[0] if len(before) == 1 else None
        return fact.order[-1] if fact.order else None

    def _new_parts(self, section: str, after: str, new: Mapping[str, str], joins: Mapping[str, Sequence[str]]) -> None:
        blocks = []
        for name, kind in new.items():
            fact = self.facts[name]
            values = {
                "what": in_words(name),
                "kind": kind,
                "joins": joins.get(name, ()),
                "behind": self._behind(fact),
                "latch": fact.latch,
                "reversible": fact.reversible or None,
            }
            blocks.append(self._block(fact, values))
        self.changes.entries(section, after, blocks)

    def _known_parts(self) -> None:
        """Parts and connections that the map has and a line says something of."""
        for name, fact in self.facts.items():
            part = self.parts.get(name)
            if part is None or not fact.met:
                continue
            path: Path_ = ("connections" if isinstance(part, ConnectionTable) else "parts", name)
            kind = self.yes.get(name) or fact.kind
            if kind and kind != part.kind:
                self._conflict(fact, "kind", (*path, "kind"), part.kind, kind)
            behind = self._behind(fact) if self.table.starter else (fact.behind or (None,))[-1]
            if behind and behind != part.behind:
                if self.table.starter or part.behind is None:
                    self.changes.put((*path, "behind"), behind)
                elif behind not in self._ahead(part.behind):
                    self._conflict(fact, "behind", (*path, "behind"), part.behind, behind)
            if isinstance(part, ConnectionTable):
                self._known_plug(fact, part, path)

    def _known_plug(self, fact: Fact, part: ConnectionTable, path: Path_) -> None:
        if fact.joins and set(fact.joins) != set(part.joins):
            known = all(one in self.come for one in fact.joins)
            more = set(fact.joins) > set(part.joins)  # what was left out when the plug came in
            if known and (self.table.starter or more):
                self.changes.put((*path, "joins"), flow(fact.joins))
            elif not more:
                self._conflict(fact, "joins", (*path, "joins"), _and(part.joins), _and(fact.joins))
        if fact.latch and fact.latch != part.latch:
            if part.latch is None:
                self.changes.put((*path, "latch"), fact.latch)
            else:
                self._conflict(fact, "latch", (*path, "latch"), part.latch, fact.latch)
        if fact.reversible and not part.reversible:  # no map says that it cannot be turned round: it only did not say
            self.changes.put((*path, "reversible"), "true")

    def _needs(self, new: Mapping[str, str]) -> None:
        """New parts whose faults stop something hang on one function until somebody says what they are for."""
        stopping = [name for name, kind in new.items() if could_stop(PartTable(what=name, kind=kind))]
        if not stopping:
            return
        self.assumed.append(f"What the new parts are for nobody said: the function '{ALL_ELSE}' needs them all.")
        path: Path_ = ("functions", ALL_ELSE)
        if ALL_ELSE in self.table.functions:
            self.changes.listed((*path, "needs"), [*self.table.functions[ALL_ELSE].needs, *stopping])
            return
        first = next(name for name, function in self.table.functions.items() if function.wanted)
        tried = {
            "do": "Try all else that it is sold for, closed",
            "minutes": _minutes(ALL_ELSE_MINUTES),
            "power": self.table.power,
            "closed": True,
        }
        values = {"what": "all else that it is sold for", "needs": [first, *stopping], "wanted": True, "tried": tried}
        self.changes.entries("functions", "parts", [block(ALL_ELSE, values, f"{self.unit}: what it met")])

    # ---- words ------------------------------------------------------------------------------------------------------

    def _headed(self, text: str) -> str:
        """The text with its new name, no longer a starter, and where it comes from."""
        head = Changes(text, self.file)
        if self.name != self.table.map:
            head.put(("map",), self.name)
        if self.table.starter:
            head.without("starter")
            head.put(("what",), in_words(self.name))
            return f"# Grown from {self.table.map} by the log of {self.unit}. What it was there:\n{head.made()}"
        return head.made()

    def _block(self, fact: Fact, values: Mapping[str, Any]) -> str:
        kept = {key: value for key, value in values.items() if value not in (None, [], ())}
        return block(fact.name, kept, f"{self.unit}, line {fact.seq}")

    def _conflict(self, fact: Fact, what: str, path: Path_, map_says: str, log_says: str, seq: int = 0) -> None:
        place = self.changes.document.at_key(path)
        found = Conflict(f"{what} of '{fact.name}'", str(place), map_says, seq or fact.seq, log_says)
        self.conflicts.append(found)


def _counts(fasteners: Iterable[FastenerTable]) -> dict[str, int]:
    """How many of each sort, thread and length in one word."""
    found: dict[str, int] = {}
    for one in fasteners:
        sort = Fastener(**one.model_dump()).sort
        found[sort] = found.get(sort, 0) + one.count
    return found


def _said(counts: Mapping[str, int]) -> str:
    return ", ".join(f"{count} x {sort}" if sort else str(count) for sort, count in counts.items())


def _and(names: Sequence[str]) -> str:
    return " and ".join(names)


def _minutes(minutes: float) -> str:
    return f"{minutes:g} min"
