"""Which driver fits, how tight, what goes into plastic, and what the standards call a fastener and its tool?"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from knowngood.errors import RangeError
from knowngood.handbook.formula import formula

TABLE = Path(__file__).parent / "tables" / "fasteners.csv"


@lru_cache(maxsize=1)
def _rows() -> tuple[dict[str, str], ...]:
    with TABLE.open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(lines))


def _of(group: str, item: str) -> list[dict[str, str]]:
    return [row for row in _rows() if row["group"] == group and row["item"] == item]


# ---- which driver -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Drive:
    drive: str
    size: str
    source: str


@formula
def driver_by_thread(thread: str) -> tuple[Drive, ...]:
    """Which driver turns a standard metric screw, by its thread and the recess of its head.

    A maker's own screw may carry another recess: look before turning. A cross is of form H (PH) or Z (PZ). Pinned star
    heads need a bored driver; five-lobe and three-wing heads do not interchange with the star (all from memory).

    Formula: a table
    Args:
        thread: of the screw (one of M1.6, M2, M2.5, M3, M3.5, M4)
    Gives:
        size: of the driver (text)
        drive: recess of the head (text)
        source: where it stands (text)
    Source: ISO 14583, ISO 14580 (hexalobular); ISO 7045, 7046, 4757 (cross); ISO 4762 (hexagon socket)

    >>> [(row.drive, row.size) for row in driver_by_thread("M2.5")]
    [('hexalobular drive', 'T8'), ('cross recess number', '1'), ('hexagon socket', '2.0 mm')]
    """
    return tuple(
        Drive(row["quantity"], f"{row['value']} {row['unit']}".strip(), row["source"])
        for row in _of("drive by thread", thread)
    )


@dataclass(frozen=True)
class Star:
    star: str
    across: float
    inner: float | None
    status: str


def _star(size: str) -> Star:
    found = {row["quantity"][0]: row for row in _of("hexalobular", size)}
    inner = float(found["B"]["value"]) * 1e-3 if "B" in found else None
    return Star(size, float(found["A"]["value"]) * 1e-3, inner, f"{found['A']['status']}, {found['A']['source']}")


@formula
def star_size(star: str) -> Star:
    """How wide a hexalobular recess of a size is.

    Formula: a table
    Args:
        star: its size (one of T3, T4, T5, T6, T7, T8, T9, T10, T15, T20, T25, T30)
    Gives:
        star: its size (text)
        across: from point to point (m)
        inner: from hollow to hollow (m)
        status: how well this is known (text)
    Source: ISO 10664:2014; T3, T4, T5, T7 and T9 are not in it, makers differ (from memory)

    >>> star_size("T8").across
    0.0024
    """
    return _star(star)


@formula
def star_by_width(across: float) -> tuple[Star, ...]:
    """Which hexalobular driver fits a recess measured from point to point: the two nearest sizes, nearest first.

    Formula: the sizes with the least difference
    Args:
        across: of the recess, from point to point (m, 1e-3 to 6e-3)
    Gives:
        star: its size (text)
        across: from point to point (m)
        inner: from hollow to hollow (m)
        status: how well this is known (text)
    Source: ISO 10664:2014; T3, T4, T5, T7 and T9 are not in it, makers differ (from memory)

    >>> [row.star for row in star_by_width(2.38e-3)]
    ['T8', 'T9']
    """
    sizes = dict.fromkeys(row["item"] for row in _rows() if row["group"] == "hexalobular")
    return tuple(sorted((_star(size) for size in sizes), key=lambda one: abs(one.across - across))[:2])


# ---- how tight ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Section:
    pitch: float
    area: float
    status: str


@formula
def stress_area(thread: str) -> Section:
    """The pitch of a coarse metric thread, and the area of the screw that carries the load.

    Formula: A = pi / 4 (d - 0.938194 P)^2
    Args:
        thread: of the screw (one of M1.4, M1.6, M2, M2.5, M3)
    Gives:
        area: that carries the load (m^2)
        pitch: from thread to thread (m)
        status: how well the pitch is known (text)
    Source: ISO 261, ISO 262 (pitch); ISO 898-1 (area, formula from memory)

    >>> round(stress_area("M3").area * 1e6, 4)
    5.0308
    """
    (row,) = _of("thread", thread)
    pitch = float(row["value"]) * 1e-3
    return Section(pitch, math.pi / 4.0 * (_diameter(thread) - 0.938194 * pitch) ** 2, row["status"])


def _diameter(thread: str) -> float:
    return float(thread.removeprefix("M")) * 1e-3


@dataclass(frozen=True)
class Torque:
    torque: float
    most: float | None
    joint: str
    status: str
    source: str


_TABLES = ("tightening torque", "tightening torque, A2/A4", "tightening torque, second table")


@formula
def tightening_torque(thread: str, strength: str = "unknown", into: str = "metal") -> tuple[Torque, ...]:
    """How tight a small screw goes, by thread, strength and what it goes into.

    The tables hold for steel into steel, or stainless at 90 % of yield (one digit, coarse); a thread in brass,
    magnesium or aluminium wants the lower figure of practice. Two tables differ for steel M3: both are shown. Into
    plastic the plastic governs. The maker's own figure comes before all of these.

    Formula: a table
    Args:
        thread: of the screw (one of M1.4, M1.6, M2, M2.5, M3, M4)
        strength: property class on its head; stainless by its class (one of unknown, 3.6, 4.6, 4.8, 5.6, 5.8, 8.8,
            10.9, 12.9, stainless-50, stainless-70)
        into: what it goes into (one of metal, plastic)
    Gives:
        torque: to set, or the lower end (N m)
        most: the upper end (N m)
        joint: that it holds for (text)
        status: how well this is known (text)
        source: where it stands (text)
    Source: of each row, beside it

    >>> [row.torque for row in tightening_torque("M3", "8.8")]
    [1.2, 1.28]
    """
    found = [] if into == "plastic" else [_tabled(row) for row in _torques(thread, strength)]
    for row in _of("notebook and phone screws", thread):
        low, high = (float(end) for end in row["value"].split(" to "))
        half = 0.5 if into == "plastic" else 1.0
        joint = "device screw into plastic, about half of metal" if into == "plastic" else "device screw into metal"
        found.append(Torque(low * half, high * half, joint, row["status"], "none"))
    if not found:
        raise RangeError(
            f"tightening-torque: no figure for {thread} of strength {strength} into {into}. "
            + ("Ask screw-into-plastic." if into == "plastic" else "Name a property class, as --strength 4.8.")
        )
    return tuple(found)


def _torques(thread: str, strength: str) -> list[dict[str, str]]:
    wanted = f"class {strength.removeprefix('stainless-')}"
    stainless = strength.startswith("stainless")
    return [
        row
        for group in _TABLES
        for row in _of(group, thread)
        if row["quantity"].partition(",")[0] == wanted and ("A2/A4" in group) == stainless
    ]


def _tabled(row: dict[str, str]) -> Torque:
    metal = "steel into steel" if "A2/A4" not in row["group"] else "stainless A2 or A4"
    table = ", second table" if "second table" in row["group"] else ""
    joint = f"{metal}{table}, {row['quantity']}"
    return Torque(float(row["value"]), None, joint, row["status"], row["source"])


@dataclass(frozen=True)
class Tightened:
    torque: float
    force: float


@formula
def torque_by_force(thread: str, proof: float, factor: float = 0.2, share: float = 0.75) -> Tightened:
    """The torque that stretches a screw to a share of its proof load, where no table has it.

    The torque factor is about 0.2 for dry steel (from memory) and scatters widely; oil or thread lock lowers it.

    Formula: F = share proof A; T = K F d
    Args:
        thread: of the screw (one of M1.4, M1.6, M2, M2.5, M3)
        proof: proof stress of its class, 310 MPa for 4.8 and 580 MPa for 8.8 (Pa, above 0 to 2e9)
        factor: torque factor K (1, 0.05 to 0.5)
        share: of the proof load (1, 0.1 to 1)
    Gives:
        torque: to set (N m)
        force: with which it then clamps (N)
    Source: bolting texts; 75 % of proof load: an assembly-tool maker's note; K = 0.2 from memory

    >>> round(torque_by_force("M2.5", proof=310e6).torque, 5)
    0.39418
    """
    force = share * proof * stress_area(thread).area
    return Tightened(factor * force * _diameter(thread), force)


@dataclass(frozen=True)
class Turning:
    newton_metre: float
    centinewton_metre: float
    kilogram_force_centimetre: float
    pound_force_inch: float


@formula
def torque_units(torque: float) -> Turning:
    """A torque in the units that drivers are marked in.

    Formula: 1 N m = 100 cN m = 10.1972 kgf cm = 8.85075 lbf in
    Args:
        torque: as marked or wanted (N m, 0 to 1e4)
    Gives:
        newton_metre: in N m (1)
        centinewton_metre: in cN m (1)
        kilogram_force_centimetre: in kgf cm (1)
        pound_force_inch: in lbf in (1)
    Source: definitions: 1 kgf = 9.80665 N, 1 lbf = 4.4482216152605 N, 1 in = 25.4 mm

    >>> round(torque_units(0.17).pound_force_inch, 4)
    1.5046
    """
    return Turning(torque, torque * 100.0, torque / 9.80665e-2, torque / (4.4482216152605 * 0.0254))


@dataclass(frozen=True)
class Boss:
    engaged_from: float
    engaged_to: float
    torque_from: float | None
    torque_to: float | None


@formula
def screw_into_plastic(diameter: float, stripping: float | None = None) -> Boss:
    """How far a metal screw goes into a plastic boss, and how tight from the torque that strips it.

    The plastic governs. Put the screw back into its old thread. The
    shares of the stripping torque are from memory; find that torque on a boss that does not matter.

    Formula: 2 d to 3 d engaged; 1/3 to 1/2 of the stripping torque
    Args:
        diameter: outer, of the screw's thread (m, 0.5e-3 to 10e-3)
        stripping: torque at which such a boss strips (N m, above 0 to 10)
    Gives:
        engaged_from: shortest engagement (m)
        engaged_to: longest that adds strength (m)
        torque_from: gentle setting, from memory (N m)
        torque_to: firm setting, from memory (N m)
    Source: plastics makers' guides

    >>> screw_into_plastic(2.0e-3).engaged_from
    0.004
    """
    ends = (None, None) if stripping is None else (stripping / 3.0, stripping / 2.0)
    return Boss(2.0 * diameter, 3.0 * diameter, *ends)


# ---- what it is called --------------------------------------------------------------------------------------------

BASIC_TOOLS = (
    "slotted screwdriver, cross screwdriver, hexalobular screwdriver, hex key, combination wrench, combination pliers, "
    "wire stripping and crimping pliers, half-round pliers, multigrip pliers, locking pliers, diagonal cutter, "
    "prying lever, tweezers, magnifier, spudger, pick"
)
"""Basic tools (Regulation (EU) 2023/1670, definition 50)."""

_MARKS = ((re.compile(r"^t\d+$"), "hexalobular screwdriver"), (re.compile(r"^p[hz]\d+$"), "cross screwdriver"))


@dataclass(frozen=True)
class Term:
    term: str
    why: str
    status: str


@formula
def tool_term(tool: str) -> Term:
    """What a tool is called where repairability is judged: basic, or one of the rarer kinds.

    Formula: on the list of basic tools, or not
    Args:
        tool: by its name or the mark on its blade, as "spudger", "T8", "PH1" (text)
    Gives:
        term: of the ladder (text)
        why: it is that (text)
        status: how well this is known (text)
    Source: Regulation (EU) 2023/1670, definition 50 (basic tools); EN 45554:2020, words of its ladder, from memory

    >>> tool_term("T8").term
    'basic'
    """
    name = " ".join(tool.lower().split())
    name = next((meant for mark, meant in _MARKS if mark.match(name.replace(" ", ""))), name)
    if name in BASIC_TOOLS.split(", "):
        return Term("basic", f"{name} is on the list of basic tools", "confirmed, Regulation (EU) 2023/1670")
    return Term(
        "product-group-specific; other commercially available; proprietary; or not feasible with any existing tool",
        f"not on the list of basic tools ({BASIC_TOOLS}): choose by who can get it",
        "from memory, EN 45554:2020",
    )


@formula
def fastener_term(undone: bool, again: bool) -> Term:
    """What a fastener or connector is called where repairability is judged.

    Formula: reusable, removable, or neither
    Args:
        undone: whether it comes off without harm to the product (yes or no)
        again: whether the same one holds again afterwards (yes or no)
    Gives:
        term: of the ladder (text)
        why: it is that (text)
        status: how well this is known (text)
    Source: EN 45554:2020, words of its ladder, from memory

    >>> fastener_term(undone=True, again=False).term
    'removable'
    """
    if undone and again:
        term, why = "reusable", "it comes off and holds again"
    elif undone:
        term, why = "removable", "it comes off without harm, a new one is needed"
    else:
        term, why = "neither reusable nor removable", "it does not come off without harm"
    return Term(term, why, "from memory, EN 45554:2020")


@formula
def disassembly_depth(steps: int) -> int:
    """The score for how many steps it takes to reach a part.

    A step ends with the removal of a part or a change of tool (as the French index counts them); picking up a tool or
    taking out a fastener ends none.

    Formula: up to 2 steps 5, 5 steps 4, 10 steps 3, 15 steps 2, more 1
    Args:
        steps: to the part (1, 0 to 1000)
    Gives:
        score: of 5 (1)
    Source: Regulation (EU) 2023/1669, as explained in EU's Reparability Index: how will it work? (R. Bjorhovde)

    >>> disassembly_depth(7)
    3
    """
    return next((score for most, score in ((2, 5), (5, 4), (10, 3), (15, 2)) if steps <= most), 1)
