"""The comparison of a rehearsal as an SVG: for each policy what it brings, takes and brings back, with intervals."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from knowngood.cli import shapes
from knowngood.errors import PictureError

WIDTH, ROW = 190, 24
"""Pixels: of one panel, and of one policy's row."""


class Picture:
    """A picture to be drawn into a file. Raises PictureError at once if that cannot be done, before the long work."""

    def __init__(self, file: Path) -> None:
        if file.suffix.lower() != ".svg":
            raise PictureError(f"The picture is an SVG: '{file}' should end in .svg.")
        if not file.parent.is_dir():
            raise PictureError(f"No folder '{file.parent}' for the picture. Make it first.")
        try:
            import altair
            import vl_convert
        except ImportError as missing:
            raise PictureError(
                f"A picture needs Altair, and '{missing.name}' is missing. Install it: pip install 'knowngood[pictures]'"
            ) from missing
        self._file, self._alt, self._convert = file, altair, vl_convert

    def of(self, answer: shapes.RehearseAnswer) -> Path:
        """Draws it, and says where."""
        money, first = answer.currency, answer.policies[0].policy
        panels = [
            self._panel(answer, "net", f"{money} a unit", marks=[answer.parted_at_once, answer.if_known.mean]),
            self._panel(answer, "behind", f"{money} a unit, less {first}", marks=[0.0]),
            self._panel(answer, "minutes", "hands-on minutes a unit"),
            self._panel(answer, "brought_back", "share brought back"),
        ]
        past = ", ".join(answer.past) or "unknown"
        title = self._alt.TitleParams(
            f"{answer.units} units drawn from {answer.map}, past {past}",
            subtitle=f"Seed {answer.seed}. Bars are 95 % intervals. Dashed: parted out on arrival, and if all were known.",
            anchor="start",
        )
        chart = self._alt.hconcat(*panels, spacing=12).properties(title=title)
        self._file.write_text(self._convert.vegalite_to_svg(chart.to_dict()), encoding="utf-8")
        return self._file

    def _panel(self, answer: shapes.RehearseAnswer, key: str, title: str, marks: list[float] | None = None) -> Any:
        """Dots with whiskers, a row for each policy; the names stand at the first panel only."""
        alt = self._alt
        found = [(one.policy, getattr(one, key)) for one in answer.policies]
        rows = [{"policy": name, **interval.model_dump()} for name, interval in found if interval is not None]
        names = [one.policy for one in answer.policies]
        axis = alt.Axis(title=None, labelLimit=200) if key == "net" else None
        place = alt.Y("policy:N", sort=names, scale=alt.Scale(domain=names), axis=axis)
        data = alt.Data(values=rows)
        scale = alt.Scale(zero=False, nice=True)
        dots = alt.Chart(data).mark_point(filled=True, color="black", size=50)
        whiskers = alt.Chart(data).mark_rule(color="black")
        rules = alt.Chart(alt.Data(values=[{"at": mark} for mark in marks or []])).mark_rule(strokeDash=[4, 3])
        layers = [
            rules.encode(x=alt.X("at:Q", scale=scale)),
            whiskers.encode(x=alt.X("low:Q", title=title, scale=scale), x2="high:Q", y=place),
            dots.encode(x=alt.X("mean:Q", title=title, scale=scale), y=place),
        ]
        return alt.layer(*layers[0 if marks else 1 :]).properties(width=WIDTH, height=ROW * len(names))
