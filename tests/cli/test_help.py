"""Help is instant, plain, and shows an example that works."""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import version

import pytest
from typer.testing import CliRunner

from plumbend_cli.main import app

HEAVY = ("numpy", "scipy", "rich", "reportlab", "ezdxf")
COMMANDS = ("solve", "calibrate", "check", "new", "convert", "draw")


@pytest.mark.parametrize(
    ("arguments", "heavy"),
    [
        (["--help"], (*HEAVY, "pydantic")),
        (["--version"], (*HEAVY, "pydantic")),
        # typer itself asks pydantic what the options of a command may be
        (["solve", "--help"], HEAVY),
        (["convert", "--help"], HEAVY),
        (["draw", "--help"], HEAVY),
    ],
)
def test_help_loads_nothing_heavy(arguments: list[str], heavy: tuple[str, ...]) -> None:
    program = (
        "import sys; from plumbend_cli.main import run\n"
        "try: run()\n"
        f"finally: print('loaded:', *sorted(sys.modules.keys() & set({heavy!r})))"
    )
    done = subprocess.run([sys.executable, "-c", program, *arguments], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1].strip() == "loaded:"
    assert done.stderr == ""


def test_every_command_is_in_the_list_and_has_an_example() -> None:
    assert {command.callback.__name__ for command in app.registered_commands if command.callback} == set(COMMANDS)
    for command in COMMANDS:
        shown = CliRunner().invoke(app, [command, "--help"])
        assert shown.exit_code == 0
        assert f"Example: plumbend {command} " in shown.stdout


def test_version_is_the_installed_one() -> None:
    assert CliRunner().invoke(app, ["--version"]).stdout == f"plumbend {version('plumbend')}\n"


def test_no_arguments_show_the_help() -> None:
    shown = CliRunner().invoke(app, [])
    assert shown.exit_code == 2
    assert "Usage: " in shown.output
