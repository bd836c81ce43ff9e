"""The README against the program."""

import json
import re

import tomllib
from tests.conftest import ROOT, sideplate

from pipeline import corrections
from pipeline.glossary import read_glossary

README = (ROOT / "README.md").read_text("utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.M | re.S)


def test_every_command_is_one():
    known = set(re.findall(r"^  ([a-z]+) ", sideplate("--help").stdout.split("Commands:")[1], re.M))
    tour = blocks("console")[0]
    assert set(re.findall(r"sideplate ([a-z]+)", tour)) == known - {"demo"}
    for verb in set(re.findall(r"sideplate questions ([a-z]+)", tour)):
        assert sideplate("questions", verb, "--help").returncode == 0


def test_every_example_of_a_correction_is_right(tmp_path):
    (tmp_path / "corrections.json").write_text(blocks("json")[0])
    assert len(corrections.load(tmp_path / "corrections.json")) == len(json.loads(blocks("json")[0]))
    told = re.search(r"`about` is one of ([a-z, ]+)\.", README)[1]
    assert tuple(told.split(", ")) == corrections.KINDS


def test_the_example_of_a_glossary_is_right(tmp_path):
    (tmp_path / "glossary.toml").write_text(blocks("toml")[0])
    assert read_glossary(tmp_path / "glossary.toml").models == (("Brindock", "Tamsel 12"),) and tomllib.loads(blocks("toml")[0])


def test_the_two_commands_come_first():
    first, second, *_ = blocks("sh")
    assert first.strip().endswith("sideplate demo") and second.strip().endswith("pytest") and "\n" not in first.strip() + second.strip()
