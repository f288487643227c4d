"""Imports run one way through the rooms, read from the source rather than from what happens to be loaded."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE_ROOTS = {"plumbend": ROOT / "solver", "plumbend_cli": ROOT / "cli"}
ROOMS = (
    "records", "progress", "errors", "notices", "units", "typed", "frames", "tubing", "shop", "estimate", "measuring",
    "shape", "ends", "making", "job", "survey",
    "asking", "why", "fitting", "fit_report", "holding", "blaming", "reordering", "choosing",
    "neighbourhood", "joining", "cut_ends", "cutting", "end_reports", "finishing", "solving", "advice",
)  # fmt: skip
SOLVER_MAY_USE = {"numpy", "scipy", "pydantic", "pydantic_core", "tomlkit"}
CLI_MAY_USE = {"numpy", "typer", "rich", "reportlab", "ezdxf"}


def module_files() -> dict[str, Path]:
    """Every module of both packages by its dotted name."""
    found = {}
    for package, root in SOURCE_ROOTS.items():
        for file in sorted((root / package).rglob("*.py")):
            parts = file.relative_to(root).with_suffix("").parts
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = file
    return found


MODULES = module_files()
TREES = {name: ast.parse(file.read_text(encoding="utf-8")) for name, file in MODULES.items()}
SOLVER = sorted(name for name in MODULES if name.startswith("plumbend."))
PACKAGES = {name for name in MODULES if any(other.startswith(f"{name}.") for other in MODULES)}
CLI = sorted(name for name in MODULES if name.partition(".")[0] == "plumbend_cli")


def imports_of(module: str) -> Iterator[str]:
    """Dotted names of what a module imports, anywhere in it; ``from a import b`` is a.b where that is one."""
    for node in ast.walk(TREES[module]):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module} imports relatively, in line {node.lineno}"
            assert node.module is not None
            for alias in node.names:
                below = f"{node.module}.{alias.name}"
                yield below if below in MODULES else node.module


def room_of(module: str) -> str:
    return module.split(".")[1]


def third_party(module: str) -> set[str]:
    tops = {name.partition(".")[0] for name in imports_of(module)}
    return tops - set(sys.stdlib_module_names) - set(SOURCE_ROOTS)


def test_every_module_stands_in_a_room() -> None:
    assert {room_of(module) for module in SOLVER} <= set(ROOMS)


def test_the_guide_shows_the_way_to_every_module() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    map_, _, _ = guide.partition("## The rooms")[2].partition("\n## ")
    rows, _, inside = map_.partition("Inside each room")
    rooms = re.findall(r"`(\w+)(?:\.py|/)`", "".join(line.split("|")[1] for line in rows.splitlines() if "| `" in line))
    assert sorted(rooms) == sorted(ROOMS)
    assert [ROOMS.index(room) for room in rooms] == list(range(len(ROOMS)))
    named = set(re.findall(r"`(\w+)`", inside))
    within = [name for name in MODULES if name not in PACKAGES and (name.count(".") > 1 or name in CLI)]
    assert {name.rpartition(".")[2] for name in within} == named


@pytest.mark.parametrize("module", SOLVER)
def test_a_room_imports_only_from_rooms_before_it(module: str) -> None:
    own = ROOMS.index(room_of(module))
    for name in imports_of(module):
        assert name not in SOURCE_ROOTS, f"{module} goes through the public surface; name the module"
        assert not name.startswith("plumbend_cli"), f"{module} knows the command line"
        if name.startswith("plumbend."):
            assert ROOMS.index(room_of(name)) <= own, f"{module} imports {name}, from a later room"


def test_no_module_imports_itself_in_a_ring() -> None:
    graph = {module: set(imports_of(module)) & set(MODULES) for module in (*SOLVER, *CLI)}
    assert len(tuple(TopologicalSorter(graph).static_order())) >= len(graph)


@pytest.mark.parametrize("module", SOLVER)
def test_solver_uses_numbers_and_pydantic_alone(module: str) -> None:
    assert third_party(module) <= SOLVER_MAY_USE


@pytest.mark.parametrize("module", CLI)
def test_program_uses_the_library_and_its_own_toolkits(module: str) -> None:
    assert third_party(module) <= CLI_MAY_USE


@pytest.mark.parametrize("module", SOLVER)
def test_solver_never_prints_and_reads_files_only_in_job(module: str) -> None:
    forbidden = {"print", "input", "exit"} | (set() if room_of(module) == "job" else {"open"})
    called = {
        node.func.id
        for node in ast.walk(TREES[module])
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & forbidden
    touched = {name.partition(".")[0] for name in imports_of(module)}
    assert not touched & ({"sys", "os", "io", "pathlib"} if room_of(module) != "job" else {"sys"})


def test_the_readers_of_imports_see_what_they_must(monkeypatch: pytest.MonkeyPatch) -> None:
    source = (
        "from plumbend.units import Units\ndef late():\n    from plumbend import frames\n    import scipy.optimize\n"
    )
    monkeypatch.setitem(TREES, "plumbend.errors", ast.parse(source))
    assert set(imports_of("plumbend.errors")) == {"plumbend.frames", "scipy.optimize", "plumbend.units"}
    assert third_party("plumbend.errors") == {"scipy"}
    with pytest.raises(AssertionError, match="from a later room"):
        test_a_room_imports_only_from_rooms_before_it("plumbend.errors")
