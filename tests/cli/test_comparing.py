"""``knowngood rehearse``: what it prints, the picture, and what it refuses before the long work."""

from __future__ import annotations

import sys
from pathlib import Path
from xml.etree import ElementTree as xml

import pytest
from running import Run
from typer.testing import CliRunner, Result

from knowngood.cli import shapes
from knowngood.cli.main import app
from knowngood.plan.policies import POLICIES

LAMP = """
map: lamp
what: Lamp
power: mains
unknown: 5 %
worth: {working: EUR 90, as_is: EUR 15, parts: EUR 2}
parts:
  bulb: {what: Bulb, kind: button, base: 40 %}
functions:
  lights:
    what: it lights
    needs: [bulb]
    wanted: true
    tried: {do: "Switch it on", minutes: 1 min, power: mains, closed: true}
stores_data: false
"""


@pytest.fixture
def rehearse(tmp_path: Path) -> Run:
    file = tmp_path / "lamp.yaml"
    file.write_text(LAMP, encoding="utf-8")

    def call(*words: str) -> Result:
        given = ["rehearse", str(file), "--seed", "1", "--workers", "1", "--home", str(tmp_path / "home"), *words]
        return CliRunner().invoke(app, given)

    return call


def test_every_policy_has_its_figures_with_intervals(rehearse: Run) -> None:
    done = rehearse("--units", "12")
    assert done.exit_code == 0, done.output
    assert done.stderr.splitlines()[-1] == "12 of 12 units"
    assert "12 units drawn from lamp, seed 1, past unknown" in done.stdout
    for name in POLICIES:
        lines = [line for line in done.stdout.splitlines() if line.startswith(name)]
        assert len(lines) == 3, name
        assert lines[0].count(" to ") == (1 if name == "planner" else 2)
    found = shapes.RehearseAnswer.model_validate_json(rehearse("--units", "12", "--json").stdout)
    planner, *others = found.policies
    assert planner.net.low is not None
    assert planner.net.low < planner.net.mean <= found.if_known.mean
    assert all(one.behind and one.behind.mean == pytest.approx(one.net.mean - planner.net.mean) for one in others)
    assert [len(one.jobs) for one in found.drawn] == [len(POLICIES)] * 12


def test_one_unit_has_no_interval(rehearse: Run) -> None:
    found = rehearse("--units", "1", "--policy", "fixed checklist", "--json").stdout
    net = shapes.RehearseAnswer.model_validate_json(found).policies[0].net
    assert (net.low, net.high) == (None, None)


def test_the_picture_has_a_dot_for_every_figure(rehearse: Run, tmp_path: Path) -> None:
    file = tmp_path / "drawn.svg"
    done = rehearse("--units", "4", "--policy", "planner", "--policy", "cheapest first", "--picture", str(file))
    assert f"Picture: {file}" in done.stdout.replace("\n", "")
    svg = xml.parse(file).getroot()
    name = "{http://www.w3.org/2000/svg}"
    dots = svg.findall(f"{name}circle")
    assert len(dots) == 2 * 4 - 1  # four figures each, and the first has no difference from itself
    width = float(svg.get("width", "0"))
    assert all(0 < float(dot.get("cx", "nan")) < width for dot in dots)
    assert {"planner", "cheapest first"} <= {text.text for text in svg.findall(f"{name}text")}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--policy", "cheapest"), "No policy 'cheapest'. Similar: 'cheapest first'."),
        (("--picture", "drawn.png"), "The picture is an SVG: 'drawn.png' should end in .svg."),
        (("--picture", "nowhere/drawn.svg"), "There is no folder 'nowhere' for the picture. Make it first."),
    ],
)
def test_what_cannot_be_is_said_before_the_long_work(rehearse: Run, words: tuple[str, ...], message: str) -> None:
    done = rehearse(*words)
    assert done.exit_code == 2
    assert done.stderr.strip() == message


def test_a_cluster_without_dask_says_what_to_install(rehearse: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = rehearse("--dask", "tcp://192.0.2.7:8786")
    assert done.exit_code == 2
    assert "Install it: pip install 'knowngood[cluster]'" in done.stderr
