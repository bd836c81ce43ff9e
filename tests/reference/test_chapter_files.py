"""Our chapter files, read back by programs that are not ours."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pipeline.record import Chapter, Episode
from pipeline.writing import chapters as ours
from pipeline.writing.plain import clean
from pipeline.writing.settings import ChapterRules, WritingSettings

CHAPTERS = [Chapter(start=0, title="Welcome; what's = what # on <the> bench & why", phase="introduction"),
            Chapter(start=12.5, title="Side plate off --> gears \\ out", phase="disassembly"),
            Chapter(start=31, title="מסרק, حلقة, リール", phase="closing")]
MARKS = ours.published(CHAPTERS, 45.0, ChapterRules())
few = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
marks_lists = st.lists(
    st.tuples(st.floats(0, 40_000, allow_nan=False), st.text(min_size=1, max_size=60)), min_size=1, max_size=30
).map(lambda rows: ours.published([Chapter(start=s, title=t, phase="aside") for s, t in rows], 41_000.0, ChapterRules()))


def needs(program: str):
    return pytest.mark.skipif(shutil.which(program) is None, reason=f"{program} is not installed")


@pytest.fixture(scope="module")
def clip(tmp_path_factory) -> Path:
    """45 seconds of picture and sound, as MP4."""
    path = tmp_path_factory.mktemp("clip") / "clip.mp4"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc2=s=320x180:r=5:d=45", "-f", "lavfi", "-i", "sine=d=45", "-pix_fmt", "yuv420p",
                    "-g", "25", "-shortest", str(path)], check=True)
    return path


def probed(path: Path) -> list[tuple[float, float, str]]:
    out = subprocess.run(["ffprobe", "-v", "error", "-show_chapters", "-of", "json", f"file:{path}"], check=True, capture_output=True).stdout
    return [(float(c["start_time"]), float(c["end_time"]), c["tags"]["title"]) for c in json.loads(out)["chapters"]]


@needs("ffprobe")
@pytest.mark.parametrize("suffix", [".mp4", ".mkv"])
def test_ffprobe_finds_our_chapters_in_the_copy(clip, tmp_path, suffix):
    """ffprobe, of the FFmpeg project: reads the container's own chapters."""
    from pipeline.writing.embed import embed_chapters

    source = clip
    if suffix == ".mkv":
        source = tmp_path / "clip.mkv"
        subprocess.run(["ffmpeg", "-v", "error", "-i", str(clip), "-c", "copy", str(source)], check=True)
    before = source.read_bytes()
    (copy,) = embed_chapters([source], MARKS, tmp_path)
    assert copy.suffix == suffix and source.read_bytes() == before
    for (start, end, title), mark in zip(probed(copy), MARKS, strict=True):
        assert title == mark.title and start == pytest.approx(mark.start, abs=0.002) and end == pytest.approx(mark.end, abs=0.1)

    def streams(path):
        out = subprocess.run(["ffmpeg", "-v", "error", "-i", str(path), "-map", "0:v", "-map", "0:a", "-c", "copy", "-f", "streamhash", "-"],
                             check=True, capture_output=True, text=True).stdout
        return out.splitlines()
    if suffix == ".mp4":
        assert streams(copy) == streams(source)  # not one packet encoded again


@needs("ffprobe")
def test_two_clips_each_get_their_own_part_of_the_chapters(clip, tmp_path):
    from pipeline.writing.embed import embed_chapters

    marks = [ours.Mark(0, 30, "first"), ours.Mark(30, 60, "over the seam"), ours.Mark(60, 90, "last")]
    one, two = embed_chapters([clip, clip], marks, tmp_path)
    assert [t for *_, t in probed(one)] == ["first", "over the seam"]
    assert [(round(s), t) for s, _, t in probed(two)] == [(0, "over the seam"), (15, "last")]


@needs("ffprobe")
@few
@given(marks_lists)
@example([ours.Mark(0.0, 41.0, "\\")])
def test_ffprobe_reads_any_titles_from_our_ffmetadata(tmp_path, marks):
    meta = tmp_path / "m.ffmetadata"
    meta.write_text(ours.ffmetadata(marks), "utf-8")
    out = subprocess.run(["ffprobe", "-v", "error", "-f", "ffmetadata", "-show_chapters", "-of", "json", f"file:{meta}"], check=True, capture_output=True).stdout
    read = [(float(c["start_time"]), c.get("tags", {}).get("title", "")) for c in json.loads(out)["chapters"]]
    assert [t for _, t in read] == [m.title.rstrip("\\ ") for m in marks]  # ffmpeg takes a backslash before the line's end for a line that goes on
    assert [s for s, _ in read] == pytest.approx([m.start for m in marks], abs=0.001)


@needs("mkvmerge")
@few
@given(marks_lists)
def test_mkvmerge_takes_our_matroska_xml(tmp_path, marks):
    """mkvmerge and mkvextract, of MKVToolNix: the chapters are merged into a file and extracted again."""
    from xml.etree import ElementTree

    xml, merged, back = tmp_path / "chapters.xml", tmp_path / "only.mkv", tmp_path / "back.xml"
    xml.write_text(ours.matroska(marks, "en"), "utf-8")
    subprocess.run(["mkvmerge", "-q", "-o", str(merged), "--chapters", str(xml)], check=True, capture_output=True)
    subprocess.run(["mkvextract", str(merged), "chapters", str(back)], check=True, capture_output=True)
    atoms = ElementTree.parse(back).getroot().findall(".//ChapterAtom")
    assert [a.findtext("ChapterDisplay/ChapterString") for a in atoms] == [m.title for m in marks]
    assert [_seconds(a.findtext("ChapterTimeStart")) for a in atoms] == pytest.approx([m.start for m in marks], rel=0, abs=2e-9)  # nanoseconds of a float are out by one at times


def _seconds(clock: str) -> float:
    hours, minutes, seconds = clock.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(seconds)


@few
@given(marks_lists)
def test_webvtt_py_reads_our_chapter_track(marks):
    """webvtt-py: an independent WebVTT parser."""
    import html
    import io

    import webvtt

    read = list(webvtt.from_buffer(io.StringIO(ours.vtt(marks))))
    assert [html.unescape(c.raw_text) for c in read] == [m.title for m in marks]
    assert [c.start_in_seconds for c in read] == [int(round(m.start * 1000) / 1000) for m in marks]


@few
@given(marks_lists, st.text(max_size=30))
def test_json_chapters_hold_to_the_published_description(marks, title):
    """podcast-namespace, chapters/jsonChapters.md, version 1.2 (2021-04-15): `version` and `chapters` required; a chapter's
    `startTime` required (float, seconds), ascending; `title` string, `endTime` float, `url` string optional. From its text, no schema is published."""
    episode = Episode(id="x", title=title, url="https://video.example/watch?v=1", duration=41_000)
    read = json.loads(ours.podcast_json(marks, episode, WritingSettings()))
    assert read["version"] == "1.2.0" and set(read) <= {"version", "chapters", "author", "title", "podcastName", "description", "fileName", "waypoints"}
    starts = [c["startTime"] for c in read["chapters"]]
    assert starts == sorted(starts) and starts[0] == 0
    for chapter, mark in zip(read["chapters"], marks, strict=True):
        assert set(chapter) <= {"startTime", "title", "img", "url", "toc", "endTime", "location"}
        assert chapter["title"] == mark.title and chapter["endTime"] > chapter["startTime"] and chapter["url"].startswith("https://")


@given(st.lists(st.tuples(st.floats(0, 4000, allow_nan=False), st.text(max_size=200)), max_size=40), st.floats(30, 4000))
def test_chapters_hold_to_the_rules_of_the_video_host(rows, duration):
    rules = ChapterRules()
    marks = ours.published([Chapter(start=s, title=t, phase="aside") for s, t in rows], duration, rules)
    assert all(b.start - a.start >= rules.least_seconds for a, b in zip(marks, marks[1:]))
    assert all(0 < len(m.title) <= rules.title_length and "\n" not in m.title for m in marks)
    assert not marks or marks[0].start == 0 and (len(marks) == 1 or duration - marks[-1].start >= rules.least_seconds)


def test_past_the_hour_the_lines_carry_hours():
    marks = [ours.Mark(0, 59, "Start"), ours.Mark(59, 3600, "Middle"), ours.Mark(3600, 4000, "End")]
    assert ours.text(marks) == "0:00 Start\n0:59 Middle\n1:00:00 End\n"


def test_titles_are_cleaned_not_lost():
    assert clean("a\n\tb\u202e c\x00") == "a b c"


@needs("ffprobe")
@pytest.mark.parametrize("suffix", [".mp4", pytest.param(".mkv", marks=needs("mkvmerge"))])
def test_embed_leaves_a_chaptered_copy_beside_the_other_files(tmp_path, suffix):
    """`add --embed`: what ffprobe (and mkvmerge, where it is Matroska) finds in the copy are the published chapters, in streams copied whole."""
    from tests.conftest import TALK, sideplate, vtt

    source, captions, shop = tmp_path / f"service{suffix}", tmp_path / "talk.vtt", tmp_path / "shop"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc2=s=160x90:r=2:d=120", "-f", "lavfi", "-i", "sine=d=120", "-pix_fmt", "yuv420p",
                    "-g", "10", "-shortest", str(source)], check=True)
    captions.write_text(vtt(TALK, every=12), "utf-8")
    assert sideplate("new", shop).returncode == 0
    done = sideplate("--shop", shop, "add", source, "--captions", captions, "--id", "a", "--embed")
    assert done.returncode == 0 and f"chaptered{suffix}" in done.stdout, done.stderr
    out = shop / "episodes" / "a" / "out"
    wanted = [(c["startTime"], c["title"]) for c in json.loads((out / "chapters.json").read_text())["chapters"]]
    assert len(wanted) >= 2
    assert [t for *_, t in probed(out / f"chaptered{suffix}")] == [t for _, t in wanted]
    assert [s for s, *_ in probed(out / f"chaptered{suffix}")] == pytest.approx([s for s, _ in wanted], abs=0.002)
    if suffix == ".mkv":
        seen = json.loads(subprocess.run(["mkvmerge", "-J", str(out / "chaptered.mkv")], check=True, capture_output=True).stdout)
        assert seen["chapters"] == [{"num_entries": len(wanted)}] and len(seen["tracks"]) == 2
    packets = [subprocess.run(["ffmpeg", "-v", "error", "-i", str(p), "-map", "0:v", "-map", "0:a", "-c", "copy", "-f", "streamhash", "-"],
                              check=True, capture_output=True).stdout for p in (source, out / f"chaptered{suffix}")]
    assert packets[0] == packets[1]
    assert sideplate("--shop", shop, "redo", "a").returncode == 0 and not (out / f"chaptered{suffix}").exists()  # asked for once
