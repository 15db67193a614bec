"""Every command, option, exit code, decision and network file is in the documents."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

from ui import cli, pair_words
from ui.inputs import PHOTO_SUFFIXES
from vision.errors import PHOTO_KINDS
from vision.pinouts import pinouts

ROOT = Path(cli.__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
EVERYWHERE = {"--help", "--version", "--debug"}


def commands(group, path="dotward"):
    """Give every command as it is typed, with its options."""
    for name, command in group.commands.items():
        typed = f"{path} {name}"
        if hasattr(command, "commands"):
            yield from commands(command, typed)
        else:
            options = {
                option
                for parameter in command.params
                for option in parameter.opts
                if option.startswith("--")
            }
            yield typed, options


COMMANDS = dict(commands(typer.main.get_command(cli.app)))


def section(typed):
    """Give the part of README under the heading that names a command."""
    found = re.search(
        rf"^###? `{re.escape(typed)}\b.*?(?=^##)", README, re.MULTILINE | re.DOTALL
    )
    return found.group(0) if found else ""


def test_the_main_commands_exist():
    assert {"dotward look", "dotward compare", "dotward demo"} <= COMMANDS.keys()


@pytest.mark.parametrize("typed", COMMANDS)
def test_a_command_is_in_readme(typed):
    assert f"`{typed}" in README


@pytest.mark.parametrize("typed", ["dotward look", "dotward compare", "dotward demo"])
def test_every_option_is_in_the_section_of_its_command(typed):
    documented = set(re.findall(r"--[a-z]+", section(typed)))
    assert COMMANDS[typed] - EVERYWHERE == documented - EVERYWHERE


@pytest.mark.parametrize("option", sorted(EVERYWHERE))
def test_options_of_every_command_are_in_readme(option):
    assert f"`{option}`" in README


@pytest.mark.parametrize("code", list(cli.Exit))
def test_every_exit_code_is_in_readme(code):
    assert re.search(rf"^\| {int(code)} \| \w+", README, re.MULTILINE)


@pytest.mark.parametrize("word", pair_words.DECISION_WORDS.values())
def test_every_decision_is_in_readme(word):
    assert re.search(rf"^\| {word} \|", README, re.MULTILINE)


@pytest.mark.parametrize("suffix", sorted(PHOTO_SUFFIXES))
def test_every_kind_of_photo_is_in_readme_and_in_messages(suffix):
    name = {".jpg": "jpeg", ".tif": "tiff", ".heif": "heic"}.get(suffix, suffix[1:])
    assert name in README.lower()
    assert name in PHOTO_KINDS.lower()


def test_the_pinouts_named_in_readme_exist():
    row = next(line for line in README.splitlines() if "--pinout NAME" in line)
    named = set(re.findall(r"`([\w-]+)`", row)) - {"--pinout"}
    assert named
    assert named <= set(pinouts())


def test_each_quick_start_line_stands_alone():
    starts = re.findall(r"`((?:python3|py) -m venv [^`]+)`", README)
    assert len(starts) == 4
    for line in starts:
        assert line.count("&&") == 2
        assert "pip install" in line
        assert line.endswith(("dotward demo", "pytest"))


FOLDERS = re.findall(r"^    ([a-z_]+/)  ", DEVELOPERS, re.MULTILINE)


@pytest.mark.parametrize("path", FOLDERS)
def test_every_folder_on_the_map_exists(path):
    assert (ROOT / path).is_dir()


def test_the_documents_name_nothing_outside_the_project():
    for text in (README, DEVELOPERS):
        assert not re.search(r"(?<![\w.])/(work|tmp|home)/", text)
