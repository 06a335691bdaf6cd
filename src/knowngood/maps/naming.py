"""What a name says of a thing: the part kind that it proposes, and the words of it."""

from __future__ import annotations

from functools import lru_cache

from knowngood.maps.kinds import LIBRARY
from knowngood.maps.read import read_file

PLUG_KINDS = ("plug", "latched-socket", "board-plug", "coax", "wire-lead", "flat-flex")
"""Kinds of what can be unplugged; the first is what a plug is taken for of which nothing more is known."""


@lru_cache(maxsize=1)
def kind_words() -> dict[tuple[str, ...], str]:
    """Part kind by the words of a name that propose it."""
    table: dict[str, list[str]] = read_file(LIBRARY / "kind-words.yaml").data
    return {tuple(phrase.split("-")): kind for kind, phrases in table.items() for phrase in phrases}


def proposed_kind(name: str, *, plug: bool = False) -> str | None:
    """The kind that the words which stand last in a name propose, the longest of them; None if none does."""
    words = name.split("-")
    found = [
        ((end, end - start), kind_words()[tuple(words[start:end])])
        for start in range(len(words))
        for end in range(start + 1, len(words) + 1)
        if tuple(words[start:end]) in kind_words()
    ]
    return max(((at, kind) for at, kind in found if not plug or kind in PLUG_KINDS), default=(None, None))[1]


def in_words(name: str) -> str:
    """A name as it is read: ``side-fan`` as "Side fan"."""
    return name.replace("-", " ").capitalize()
