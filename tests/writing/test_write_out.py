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


def test_with_footage_there_are_stills_and_on_request_a_chaptered_copy(tmp_path):
    from .test_stills import film

    clip, episode = film(tmp_path / "clip.mp4", "testsrc=s=320x180:r=10", seconds=40), rich_episode()
    for i, step in enumerate(episode.steps):
        step.start, step.end = float(i), i + 1.0
    for i, chapter in enumerate(episode.chapters):
        chapter.start = i * 12.0
    episode.duration, out = 40.0, tmp_path / "out"
    written = write_out(out, episode, rich_words(), [clip], WritingSettings(embed=True, most_stills=4))
    assert "chaptered.mp4" in [f.name for f in written]
    stills = list((out / "stills").iterdir())
    assert 1 <= len(stills) <= 4 and (out / "stills").stat().st_mode & 0o055 == 0o055
    page = (out / "guide.html").read_text("utf-8")
    assert all(f'src="stills/{still.name}"' in page for still in stills)
    write_out(out, episode, rich_words(), [], WritingSettings())
    assert not (out / "stills").exists() and "<img" not in (out / "guide.html").read_text("utf-8")
