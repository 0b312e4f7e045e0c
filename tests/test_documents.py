"""The documents are true: their commands exist, and every command is documented."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import click
import pytest
import typer

from voicelog.cli import app

ROOT = Path(__file__).resolve().parent.parent


def commands() -> set[str]:
    """Every command of the command line, as typed: "card add"."""

    def walk(group: click.Group, before: str) -> set[str]:
        found = set()
        for name, command in group.commands.items():
            if hasattr(command, "commands"):
                found |= walk(command, f"{before}{name} ")
            else:
                found.add(f"{before}{name}")
        return found

    return walk(typer.main.get_command(app), "")  # type: ignore[arg-type]


def documented() -> set[str]:
    table = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("<!-- commands -->")[2]
    rows = re.findall(r"^\| `voicelog ([^`]+)`", table.partition("\n\n")[0], re.MULTILINE)
    found = set()
    for row in rows:
        words = [word for word in row.split() if re.fullmatch(r"[a-z|]+", word)]
        for last in words[-1].split("|"):
            found.add(" ".join((*words[:-1], last)))
    return found


def test_the_list_of_commands_is_complete() -> None:
    assert documented() == commands()


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_commands_in_the_documents_exist(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    known = commands() | {name.split()[0] for name in commands()}
    for line in re.findall(r"voicelog ((?:[a-z]+ )?[a-z]+)(?=[ `\n])", text):
        first = line.split()[0]
        if first in {name.split()[0] for name in known}:
            group = {name for name in known if name.startswith(f"{first} ")}
            assert not group or line in group or line == first, f"{document}: voicelog {line}"


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_files_in_the_documents_exist(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    for name in re.findall(r"`((?:voicelog|models_config|tests|sample_audio)/[\w./]*)`", text):
        assert (ROOT / name).exists(), f"{document} names {name}"


def test_ci_calls_the_command_that_the_readme_gives() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    block = re.search(r"^<!-- test -->\n```\n(python3 .*)\n```$", readme, re.MULTILINE)
    assert block
    assert "-m tests" in block[1]
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    line = re.search(r"^command=\$\((.*)\)$", script, re.MULTILINE)
    assert line
    found = subprocess.run(
        ["bash", "-c", line[1]], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert found.stdout.strip() == block[1]
