"""Imports run one way, and each heavy library has one owner."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent / "voicelog"

ORDER = (
    "errors", "heard", "objects", "wire", "config", "units", "phonetics", "alignment", "cards",
    "limits", "entry", "speech", "reading", "mapping", "slips", "doubt", "pipeline", "records",
    "export", "work", "watch", "cluster", "bench", "web", "cli",
)  # fmt: skip
"""A room imports only from rooms that stand before it (mapping and doubt know each other)."""

OWNERS = {
    "faster_whisper": "speech",
    "ctranslate2": "speech",
    "av": "speech",
    "spacy": "reading",
    "jellyfish": "phonetics",
    "pint": "units",
    "ruamel": "cards",
    "sqlite_utils": "records",
    "argon2": "records",
    "xlsxwriter": "export",
    "reportlab": "export",
    "dask": "cluster",
    "distributed": "cluster",
    "starlette": "web",
    "uvicorn": "web",
    "jinja2": "web",
    "typer": "cli",
}

MODULES = sorted(ROOT.rglob("*.py"))


def room(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imports(path: Path, *, at_import: bool) -> set[str]:
    """Dotted names that `path` imports; with `at_import`, only those run by importing it."""
    found: set[str] = set()
    todo: list[ast.AST] = [ast.parse(path.read_text(encoding="utf-8"))]
    while todo:
        node = todo.pop()
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            if not at_import:
                todo += node.body
            todo += node.orelse
            continue
        if at_import and isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            continue
        todo += ast.iter_child_nodes(node)
    return found


def rooms_used(path: Path) -> set[str]:
    return {
        name.split(".")[1]
        for name in imports(path, at_import=False)
        if name.startswith("voicelog.") and name.split(".")[1] in ORDER
    }


def test_every_room_has_its_place_in_the_order() -> None:
    assert {room(path) for path in MODULES} - {"__init__"} <= set(ORDER)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_one_way(path: Path) -> None:
    own = room(path)
    if own == "__init__":
        return
    allowed = set(ORDER[: ORDER.index(own) + 1]) | ({"doubt"} if own == "mapping" else set())
    assert rooms_used(path) <= allowed


def test_rooms_that_know_each_other_have_no_cycle() -> None:
    files = {
        ".".join(("voicelog", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(
            ".__init__"
        ): path
        for path in MODULES
    }
    graph = {name: imports(path, at_import=True) & set(files) for name, path in files.items()}

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join((*trail, name))
        for other in sorted(graph[name]):
            # `from voicelog.cli import notes` names the package, too; its own file is no cycle
            if other != name and not name.startswith(f"{other}."):
                visit(other, (*trail, name))

    for name in graph:
        visit(name, ())


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_heavy_library_has_one_owner(path: Path) -> None:
    for name in {name.split(".")[0] for name in imports(path, at_import=False)} & set(OWNERS):
        assert room(path) in (OWNERS[name], "bench"), f"{path.name} imports {name}"


def test_help_imports_no_heavy_library() -> None:
    code = (
        "import sys\n"
        "from voicelog.cli import app\n"
        "try: app(['--help'])\n"
        "except SystemExit: pass\n"
        f"print(sorted(set(sys.modules) & {set(OWNERS) - {'typer'}!r}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.splitlines()[-1] == "[]"
