"""Sales, returns and what caused them: the unit as its buyers know it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from knowngood.log import events as ev
from knowngood.maps.device import Device
from knowngood.maps.shape import similar

Trade = ev.Sold | ev.Dispatched | ev.Returned | ev.Refunded | ev.Caused


@dataclass(frozen=True)
class Return:
    """A sold unit that came back."""

    seq: int
    how: str
    """How it was sold: ``working`` or ``as-is``."""
    why: str
    """What its buyer said."""
    cause: str | None = None
    """Once it is known: a part and its fault mode, ``transport``, ``use`` or ``unknown``."""


@dataclass(frozen=True)
class Sales:
    """What is so after some line of the log."""

    sold: tuple[str, ...] = ()
    """How it was sold, each time."""
    returns: tuple[Return, ...] = ()
    dispatched: tuple[int, ev.Dispatched] | None = None
    """The line that sent it off since it was sold last."""

    def after(self, event: Trade, seq: int) -> Sales:
        """What is so after an event that fits."""
        match event:
            case ev.Sold(how=how):
                return replace(self, sold=(*self.sold, how), dispatched=None)
            case ev.Dispatched():
                return replace(self, dispatched=(seq, event))
            case ev.Returned(note=why):
                return replace(self, returns=(*self.returns, Return(seq, self.sold[-1], why)), dispatched=None)
            case ev.Caused():
                return replace(self, returns=(*self.returns[:-1], replace(self.returns[-1], cause=event.cause)))
            case ev.Refunded():
                return self

    def misfit(self, device: Device, event: Trade, left: bool) -> str | None:
        """Why an event does not fit, or None. ``left``: the unit is sold and not back."""
        match event:
            case ev.Dispatched() | ev.Returned() if not left:
                back = (self.returns and "It came back and was not sold since") or "It was not sold"
                return f"{back}. Log 'sold working for ...' or 'sold as-is for ...' first."
            case ev.Dispatched() if self.dispatched:
                return f"It was dispatched already (line {self.dispatched[0]})."
            case ev.Refunded() if not self.sold:
                return "It was never sold, so there is nobody to refund. Other money is 'paid MONEY for WHAT'."
            case ev.Caused() if not self.returns:
                return "It never came back. Log 'returned -- WHAT THE BUYER SAYS' first."
            case ev.Caused(by=str(part), mode=str(mode)):
                if part not in device.parts:
                    return f"There is no part '{part}' on this map. {similar(part, device.parts)}"
                modes = [one.name for one in device.parts[part].modes]
                if mode not in modes:
                    return f"'{part}' has no fault mode '{mode}'. {similar(mode, modes)}"
            case _:
                pass
        return None
