"""What the lines of a log weigh: each test and look as weights on one variable, with what counts once put together."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping

import numpy as np
from numpy.typing import NDArray

from knowngood.belief import sensing
from knowngood.belief.configuration import Configuration
from knowngood.belief.evidence import Vector, Weight
from knowngood.belief.reach import reach
from knowngood.belief.story import Seen, Sensed, Story
from knowngood.belief.terms import Node
from knowngood.belief.wiring import Wiring
from knowngood.maps.device import Device, PartModes, RailToGround, RailVoltage, Test


class Gathering:
    """The evidence of a story. What its tests sense is asked of the wiring at once; ``gather`` needs it wired."""

    def __init__(self, story: Story, measuring: sensing.Measuring) -> None:
        self.story, self.measuring = story, measuring
        self.device: Device = story.device
        self.wiring = Wiring(story)
        self._tested = [self._asked(made) for made in self._same_again()]

    def configuration_for(self, test: Test) -> Configuration:
        """The configuration in which a test would be made now."""
        return self.story.configuration_of(test)

    def table(self, test: Test) -> NDArray[np.float64]:
        """P(outcome | row), rows as the test's handle gives them."""
        if isinstance(test.senses, (RailVoltage, RailToGround)):
            return sensing.reading_table(self.device, test, measuring=self.measuring)
        return sensing.outcome_table(self.device, test)

    def _row_weights(self, test: Test, outcome: str, seq: int) -> Vector:
        if isinstance(test.senses, (RailVoltage, RailToGround)):
            return sensing.reading_likelihood(self.device, test, outcome, measuring=self.measuring, seq=seq)
        weights: Vector = self.table(test)[:, test.outcomes.index(outcome)]
        return weights

    def _same_again(self) -> list[list[Sensed]]:
        """The tests of the log, each with its repeats in an unchanged state."""
        groups: dict[tuple[str, Hashable], list[Sensed]] = {}
        for item in self.story.evidence:
            if isinstance(item, Sensed):
                groups.setdefault((item.test.id, item.key), []).append(item)
        return list(groups.values())

    def _asked(self, made: list[Sensed]) -> tuple[list[Sensed], Node | None]:
        """Asks the wiring for what a group of tests senses, as one variable if they could have sensed unlike things."""
        for item in made:
            self.wiring.ask(item.test, item.configuration)
        unlike = {self.wiring.column_of(item.test, item.configuration): item.configuration for item in made}
        return made, self.wiring.ask_together(made[0].test, list(unlike.values())) if len(unlike) > 1 else None

    def gather(self, without: Collection[int] = ()) -> list[Weight]:
        """The evidence, with what counts once put together: repeats in an unchanged state, looks at one part.
        ``without`` are lines of tests to leave out."""
        weights = self._looks()
        for every, node in self._tested:
            made = [one for one in every if one.seq not in without]
            if not made:
                continue
            rows = {one.seq: self._row_weights(one.test, one.outcome, one.seq) for one in made}
            lines, text = tuple(rows), made[-1].text
            if node is not None:
                expression = self.wiring.together(node)
                column = {key: place for place, key in enumerate(self.wiring.columns_of(node))}
                at = {one.seq: column[self.wiring.column_of(one.test, one.configuration)] for one in made}
                values = [self._shared(rows, {seq: pattern[at[seq]] for seq in at}) for pattern in expression.patterns]
                assert expression.variable is not None
                weights.append(Weight(lines, text, expression.variable, np.array(values)))
                continue
            handle = self.wiring.handle(made[0].test, made[0].configuration)
            sensed = made[0].test.senses
            if isinstance(sensed, PartModes):
                if handle.variable is None:
                    continue  # the part was out: there was nothing to test
                weights.append(Weight(lines, text, handle.variable, self._of_part(sensed.part, made, rows)))
                continue
            mean = np.mean(list(rows.values()), axis=0)
            # What is certain speaks of no fault, but it may be impossible: it weighs on all states of a variable alike.
            anywhere, count = self.wiring.anywhere
            places = handle.rows if handle.variable else handle.rows * count
            weights.append(Weight(lines, text, handle.variable or anywhere, mean[list(places)]))
        return sorted(weights, key=lambda weight: weight.lines[-1])

    @staticmethod
    def _shared(rows: Mapping[int, Vector], sensed: Mapping[int, int]) -> float:
        """Likelihood of repeats that sensed these rows. Those that sensed the same share the error of the first, so
        they add nothing; if their answers differ, one is right and it is not known which, so their mean counts."""
        together: dict[int, list[float]] = {}
        for seq, row in sensed.items():
            together.setdefault(row, []).append(float(rows[seq][row]))
        return float(np.prod([np.mean(one) for one in together.values()]))

    def _of_part(self, part: str, made: list[Sensed], rows: Mapping[int, Vector]) -> Vector:
        """Likelihood of a part's states by repeats of a test on it: news only of a fault that comes and goes."""
        spells: dict[int, list[Vector]] = {}
        for item in made:
            spells.setdefault(item.spell, []).append(rows[item.seq])
        values: Vector = np.mean(list(rows.values()), axis=0)
        each = np.prod([np.mean(one, axis=0) for one in spells.values()], axis=0)
        for state, mode in enumerate(self.device.parts[part].modes, start=1):
            if mode.shows is not None:
                values[state] = each[state]
        return values

    def _looks(self) -> list[Weight]:
        """The looks: those at one part in one state count once, by the worst that was found."""
        looks: dict[tuple[str, str], list[Seen]] = {}
        for item in self.story.evidence:
            if isinstance(item, Seen):
                looks.setdefault((item.part, item.variable), []).append(item)
        weights = []
        for (name, variable), seen in looks.items():
            part = self.device.parts[name]
            condition = sensing.worst(part, [one.condition for one in seen])
            deciding = max((one for one in seen if one.condition == condition), key=_closeness)
            values = sensing.look_weights(part, condition, deciding.look, deciding.degree)
            weights.append(Weight((deciding.seq,), deciding.text, variable, values))
        return weights

    def outcome_in_this_state(self, test: Test) -> str | None:
        """What this very test last gave in the present state, where making it again would add nothing; else None."""
        made = self.last_made(test)
        return made.outcome if made else None

    def last_made(self, test: Test) -> Sensed | None:
        """This very test as it was last made in the present state, but for spells; None if it was not."""
        now = reach(self.device, test).of(self.configuration_for(test))
        made = (item for item in reversed(self.story.evidence) if isinstance(item, Sensed) and item.test.id == test.id)
        return next((item for item in made if item.key == now), None)

    def looked_at(self, part: str) -> bool:
        """Whether what sits in the slot now was looked at closely."""
        variable = self.story.now[part]
        return any(
            isinstance(item, Seen) and item.variable == variable and item.look != "glance"
            for item in self.story.evidence
        )


def _closeness(seen: Seen) -> tuple[bool, float, int]:
    """Orders looks by how close they were, by what their degree says for a fault, then by time."""
    return seen.look != "glance", sensing.degree_factor(seen.degree), seen.seq
