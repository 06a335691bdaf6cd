"""What holds during a test: which variable is in force in each slot, and how the unit is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from knowngood.maps.device import Mode


@dataclass(frozen=True)
class Configuration:
    """The variable in force in each slot (None: nothing there), and how the unit is."""

    slots: tuple[tuple[str, str | None], ...]
    """The variable of what sits there."""
    shown: tuple[tuple[str, str], ...]
    """For parts with a fault that comes and goes: the variable of what they show in this spell; none for good."""
    unplugged: frozenset[str]
    split: frozenset[str]
    """Functions lost because parts that only work together were parted."""
    closed: bool
    warm: bool
    fed: frozenset[str] = frozenset()
    """Rails that a bench supply feeds: what else would feed them does not matter."""
    since: tuple[Configuration, ...] = ()
    """How the unit was before, since its input was last away: a supply that latches off at a short then is still off.
    Of maps with none that does it is empty."""

    @cached_property
    def _hash(self) -> int:
        return hash((self.slots, self.shown, self.unplugged, self.split, self.closed, self.warm, self.fed, self.since))

    def __hash__(self) -> int:
        """Worked out once: it is the key of much, and has as many slots as the device has parts."""
        return self._hash

    @cached_property
    def _slots(self) -> dict[str, str | None]:
        return dict(self.slots)

    @cached_property
    def _shown(self) -> dict[str, str]:
        return dict(self.shown)

    def slot(self, part: str) -> str | None:
        """The variable of the state of what sits in a slot."""
        return self._slots[part]

    def variable(self, part: str) -> str | None:
        """The variable of what a part does now: of its state, if its faults are always there."""
        return self._shown.get(part) or self._slots[part]

    def acts(self, mode: Mode) -> bool:
        """Whether a mode shows in this configuration."""
        return {
            None: True,
            "closed": self.closed,
            "open": not self.closed,
            "warm": self.warm,
            "cold": not self.warm,
        }[mode.when]
