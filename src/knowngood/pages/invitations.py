"""Codes that let one browser in, once, soon, for the whole bench or for one unit. They live in this process alone."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from hashlib import sha256
from threading import Lock

MINUTES = 10
"""How long a code can be scanned."""

MOST = 50
"""Codes that wait at the same time."""


@dataclass(frozen=True)
class Invitation:
    """A code that was made."""

    until: float
    only: str = ""
    """The unit; empty for the whole bench."""
    used: bool = False


class Invitations:
    """The codes of this process, by a hash of their word."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._made: dict[str, Invitation] = {}
        self._clock = clock
        self._lock = Lock()

    def make(self, only: str = "") -> str:
        """A new word."""
        word = secrets.token_urlsafe(24)
        with self._lock:
            now = self._clock()
            self._made = {key: one for key, one in self._made.items() if one.until > now}
            while len(self._made) >= MOST:
                del self._made[next(iter(self._made))]
            self._made[key_of(word)] = Invitation(now + 60 * MINUTES, only)
        return word

    def open(self, word: str) -> Invitation | None:
        """The invitation of a word that can still be used."""
        with self._lock:
            found = self._made.get(key_of(word))
            return found if found and not found.used and found.until > self._clock() else None

    def take(self, word: str) -> Invitation | None:
        """The same, and from now on it cannot be used any more."""
        with self._lock:
            key = key_of(word)
            found = self._made.get(key)
            if found is None or found.used or found.until <= self._clock():
                return None
            self._made[key] = replace(found, used=True)
            return found

    def was_used(self, key: str) -> bool:
        """Whether the word of this hash let somebody in."""
        with self._lock:
            found = self._made.get(key)
            return found is not None and found.used

    def end(self) -> None:
        """No word that was made lets anybody in any more."""
        with self._lock:
            self._made.clear()


INVITATIONS = Invitations()


def key_of(word: str) -> str:
    """What is kept and shown of a word: from it nobody gets in."""
    return sha256(word.encode()).hexdigest()[:32]
