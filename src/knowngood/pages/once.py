"""A form that is posted twice acts once.

Each form carries a word of its own. The word and what came of the form are stored in one transaction with what the form
does, so a second post of the same word gets the first one's answer: while the first is still at work, in another
process, and after a restart or a crash of the program, too. The last thousands of words are kept.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable
from typing import Any, Generic, TypeVar, cast

from knowngood.log import events as ev
from knowngood.log.state import Line
from knowngood.pages.house import store

T = TypeVar("T")

KEPT = 5000
LONGEST = 200
"""Characters of a word; a longer one is none of ours."""


def new_word() -> str:
    """The word of a form."""
    return secrets.token_urlsafe(9)


class Once(Generic[T]):
    """Answers by word: lines of a log, or what JSON can hold; of any other answer only that there was one."""

    def done(self, word: str) -> bool:
        """Whether the form of this word has acted."""
        return bool(word) and _rows().filter(word=word).exists()

    def act(self, word: str, act: Callable[[], T]) -> T:
        """What ``act`` returns, or returned when the word first came. An act that raises may be tried again."""
        if not word or len(word) > LONGEST:
            return act()
        with store().writing():
            known = _rows().filter(word=word).first()
            if known is not None:
                return cast("T", _read(known.answer))
            done = act()
            row = _rows().create(word=word, answer=_written(done))
            _rows().filter(pk__lte=row.pk - KEPT).delete()
        return done


def _rows() -> Any:
    from knowngood.pages.models import FormDone  # the processes of ``working`` know no tables of the pages

    return FormDone.objects.using(store().place.alias)


def _written(answer: object) -> str:
    if isinstance(answer, list) and answer and all(isinstance(one, Line) for one in answer):
        return json.dumps({"lines": [[one.seq, one.time, ev.render(one.event)] for one in answer]})
    try:
        return json.dumps({"plain": answer})
    except TypeError:
        return json.dumps({"plain": None})


def _read(text: str) -> object:
    kept = json.loads(text)
    if "lines" in kept:
        return [Line(seq, time, ev.parse(line)) for seq, time, line in kept["lines"]]
    return kept["plain"]
