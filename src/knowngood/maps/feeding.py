"""What feeds what, as the map says it: by what its rails need, what hangs on them, and what its connections join."""

from __future__ import annotations

from collections.abc import Iterator

from knowngood.maps.device import Device

Feed = tuple[str, str]
"""Names of two parts or rails; the first feeds the second."""


def rails(device: Device) -> tuple[str, ...]:
    """The functions that carry power, in the order of the map."""
    return tuple(function.id for function in device.functions.values() if function.carries == "power")


def feeds(device: Device) -> tuple[Feed, ...]:
    """Each feed once, in the order of the map.

    A feed that others say already is left out: a supply that reaches its rail by a lead, a fan that its board feeds by
    a plug, a rail made from another by a part that hangs on that one.
    """
    return tuple(dict.fromkeys((*_into_rails(device), *_by_connections(device), *_off_rails(device))))


def _into_rails(device: Device) -> Iterator[Feed]:
    known = set(rails(device))
    for rail in rails(device):
        needs = _needs(device, rail)
        by_lead = {device.parts[one].joins[-1] for one in needs if one in device.parts and device.parts[one].joins}
        above = {part for one in needs if one in known for part in device.needed(one)}
        for need in needs:
            if need in known and not set(device.loads_of[need]) & set(needs):
                yield need, rail
            if need in device.parts and need not in by_lead | above:
                yield need, rail


def _needs(device: Device, rail: str) -> tuple[str, ...]:
    function = device.functions[rail]
    return (*function.needs, *(one for group in function.any_of for one in group))


def _by_connections(device: Device) -> Iterator[Feed]:
    for one in device.parts.values():
        if not one.joins:
            continue
        hangs, source = one.joins[0], one.joins[-1]
        through = [rail for rail in one.on if _made_in(device, rail, source)]
        yield from ((rail, one.id) for rail in through)
        if not through and source != hangs:
            yield source, one.id
        if not any(one.id in _needs(device, rail) and hangs in device.loads_of[rail] for rail in rails(device)):
            yield one.id, hangs


def _made_in(device: Device, rail: str, source: str) -> bool:
    """Whether the rail is made by a part, or by something that sits on it."""
    return any(source in device.within(one) for one in _needs(device, rail) if one in device.parts)


def _off_rails(device: Device) -> Iterator[Feed]:
    for rail in rails(device):
        for name in device.loads_of[rail]:
            plugs = [device.parts[plug] for plug in device.plugs_of[name]]
            by_plug = any(rail in plug.on or plug.joins[-1] in device.loads_of[rail] for plug in plugs)
            if not device.parts[name].joins and not by_plug:
                yield rail, name
