"""Where everything stands in the picture of a map. Graphviz places it; what is drawn there is ours."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from threading import Lock

from knowngood.maps.device import Device
from knowngood.maps.feeding import Feed, feeds, rails

WIDE, HIGH, RAIL_HIGH = 136, 48, 28
"""Pixels of a part and of a rail: a part is as large as a fingertip."""

GAP, MARGIN, HEAD = 12, 12, 22
"""Pixels between parts, from the border of an assembly to its parts, and for the words above a group."""

KEPT = 50
INCH = 72.0
"""Points to the inch: Graphviz takes sizes in inches and gives places in points, which are our pixels."""


@dataclass(frozen=True)
class Box:
    """A rectangle, pixels from the upper left corner."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Layout:
    """Where parts, rails, assemblies and feeds of a map are."""

    width: float
    height: float
    boxes: dict[str, Box]
    """By part or rail."""
    groups: dict[str, Box]
    """By the part that is the assembly."""
    arrows: dict[Feed, str]
    """The path of each feed, as SVG's ``d``."""
    apart: float
    """Where what is fed by nothing begins, from the top."""


class Layouts:
    """Layouts by the content of the map. Graphviz keeps state of its own, so one is made at a time."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Layout] = OrderedDict()
        self._lock = Lock()

    def of(self, device: Device) -> Layout:
        """The layout of a map, made once."""
        with self._lock:
            if device.content_hash not in self._kept:
                self._kept[device.content_hash] = laid_out(device)
                while len(self._kept) > KEPT:
                    self._kept.popitem(last=False)
            return self._kept[device.content_hash]


LAYOUTS = Layouts()


def laid_out(device: Device) -> Layout:
    """Feeds run from left to right; below them stands what is fed by nothing, by assembly."""
    fed = feeds(device)
    linked = {end for feed in fed for end in feed}
    members = {one: group for one in device.parts if len(group := _assembly(device, one)) > 1}
    drawn = {part for group in members.values() if linked & set(group) for part in group} | linked
    found = Layout(0.0, 0.0, {}, {}, {}, 0.0)
    if drawn:
        fed_groups = {name: group for name, group in members.items() if drawn & set(group)}
        found = _by_graphviz(device, fed, fed_groups, drawn)
    return _with_the_rest(device, found, members, drawn)


def _assembly(device: Device, part: str) -> tuple[str, ...]:
    """All that is in a part, at whatever depth, itself first; nothing if it is in another itself."""
    return tuple(sorted((one for one in device.parts if device.within(one)[-1] == part), key=part.__ne__))


def _by_graphviz(device: Device, fed: Sequence[Feed], groups: dict[str, tuple[str, ...]], drawn: set[str]) -> Layout:
    from pygraphviz import AGraph  # a second of loading, which only a picture waits for

    graph = AGraph(directed=True, rankdir="LR", nodesep=GAP / INCH, ranksep=0.42)
    # No words in it: it would look for fonts to measure them, and the sizes are ours.
    graph.node_attr.update(shape="box", fixedsize="true", label="", width=WIDE / INCH, height=HIGH / INCH)
    graph.edge_attr.update(arrowhead="none")
    for name in (*device.parts, *rails(device)):
        if name in drawn:
            graph.add_node(name, **({} if name in device.parts else {"height": RAIL_HIGH / INCH}))
    for name, group in groups.items():
        graph.add_subgraph(group, name=f"cluster_{name}", margin=MARGIN)
    for start, end in fed:
        graph.add_edge(start, end)
    graph.layout("dot")
    _, _, width, height = (float(one) for one in graph.graph_attr["bb"].split(","))

    boxes, boards = {}, {}
    for name in (*device.parts, *rails(device)):
        if name in drawn:
            x, y = (float(one) for one in graph.get_node(name).attr["pos"].split(","))
            high = HIGH if name in device.parts else RAIL_HIGH
            boxes[name] = Box(x - WIDE / 2, height - y - high / 2, WIDE, high)
    for name in groups:
        left, low, right, top = (
            float(one) for one in graph.get_subgraph(f"cluster_{name}").graph_attr["bb"].split(",")
        )
        boards[name] = Box(left, height - top, right - left, top - low)
    arrows = {feed: _path(graph.get_edge(*feed).attr["pos"], height) for feed in fed}
    return Layout(width, height, boxes, boards, arrows, height)


def _path(splines: str, height: float) -> str:
    """Points of a curve as Graphviz writes them (start, then three for each stretch), as a path with y downwards."""
    points = [one.split(",")[-2:] for one in splines.split() if one[0] not in "es"]
    turned = [f"{float(x):.0f} {height - float(y):.0f}" for x, y in points]
    return f"M{turned[0]} C{' '.join(turned[1:])}"


def _with_the_rest(device: Device, found: Layout, members: dict[str, tuple[str, ...]], drawn: set[str]) -> Layout:
    """The layout with what is fed by nothing in rows below: assemblies first, then single parts."""
    left = [part for part in device.parts if part not in drawn]
    if not left:
        return found
    groups = [group for group in members.values() if group[0] in left]
    single = [part for part in left if not any(part in group for group in groups)]
    boxes, boards = dict(found.boxes), dict(found.groups)
    width = max(found.width, 4 * (WIDE + GAP))
    y = found.height + 2 * GAP + HEAD if drawn else HEAD
    x, lowest = 0.0, y
    for group in groups:
        wide = len(group) * (WIDE + GAP) - GAP + 2 * MARGIN
        if x and x + wide > width:
            x, y = 0.0, lowest + GAP
        boards[group[0]] = Box(x, y, wide, HIGH + 2 * MARGIN)
        boxes.update(_row(group, x + MARGIN, y + MARGIN))
        x, lowest = x + wide + GAP, y + HIGH + 2 * MARGIN
        width = max(width, wide)
    y = lowest + GAP if groups else y
    fit = max(1, int((width + GAP) // (WIDE + GAP)))
    for start in range(0, len(single), fit):
        boxes.update(_row(single[start : start + fit], 0.0, y))
        y += HIGH + GAP
    bottom = y - GAP if single else lowest
    return Layout(width, bottom, boxes, boards, found.arrows, found.height)


def _row(names: Sequence[str], x: float, y: float) -> Iterator[tuple[str, Box]]:
    return ((name, Box(x + at * (WIDE + GAP), y, WIDE, HIGH)) for at, name in enumerate(names))
