"""A form that is posted twice acts once.

Each form carries a word of its own. What came of it is kept for the last thousand words of this process; a second post
of the same word, even while the first is still at work, gets the first one's answer. A restart forgets them: the log
then shows the line twice, and undo takes one back.
"""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Generic, TypeVar

T = TypeVar("T")

KEPT = 1000


def new_word() -> str:
    """The word of a form."""
    return secrets.token_urlsafe(9)


class Once(Generic[T]):
    """Answers by word."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, T] = OrderedDict()
        self._acting = Lock()

    def done(self, word: str) -> bool:
        """Whether the form of this word has acted."""
        with self._acting:
            return bool(word) and word in self._kept

    def act(self, word: str, act: Callable[[], T]) -> T:
        """What ``act`` returns, or returned when the word first came. An act that raises may be tried again."""
        with self._acting:
            if word and word in self._kept:
                return self._kept[word]
            done = act()
            if word:
                self._kept[word] = done
                while len(self._kept) > KEPT:
                    self._kept.popitem(last=False)
            return done
