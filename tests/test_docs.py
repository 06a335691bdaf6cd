"""The generated pages are current, and every link of the first page leads somewhere."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

DOCS = Path("docs")


@pytest.mark.parametrize("name", ["map.schema.json", "kind.schema.json", "json.md"])
def test_generated_pages_are_current(name: str) -> None:
    spec = importlib.util.spec_from_file_location("generate", DOCS / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    generate = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(generate)
    assert generate.PAGES[name]() == (DOCS / name).read_text(encoding="utf-8"), "run: make docs"


def test_links_of_the_first_page_lead_somewhere() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", Path("README.md").read_text(encoding="utf-8")):
        assert Path(target).exists(), target
