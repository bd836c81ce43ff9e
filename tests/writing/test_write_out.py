"""The whole set, written from the rich record."""

import json

from pipeline.record import Episode
from pipeline.writing import WritingSettings, write_out

from .rich import rich_episode, rich_words


def test_every_file_is_written_and_the_record_reads_back(tmp_path):
    written = write_out(tmp_path, rich_episode(), rich_words(), [], WritingSettings())
    assert {f.name for f in written} >= {"guide.html", "guide.pdf", "episode.json", "captions.srt", "chapters.xml", "questions.md"}
    assert all(f.is_file() and f.stat().st_size for f in written)
    assert Episode.model_validate_json((tmp_path / "episode.json").read_text("utf-8")) == rich_episode()
    assert list(json.loads((tmp_path / "episode.json").read_text("utf-8")))[0] == "schema"
    assert not [f for f in tmp_path.iterdir() if f.name.startswith(".")]


def test_written_again_the_files_are_the_same(tmp_path):
    first = {f.name: f.read_bytes() for f in write_out(tmp_path, rich_episode(), rich_words(), [], WritingSettings())}
    again = {f.name: f.read_bytes() for f in write_out(tmp_path, rich_episode(), rich_words(), [], WritingSettings())}
    assert [name for name in first if first[name] != again[name]] == []


def test_an_empty_record_still_makes_every_file(tmp_path):
    from pipeline.mending import Mended

    empty = Episode(id="nothing", title="", duration=0.0)
    written = write_out(tmp_path, empty, Mended(sentences=[], words=[], spans=[]), [], WritingSettings())
    assert all(f.is_file() for f in written)
