"""What is probably wrong with a unit: the posterior over its parts' faults given its log, exactly computed."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Sequence
from functools import cached_property, reduce

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import sensing
from knowngood.belief.bounded import PartialNetwork
from knowngood.belief.cases import Effort, SplitNetwork
from knowngood.belief.configuration import Configuration
from knowngood.belief.evaluate import effects
from knowngood.belief.evidence import Batch, Evidence, Vector, allowing, both
from knowngood.belief.gathering import Gathering
from knowngood.belief.network import FactorNetwork, Posteriors
from knowngood.belief.reach import below, reach
from knowngood.belief.story import Donors, Story, last_return, tell
from knowngood.belief.surprise import contradiction, together
from knowngood.belief.suspects import Suspect, with_reasons
from knowngood.belief.terms import GOOD, Handle, Node, unknown_of
from knowngood.errors import TooLargeError
from knowngood.log.state import Replay
from knowngood.maps.device import (
    Device,
    FunctionLevel,
    Part,
    RailVoltage,
    Test,
)
from knowngood.maps.words import MISSING


class Belief(Gathering):
    """The belief of one unit. Build with ``believe``; the questions below are computed when first asked."""

    def __init__(
        self,
        story: Story,
        replay: Replay,
        measuring: sensing.Measuring = sensing.BY_THE_MAP,
        *,
        effort: Effort = Effort.CASES,
        asked: Iterable[Test] = (),
        planned: Collection[int] = (),
    ) -> None:
        super().__init__(story, measuring)
        self.log_seq = replay.seq
        self._declared = frozenset(replay.state.declared)
        self.wanted = tuple(name for name in self.device.wanted if name not in self._declared)
        # Cold and warm are one where no fault knows the difference.
        warmths = (False, True) if self.device.warmth_matters else (True,)
        self._used = [story.as_used(warm=warm) for warm in warmths]
        for configuration in self._used:
            self.wiring.name_groups(self.device.functions, configuration)
        grouped = {function.id for function in self.device.functions.values() if function.any_of}
        for test in (*self.device.tests.values(), *asked):
            if isinstance(test.senses, (FunctionLevel, RailVoltage)):
                functions = reach(self.device, test).functions & grouped
                if functions:
                    self.wiring.name_groups(functions, self.configuration_for(test))
        for test in asked:
            if made := self.last_made(test):
                self.wiring.name_groups(reach(self.device, test).functions, made.configuration)
        self._log_planned = 0.0
        """How much more the planned lines can weigh than if they said nothing."""
        self.wiring.wire()
        self.weights = self.gather()
        self.network: FactorNetwork
        try:
            self.network = self.wiring.build(effort=effort)
        except TooLargeError as error:
            if effort < Effort.BOUNDS:
                raise
            more = [one for one in self.weights if not set(planned).isdisjoint(one.lines)]
            self._log_planned = sum(max(0.0, float(np.log(one.values.max()))) for one in more)
            self.network = self.wiring.bounded(together(one for one in self.weights if one not in more), error)
        self.base = together(self.weights)
        self.posterior: Posteriors = self.network.posteriors(self.base)
        self.log_evidence = float(self.posterior.log_evidence[0])
        if self.log_evidence == -np.inf:
            raise contradiction(self.network, self.weights, self.story)

    @property
    def cases(self) -> int:
        """In how many cases the tables were made: one, but for long logs."""
        return len(self.network.cases) if isinstance(self.network, SplitNetwork) else 1

    @property
    def part(self) -> PartialNetwork | None:
        """The network, if it is only the likeliest part of one that does not fit; None where all answers are exact."""
        return self.network if isinstance(self.network, PartialNetwork) else None

    def missed(self, chance: Vector | float = 1.0) -> Vector:
        """How far at most each chance lies from the true one, given the log and something with such a ``chance``: the
        share of all weight that may lie in cases that were left out; of the shape of ``chance``."""
        with np.errstate(divide="ignore"):
            return self.missed_in(np.asarray(np.log(chance) + self.log_evidence))

    def missed_in(self, log_evidence: Vector) -> Vector:
        """The same, from the log evidence of rows that say what the log does, with or without what is planned."""
        if self.part is None:
            return np.zeros_like(log_evidence)
        return self.part.missed_in(log_evidence - self._log_planned)

    # ---- what is probably wrong ---------------------------------------------------------------------------------

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        return tuple(self.device.parts.values())

    @cached_property
    def index(self) -> dict[str, int]:
        """Where each part stands in ``parts``."""
        return {part.id: number for number, part in enumerate(self.parts)}

    def _blocking(self, part: Part, table: dict[tuple[str, str], frozenset[str]]) -> NDArray[np.bool_]:
        return np.array([False, *(not table[part.id, mode.name] <= self._declared for mode in part.modes)])

    @cached_property
    def _alone(self) -> list[NDArray[np.bool_]]:
        return [self._blocking(part, effects(self.device).alone) for part in self.parts]

    @cached_property
    def _backups(self) -> list[NDArray[np.bool_]]:
        with_others = [self._blocking(part, effects(self.device).with_others) for part in self.parts]
        return [others & ~alone for others, alone in zip(with_others, self._alone, strict=True)]

    def stopping(self, part: Part, declared: Collection[str] = ()) -> NDArray[np.bool_]:
        """Which states of a part stop a wanted function, alone or with a backup failing, if more were ``declared``."""
        if declared:
            return np.array([False, *(bool(self._stopped(part, mode.name) - set(declared)) for mode in part.modes)])
        index = self.index[part.id]
        return self._alone[index] | self._backups[index]

    def stopped_by(self, part: Part) -> dict[frozenset[str], float]:
        """The sets of wanted functions that a part may stop, alone or with a backup failing, each with its chance."""
        found: dict[frozenset[str], float] = {}
        now = self.slot(self.posterior, part)[0]
        for mode, chance in zip(part.modes, now[1:].tolist(), strict=True):
            if chance > 0.0 and (stopped := self._stopped(part, mode.name)):
                found[stopped] = found.get(stopped, 0.0) + chance
        return found

    def _stopped(self, part: Part, mode: str) -> frozenset[str]:
        tables = effects(self.device)
        return (tables.alone[part.id, mode] | tables.with_others[part.id, mode]) - self._declared

    def slot(self, posterior: Posteriors, part: Part) -> NDArray[np.float64]:
        if part.id in self.story.empty:
            gone = np.zeros((1, len(part.states)))
            gone[0, part.states.index(MISSING) if MISSING in part.states else -1] = 1.0
            return gone
        return posterior[self.story.now[part.id]]

    def blocks(self, posterior: Posteriors, parts: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
        """p_blocks, shape (rows, parts): P(part in a mode that stops a wanted function).

        A mode that stops a function only when its backup fails too counts as far as that group has no good member; that
        joint chance is exact in ``suspects`` and the product of the two chances here.
        """
        rows = len(posterior.log_evidence)
        result = np.zeros((rows, len(parts)))
        for index, (part, table) in enumerate(zip(self.parts, parts, strict=True)):
            result[:, index] = table[:, self._alone[index]].sum(axis=1)
            if self._backups[index].any():
                spare = table[:, self._backups[index]].sum(axis=1)
                result[:, index] += spare * self._out(posterior, part)
        return result

    def _out(self, posterior: Posteriors, part: Part) -> NDArray[np.float64]:
        """Chance that a group that a part is a member of has no good member, the likeliest of such groups."""
        chances = [
            marginal(posterior, self.wiring.group(node, self._used[-1]), 3)[:, :GOOD].sum(axis=1)
            for node in self._groups_of[part.id]
        ]
        worst: NDArray[np.float64] = np.max(np.broadcast_arrays(*chances), axis=0)  # what is certain has one row
        return worst

    @cached_property
    def _groups_of(self) -> dict[str, list[Node]]:
        """For each part the groups, below a wanted function, that a member of stands on it."""
        found: dict[str, list[Node]] = {part.id: [] for part in self.parts}
        for node, _ in self.wiring.demand(self.wanted, self._used[-1]).groups:
            members = self.wiring.members(node)
            for part in dict.fromkeys(part for member in members for part in below(self.device, member)[0]):
                found[part].append(node)
        return found

    def within(
        self,
        functions: Iterable[str],
        configuration: Configuration,
        least: int = GOOD,
        beside: Iterable[tuple[str, Vector]] = (),
        *,
        unshorted: bool = False,
    ) -> Evidence:
        """Evidence that functions are at a level at least: weight zero on every state that keeps one lower. ``beside``
        is what else parts must show; ``unshorted`` leaves out what shorts these rails themselves."""
        demand = self.wiring.demand(functions, configuration, least, unshorted=unshorted)
        anywhere = next(iter(self.network.states))
        rows = self.shown((*((variable, allowing(allows)) for variable, allows in demand.allows), *beside))
        possible = demand.possible
        for node, of in demand.groups:
            handle = self.wiring.group(node, of)
            enough = np.array([float(row >= least) for row in handle.rows])
            if handle.variable is None:
                possible = possible and bool(enough[0])
            else:
                rows[handle.variable] = rows.get(handle.variable, 1.0) * enough
        if not possible:  # a split pair, or a part that is out
            rows[anywhere] = 0.0 * self._ones(anywhere)
        return rows

    def shown(self, allowed: Iterable[tuple[str, Vector]]) -> Evidence:
        """Evidence that parts show one of the states allowed, on variables of the network."""
        by_variable: Evidence = {}
        for variable, values in allowed:
            by_variable[variable] = by_variable[variable] * values if variable in by_variable else values
        rows: Evidence = {}
        for variable, values in by_variable.items():
            if variable not in self.network.states:  # of a spell that no test was made in: no variable, but a chance
                shown = self.story.shown[variable]
                variable, values = shown.parents[0], shown.table @ values
            rows[variable] = rows[variable] * values if variable in rows else values
        return rows

    def when_all_good(self, functions: Sequence[str]) -> Evidence:
        """Evidence that these functions are good as the unit will be used."""
        return reduce(both, (self.within(functions, configuration) for configuration in self._used))

    def _ones(self, variable: str) -> Vector:
        return np.ones(self.network.states[variable])

    @cached_property
    def good(self) -> dict[str, float]:
        """For each wanted function the chance that it is good as the unit will be used: closed, cold and warm."""
        rows = [both(self.base, self.when_all_good([name])) for name in self.wanted]
        if not rows:
            return {}
        found = np.exp(self.network.log_evidence(self._batched(rows)) - self.log_evidence)
        return {name: float(chance) for name, chance in zip(self.wanted, found, strict=True)}

    def _batched(self, rows: Sequence[Evidence]) -> Evidence:
        """Sets of evidence as one batch; what a set says nothing of has weight one there."""
        variables = dict.fromkeys(variable for row in rows for variable in row)
        return {name: np.array([row.get(name, self._ones(name)) for row in rows]) for name in variables}

    @cached_property
    def base_when_good(self) -> Evidence:
        """The evidence with 'every wanted function is good' added."""
        return both(self.base, self._when_good_alone)

    @cached_property
    def read(self) -> tuple[str, ...]:
        """The variables that ``slot`` and ``blocks`` read."""
        groups = (
            self.wiring.group(node, self._used[-1]).variable for nodes in self._groups_of.values() for node in nodes
        )
        return tuple(dict.fromkeys((*self.story.now.values(), *(name for name in groups if name))))

    def told_apart(self, part: Part) -> list[Hashable]:
        """For each state of a part a word for what it does to the unit as used: the same if nobody could tell."""
        index, variable = self.index[part.id], self.story.now[part.id]
        good = self._when_good_alone.get(variable, self._ones(variable))
        return list(zip(good.tolist(), self._alone[index].tolist(), self._backups[index].tolist(), strict=True))

    @cached_property
    def _when_good_alone(self) -> Evidence:
        return self.when_all_good(self.wanted)

    @cached_property
    def when_good(self) -> Posteriors | None:
        """The posterior if every wanted function is good; None where that cannot be."""
        found = self.network.posteriors(self.base_when_good)
        return None if found.log_evidence[0] == -np.inf else found

    @cached_property
    def known_good(self) -> float:
        """Chance that every promised function is good, closed, cold and warm, the unknown included."""
        return 0.0 if self.when_good is None else float(np.exp(self.when_good.log_evidence[0] - self.log_evidence))

    @cached_property
    def unknown(self) -> dict[str, float]:
        """For each function that the evidence or the wanted functions rest on: chance of an unknown fault in it."""
        return {name: float(self.posterior[variable][0, 1]) for name, variable in self.unknowns.items()}

    @cached_property
    def no_unknown(self) -> float:
        """Chance that nothing is there which the map does not know, its functions taken as independent."""
        return float(np.prod([1.0 - chance for chance in self.unknown.values()]))

    @cached_property
    def unknowns(self) -> dict[str, str]:
        """The variable of the unknown in each of these functions."""
        names = {function: unknown_of(function) for function in self.device.functions}
        present = set(self.posterior.variables)
        return {name: variable for name, variable in names.items() if variable in present}

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """Every part, those that most probably stop a wanted function first."""
        tables = [self.slot(self.posterior, part) for part in self.parts]
        blocks = self._exact_blocks(tables)
        found = [
            Suspect(
                part.id,
                part.what,
                float(1.0 - table[0, 0]),
                float(blocks[index]),
                {mode.name: float(chance) for mode, chance in zip(part.modes, table[0, 1:], strict=True)},
            )
            for index, (part, table) in enumerate(zip(self.parts, tables, strict=True))
        ]
        return tuple(sorted(found, key=lambda one: (-one.p_blocks, -one.p_bad, one.part)))

    def _exact_blocks(self, tables: list[NDArray[np.float64]]) -> Vector:
        blocks = np.array([table[0, alone].sum() for table, alone in zip(tables, self._alone, strict=True)])
        spare = [
            index for index, modes in enumerate(self._backups) if modes.any() and tables[index][0, modes].sum() > 0
        ]
        if spare:
            batch = Batch(self.base, len(spare), self.network.states)
            for row, index in enumerate(spare):
                part = self.parts[index].id
                if part not in self.story.empty:  # a slot with nothing in it is in that mode for certain
                    batch.multiply(row, self.story.now[part], self._backups[index].astype(float))
            given = self.network.posteriors(batch.rows)
            for row, index in enumerate(spare):
                out = self._out(given, self.parts[index])
                failing = out[row] if len(out) > 1 else out[0]  # what is certain has one row for all
                blocks[index] += tables[index][0, self._backups[index]].sum() * failing
        return blocks

    def suspects_with_reasons(self, most: int = 3, at_least: float = 0.001) -> tuple[Suspect, ...]:
        """``suspects``, with the lines that moved each most (those with p_bad of at least ``at_least``)."""
        rows = [together(one for one in self.weights if one is not left_out) for left_out in self.weights]
        if not rows:
            return self.suspects
        without = self.network.posteriors(self._batched(rows))
        # Without a line, what was left out weighs more: by what the line takes from it, the least that it leaves.
        with np.errstate(divide="ignore"):
            least = np.log([float(one.values.min()) for one in self.weights])
        missed = self.missed_in(without.log_evidence + least)

        def moved(one: Suspect) -> Suspect:
            variable = self.story.now[one.part]
            fine = self.posterior[variable][:1, 0], without[variable][:, 0]
            return with_reasons(one, fine, (self.missed(), missed), self.weights, most)

        empty = self.story.empty
        return tuple(moved(one) if one.p_bad >= at_least and one.part not in empty else one for one in self.suspects)


def marginal(posterior: Posteriors, handle: Handle, count: int) -> NDArray[np.float64]:
    """Chances of a handle's rows, shape (batch, count)."""
    if handle.variable is None:
        certain = np.zeros((1, count))
        certain[0, handle.rows[0]] = 1.0
        return certain
    table = posterior[handle.variable]
    result = np.zeros((table.shape[0], count))
    for state, row in enumerate(handle.rows):
        result[:, row] += table[:, state]
    return result


def believe(
    device: Device,
    replay: Replay,
    *,
    donors: Donors | None = None,
    measuring: sensing.Measuring = sensing.BY_THE_MAP,
    effort: Effort = Effort.CASES,
    asked: Iterable[Test] = (),
    planned: Collection[int] = (),
) -> Belief:
    """The belief that a replayed log gives on a map.

    ``measuring`` is the bench's meter and what known-good units read; ``asked`` are variants of the map's tests that
    will be asked about, as one that watches longer. Raises ContradictionError for lines that cannot
    all be true, TooLargeError where the answer takes more ``effort``: exact tables would not fit, or not even by cases.
    With bounds it is then given by the likeliest cases (``Belief.part``), also without the lines ``planned``.
    """
    donors = as_sold(device, replay, donors or {}, measuring, effort=effort)
    made = tell(device, replay, donors)
    return Belief(made, replay, measuring, effort=effort, asked=asked, planned=planned)


def as_sold(
    device: Device,
    replay: Replay,
    donors: Donors,
    measuring: sensing.Measuring = sensing.BY_THE_MAP,
    *,
    effort: Effort = Effort.CASES,
) -> Donors:
    """``donors``, and for a unit that came back the chances of its parts when it was sold, if they are not there yet.

    Raises what ``believe`` raises.
    """
    at = last_return(replay)
    if at is None or any((replay.lines[at].seq, part) in donors for part in device.parts):
        return donors
    state = replay.before[at]
    told = Replay(replay.lines[:at], replay.before[:at], state, (), replay.lines[at].seq - 1)
    exact = min(effort, Effort.CASES)  # what a part was sold with has no room for a bound
    sold = believe(device, told, donors=donors, measuring=measuring, effort=exact)
    found = ((part, sold.slot(sold.posterior, part)[0]) for part in device.parts.values())
    return {**donors, **{(replay.lines[at].seq, part.id): chances for part, chances in found}}
