"""The generated pages are current, what the pages show works, and every link of the first page leads somewhere."""

from __future__ import annotations

import importlib.util
import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess
from types import ModuleType
from typing import Any

import jsonschema
import pytest
import typer
from PIL import Image
from typer.testing import CliRunner

from knowngood.cli import shapes
from knowngood.cli.main import app
from knowngood.maps import load_text
from knowngood.maps.check import check
from knowngood.maps.kinds import LIBRARY, shipped_maps
from knowngood.maps.read import read_file, read_text

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
MAPS = ROOT / "tests" / "maps"
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", ROOT / "ARCHITECTURE.md", *sorted(DOCS.glob("*.md"))]
PLACEHOLDERS = {"FILE": "desk-fan.yaml", "COMMAND": "log"}
"""Words of the pages that stand for the reader's own."""
NEEDED = {
    "logging.md": (
        "knowngood unit new --map ceiling-projector --paid 'EUR 30'",
        "knowngood unit new --map ceiling-projector --paid 'EUR 5' --donor",
        "knowngood log U1 'dried unit'",
    )
}
"""Commands that go before those of a page which speaks of a unit that is there."""
BEFORE = {
    ("arrived",): ("knowngood log U1 'ordered exhaust-fan new from northparts for EUR 8'",),
    ("film",): ("knowngood log U1 'clapped at 00:00:05 of bench-1.mp4'",),
}
"""Commands that go before the example of a command which takes something that is there."""
SMALL_MAP = re.search(r"```yaml\n(.*?)```", (DOCS / "maps.md").read_text(encoding="utf-8"), re.DOTALL)


Bench = Callable[[str], str]


def module_of(path: Path) -> ModuleType:
    """A program that is in no package."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def generate() -> ModuleType:
    return module_of(DOCS / "generate.py")


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Runs a command as written, on an empty store and in a folder with the small map of the page on maps."""
    assert SMALL_MAP is not None
    monkeypatch.chdir(tmp_path)
    for name in ("desk-fan.yaml", "my-radio.yaml"):
        Path(name).write_text(SMALL_MAP[1], encoding="utf-8")
    Image.new("RGB", (8, 8)).save("fan.png")

    def run(command: str) -> str:
        words = [PLACEHOLDERS.get(word, word) for word in shlex.split(command)[1:]]
        done = CliRunner().invoke(app, words, env={"KNOWNGOOD_HOME": str(tmp_path / "home")})
        assert done.exit_code == 0, f"{command}\n{done.output}"
        return done.stdout

    return run


def test_generated_pages_are_current(generate: ModuleType) -> None:
    pages = {"map.schema.json", "kind.schema.json", "maps.md", "commands.md", "json.md", "handbook.md"}
    assert set(generate.PAGES) == pages
    assert generate.write(check=True) == [], "run: make docs"


def test_writing_makes_stale_pages_current_and_checking_writes_nothing(
    generate: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(generate, "HERE", tmp_path)
    monkeypatch.setattr(generate, "PAGES", {"old.md": lambda: "new\n", "none.md": lambda: "", "same.md": lambda: "a\n"})
    (tmp_path / "old.md").write_text("old\n", encoding="utf-8")
    (tmp_path / "same.md").write_text("a\n", encoding="utf-8")
    assert generate.write(check=True) == ["old.md", "none.md"]
    assert (tmp_path / "old.md").read_text(encoding="utf-8") == "old\n"
    assert generate.write() == ["old.md", "none.md"]
    assert generate.write(check=True) == []


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


@pytest.mark.parametrize("name", ["maps.md", "first-unit.md", "second-unit.md"])
def test_links_of_a_page_lead_somewhere(name: str) -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", (DOCS / name).read_text(encoding="utf-8")):
        assert (DOCS / target).exists(), target


def test_the_pictures_are_small() -> None:
    assert sum(one.stat().st_size for one in (DOCS / "pictures").glob("*.png")) < 3_000_000


# --- commands and answers ---


ENDLESS = {("serve",), ("password",)}
"""Commands that make a process the server's own, or set it up as that; the tests of the pages run them."""


def test_the_help_of_every_command_has_an_example_that_calls_it(generate: ModuleType) -> None:
    paths = list(generate.commands(typer.main.get_command(app)))
    assert len(paths) >= 15
    for path in paths:
        assert shlex.split(example(generate, path))[1 : len(path) + 1] == list(path)


def test_the_examples_of_the_help_work(generate: ModuleType, bench: Bench) -> None:
    bench('knowngood unit new --map ceiling-projector --paid "EUR 30"')
    for path in generate.commands(typer.main.get_command(app)):
        for command in BEFORE.get(path, ()):
            bench(command)
        if path not in ENDLESS:
            bench(example(generate, path))


def example(generate: ModuleType, path: tuple[str, ...]) -> str:
    """The example in a command's help."""
    found = re.search(r"Example: (knowngood .*?) (?:Arguments|Options):", " ".join(generate.help_of(path).split()))
    assert found is not None, path
    return found[1]


def test_commands_are_found_in_blocks_and_in_text() -> None:
    page = (
        "knowngood is text. Try `knowngood show U1`, see `knowngood unit new`.\n\n    $ knowngood stock\n    Nothing\n"
        "\n    on it\n\n    $ knowngood map list --json\n\n```\nknowngood undo U1\n$ knowngood redo U1\nDone\n```\n"
    )
    assert shown(page) == [
        ("knowngood show U1", ""),
        ("knowngood stock", "Nothing\n\non it"),
        ("knowngood map list --json", ""),
        ("knowngood undo U1", ""),
        ("knowngood redo U1", "Done"),
    ]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_the_commands_that_a_page_shows_work_as_shown(page: Path, bench: Bench) -> None:
    for command in NEEDED.get(page.name, ()):
        bench(command)
    for command, output in shown(page.read_text(encoding="utf-8")):
        said = bench(command)
        if output:
            assert "\n".join(line.rstrip() for line in said.splitlines()) == output, command


def test_pages_show_commands() -> None:
    count = {page.name: len(shown(page.read_text(encoding="utf-8"))) for page in PAGES}
    assert count["README.md"] >= 4
    assert count["maps.md"] >= 2
    assert count["CONTRIBUTING.md"] >= 2
    assert count["logging.md"] >= 1


@pytest.mark.parametrize("name", ["fallen-projector", "drowned-navigator"])
def test_the_demo_runs(
    name: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The program of ``make demo``, its commands called in this process: to start each anew takes a minute."""
    demo = module_of(ROOT / "examples" / "demo.py")
    said = []

    def run(words: list[str], **given: Any) -> CompletedProcess[str]:
        start = len(demo.KNOWNGOOD)
        assert words[:start] == demo.KNOWNGOOD
        done = CliRunner().invoke(app, words[start:], input=given["input"])
        said.append(done.output)
        return CompletedProcess(words, done.exit_code, done.output)

    monkeypatch.setattr(demo.subprocess, "run", run)
    monkeypatch.setenv("KNOWNGOOD_DEMO_HOME", str(tmp_path / "demo"))
    monkeypatch.setenv("KNOWNGOOD_HOME", "set by the demo")
    demo.main(name)
    assert len(said) == capsys.readouterr().out.count("$ knowngood") > 20
    assert "sold working" in said[-1]


def shown(page: str) -> list[tuple[str, str]]:
    """The commands on a page in their order, each with the output that stands below it ("" where none does).

    They stand in fenced or indented blocks, or in the text; in the text the bare name of a command is no command.
    """
    commands = module_of(DOCS / "generate.py").commands(typer.main.get_command(app))
    names = {" ".join(("knowngood", *path)) for path in commands}
    found: list[tuple[str, list[str]]] = []
    fenced, below = False, None
    for line in page.splitlines():
        if line.startswith("```"):
            fenced, below = not fenced, None
        elif fenced or line.startswith("    ") or (below is not None and not line):
            code = line if fenced else line.removeprefix("    ")
            if call := re.match(r"(?:\$ )?(knowngood [a-z].*)", code):
                below = []
                found.append((call[1], below))
            elif below is not None:
                below.append(code)
        else:
            below = None
            found += [(one, []) for one in re.findall(r"`(knowngood [^`]+)`", line) if one not in names]
    return [(command, "\n".join(output).strip("\n")) for command, output in found]


def test_every_answer_is_documented_with_all_its_keys(generate: ModuleType) -> None:
    sections = re.split(r"^##+ ", generate.json_page(), flags=re.MULTILINE)[1:]
    by_title = {section.partition("\n")[0]: section for section in sections}
    assert len(by_title) == len(sections), "two sections have one title"
    for shape in shapes.ANSWERS:
        keys = re.findall(r"^\| `(\w+)` \|", by_title[shape.__doc__], re.MULTILINE)
        assert keys == list(shape.model_fields)


def test_every_key_of_every_answer_is_described(generate: ModuleType) -> None:
    assert wordless_keys(generate.json_page()) == []


def test_a_key_without_words_is_found() -> None:
    page = "## A\n\n| `a` | text |  |\n| `b` | number | Minutes |\n### B\n| `c` | text | . |\n"
    assert wordless_keys(page) == ["A: a", "B: c"]


def wordless_keys(page: str) -> list[str]:
    """The keys of a page of answers that nothing is said of, each with the heading it stands under."""
    found, heading = [], ""
    for line in page.splitlines():
        if line.startswith("#"):
            heading = line.lstrip("# ")
        row = re.match(r"\| `(\w+)` \|[^|]*\|(.*)\|$", line)
        if row and not re.search(r"\w", row[2]):
            found.append(f"{heading}: {row[1]}")
    return found


def test_every_table_inside_an_answer_is_explained_once(generate: ModuleType) -> None:
    page = generate.json_page()
    defined = {name for shape in shapes.ANSWERS for name in shape.model_json_schema().get("$defs", {})}
    assert sorted(re.findall(r"^### (\w+)$", page, re.MULTILINE)) == sorted(defined)


def test_every_answer_that_a_command_gives_is_listed() -> None:
    """All shapes are answers or stand inside one."""
    inside = {name for shape in shapes.ANSWERS for name in shape.model_json_schema().get("$defs", {})}
    assert {shape.__name__ for shape in shapes.Shape.__subclasses__()} - inside == {
        shape.__name__ for shape in shapes.ANSWERS
    }


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
