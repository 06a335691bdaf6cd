"""May a new part stand in for an old one: property by property, and what was not compared is said."""

from __future__ import annotations

from dataclasses import dataclass

from knowngood.handbook.dielectrics import Dielectric
from knowngood.handbook.quantities import format_quantity


@dataclass(frozen=True)
class Verdict:
    """Whether a part may replace another, as far as was compared."""

    verdict: str
    against: tuple[str, ...]
    not_compared: tuple[str, ...]


@dataclass(frozen=True)
class Finding:
    """One property: what is wrong with it, if something is, and whether both sides were given."""

    name: str
    wrong: str = ""
    compared: bool = True


def verdict(*findings: Finding) -> Verdict:
    """All findings in one word, with reasons."""
    against = tuple(one.wrong for one in findings if one.wrong)
    missing = tuple(one.name for one in findings if not one.compared)
    said = "does not fit" if against else "fits as far as compared" if missing else "fits"
    return Verdict(said, against, missing)


def at_least(name: str, old: float | None, new: float | None, unit: str) -> Finding:
    """The new one has as much as the old, or more."""
    if old is None or new is None:
        return Finding(name, compared=False)
    return Finding(name, f"{name} {_text(new, unit)}, below {_text(old, unit)}" if new < old else "")


def at_most(name: str, old: float | None, new: float | None, unit: str) -> Finding:
    """The new one has as little as the old, or less."""
    if old is None or new is None:
        return Finding(name, compared=False)
    return Finding(name, f"{name} {_text(new, unit)}, above {_text(old, unit)}" if new > old else "")


def alike(name: str, old: float | None, new: float | None, unit: str, within: float) -> Finding:
    """The new one differs by no more than a share of the old."""
    if old is None or new is None:
        return Finding(name, compared=False)
    off = abs(new - old) > within * old * (1.0 + 1e-9)
    allowed = f" within {100.0 * within:g} %" if within else ""
    return Finding(name, f"{name} {_text(new, unit)}, not {_text(old, unit)}{allowed}" if off else "")


def same(name: str, old: str | None, new: str | None) -> Finding:
    """Both are of one kind."""
    if old is None or new is None:
        return Finding(name, compared=False)
    return Finding(name, "" if old == new else f"{name} {new}, not {old}")


def as_stable(old: Dielectric, new: Dielectric) -> Finding:
    """The new dielectric promises what the old one did, or more."""
    name = "dielectric"
    if old.kind != new.kind:
        return Finding(name, "dielectric of class II or III in the place of class I" if old.kind == "class I" else "")
    if old.kind == "class I":
        old_ends, new_ends = _slopes(old), _slopes(new)
        wider = new_ends[0] < old_ends[0] - 1e-12 or new_ends[1] > old_ends[1] + 1e-12
        return Finding(name, "its temperature coefficient may lie outside that of the old" if wider else "")
    narrower = (new.low_temperature or 0.0) > (old.low_temperature or 0.0) or (new.high_temperature or 0.0) < (
        old.high_temperature or 0.0
    )
    looser = (new.change_low or 0.0) < (old.change_low or 0.0) or (new.change_high or 0.0) > (old.change_high or 0.0)
    words = [*(["its temperature range is narrower"] if narrower else []), *(["it changes more"] if looser else [])]
    return Finding(name, " and ".join(words))


def _slopes(one: Dielectric) -> tuple[float, float]:
    middle, spread = one.coefficient or 0.0, one.coefficient_spread or 0.0
    return middle - spread, middle + spread


def _text(value: float, unit: str) -> str:
    if unit == "share":
        return f"{100.0 * value:.4g} %"
    return f"{value:.4g} {unit}" if unit in ("h", "K/W") else format_quantity(value, unit)
