"""The generated pages are current, what the pages show works, and every link of the first page leads somewhere."""

from __future__ import annotations

import importlib.util
import json
import re
from pathlib import Path
from types import ModuleType
from typing import Any

import jsonschema
import pytest

from knowngood.maps import load_text
from knowngood.maps.check import check
from knowngood.maps.kinds import LIBRARY, shipped_maps
from knowngood.maps.read import read_file, read_text

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
MAPS = ROOT / "tests" / "maps"
SMALL_MAP = re.search(r"```yaml\n(.*?)```", (DOCS / "maps.md").read_text(encoding="utf-8"), re.DOTALL)


@pytest.fixture(scope="module")
def generate() -> ModuleType:
    spec = importlib.util.spec_from_file_location("generate", DOCS / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", ["map.schema.json", "kind.schema.json", "json.md", "maps.md"])
def test_generated_pages_are_current(generate: ModuleType, name: str) -> None:
    assert generate.PAGES[name]() == (DOCS / name).read_text(encoding="utf-8"), "run: make docs"


def test_a_page_without_the_marks_of_its_tables_is_an_error(
    generate: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "maps.md").write_text("# Maps\n", encoding="utf-8")
    monkeypatch.setattr(generate, "HERE", tmp_path)
    with pytest.raises(ValueError, match="has 0 places for 'words', not one"):
        generate.map_page()


def test_links_of_the_first_page_lead_somewhere() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", (ROOT / "README.md").read_text(encoding="utf-8")):
        assert (ROOT / target).exists(), target


def test_links_of_the_page_on_maps_lead_somewhere() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", (DOCS / "maps.md").read_text(encoding="utf-8")):
        assert (DOCS / target).exists(), target


# --- the page on maps ---


def test_the_small_map_of_the_page_is_right_and_has_the_tests_that_the_page_names() -> None:
    assert SMALL_MAP is not None
    document = read_text(SMALL_MAP[1], "maps.md")
    assert check(document) is not None, [str(one) for one in document.findings]
    device = load_text(SMALL_MAP[1], "maps.md")
    assert {"fan.flick", "rail-12v", "rail-12v-to-ground", "blows", "shake"} <= set(device.tests)


def test_the_changes_to_a_kind_that_the_page_shows_are_right() -> None:
    assert SMALL_MAP is not None
    changed = SMALL_MAP[1].replace(
        "kind: fan, ", "kind: fan, base: 8 %, modes: {bearing: {ratio: 0.5}, stalls: null}, "
    )
    assert changed != SMALL_MAP[1]
    fan = load_text(changed, "maps.md").parts["fan"]
    assert "stalls" not in fan.states
    assert "bearing" in fan.states


def test_every_key_is_described(generate: ModuleType) -> None:
    for table in generate.MAP_TABLES:
        assert table.__doc__
        for name, field in table.model_fields.items():
            assert field.description, f"{table.__name__}.{name}"
    named = set(generate.schema.MapTable.model_json_schema()["$defs"])
    assert named <= {table.__name__ for table in generate.MAP_TABLES}, "a table of a map is not on the page"


# --- the schemas ---


def validator(name: str) -> Any:
    schema = json.loads((DOCS / name).read_text(encoding="utf-8"))
    kind = jsonschema.validators.validator_for(schema, default=jsonschema.Draft202012Validator)
    kind.check_schema(schema)
    return kind(schema)


@pytest.mark.parametrize("path", [MAPS / "right.yaml", *shipped_maps().values()], ids=lambda path: path.stem)
def test_a_right_map_fits_the_schema(path: Path) -> None:
    validator("map.schema.json").validate(read_file(path).data)


@pytest.mark.parametrize("path", sorted((LIBRARY / "kinds").glob("*.yaml")), ids=lambda path: path.stem)
def test_a_file_of_kinds_fits_the_schema(path: Path) -> None:
    validator("kind.schema.json").validate(read_file(path).data)


@pytest.mark.parametrize(
    "name",
    [
        "unknown-key",
        "missing-key",
        "not-a-choice",
        "wrong-form-count",
        "wrong-form-text-for-list",
        "not-a-name-as-value",
    ],
)
def test_a_map_of_the_wrong_shape_does_not_fit_the_schema(name: str) -> None:
    data = read_file(MAPS / "broken" / f"{name}.yaml").data
    assert data is not None
    assert not validator("map.schema.json").is_valid(data)
