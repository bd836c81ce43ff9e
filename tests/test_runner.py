import json
import os
import signal
import subprocess
import time
from pathlib import Path

import pytest
from tests.conftest import PRACTICE, TALK, command, sideplate, surroundings, vtt

from pipeline import corrections, runner
from pipeline.corrections import Correction
from pipeline.errors import BenchError
from pipeline.hearing.footage import ffmpeg_binary
from pipeline.shop import Shop, file_hash


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def correct(shop: Shop, id: str, *rows: dict) -> None:
    corrections.save(shop.folder(id).corrections, [Correction.model_validate(r) for r in rows])


def add(shop: Shop, **given) -> runner.Done:
    return runner.add(shop, given.pop("footage", []), **given)


def redo(shop: Shop, id: str, **how) -> runner.Done:
    return runner.run(Shop.open(shop.root), shop.folder(id), **how)  # a fresh look at settings and glossary


# what is done again, and what not


def test_nothing_changed_is_nothing_done(shop, talk):
    first = add(shop, captions=talk(), title="Servicing a Quillstone Dabchick 20")
    assert first.stages == ["hearing", "mending", "reading", "arranging", "questions", "writing"]
    before = {p: p.stat().st_mtime_ns for p in first.files}
    again = add(shop, captions=talk(), title="Servicing a Quillstone Dabchick 20")
    assert again.id == first.id and again.stages == [] and again.episode == first.episode
    assert {p: p.stat().st_mtime_ns for p in again.files} == before


def test_a_correction_costs_what_comes_after_it(shop, talk):
    add(shop, captions=talk(), id="a")
    correct(shop, "a", {"about": "chapter", "at": 0, "set": {"title": "Hello"}})
    done = redo(shop, "a")
    assert done.stages == ["questions", "writing"] and done.episode.chapters[0].title == "Hello"
    assert "Hello" in (shop.folder("a").out / "chapters.txt").read_text()
    correct(shop, "a", {"about": "sentence", "at": 24, "words": "Clean the drag washers", "set": {"text": "Clean the pinion gear with a rag."}})
    done = redo(shop, "a")
    assert done.stages == ["reading", "arranging", "questions", "writing"]
    assert "pinion gear" in {p.name for p in done.episode.parts} and "pinion gear" in (shop.folder("a").out / "captions.vtt").read_text()


def test_settings_glossary_and_a_lost_file_cause_their_own_stages_only(shop, talk):
    add(shop, captions=talk(), id="a")
    (shop.root / "shop.toml").write_text('[writing]\npaper = "us-letter"\n')
    assert redo(shop, "a").stages == ["writing"]
    (shop.folder("a").out / "chapters.txt").unlink()
    assert redo(shop, "a").stages == ["writing"] and (shop.folder("a").out / "chapters.txt").exists()
    (shop.root / "glossary.toml").write_text('[[part]]\nname = "bottom hole"\n')
    done = redo(shop, "a")
    assert "hearing" not in done.stages and "bottom hole" in {p.name for p in done.episode.parts}


def test_a_harmed_or_missing_result_is_made_again_to_the_same_end(shop, talk):
    first = add(shop, captions=talk(), id="a")
    before = contents(shop.folder("a").out)
    for path in shop.folder("a").work.iterdir():
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert redo(shop, "a").stages == first.stages and contents(shop.folder("a").out) == before


def test_another_version_of_a_stage_does_it_again(shop, talk, monkeypatch):
    add(shop, captions=talk(), id="a")
    real = runner.code_of
    monkeypatch.setattr(runner, "code_of", lambda *p: real(*p) + ("x" if p[0] == "reading" else ""))
    assert redo(shop, "a").stages == ["reading", "arranging"]  # which found the same, so nothing after it


# corrections stay


def test_corrections_survive_another_hearing_and_the_lost_one_is_told_and_kept(shop, talk):
    add(shop, captions=talk(), id="a")
    correct(shop, "a",
            {"about": "sentence", "at": 13, "words": "Take out the four side plate screws", "set": {"text": "Take out the five side plate screws with a small screwdriver."}},
            {"about": "chapter", "at": 30, "add": {"title": "A middle of my own", "phase": "aside"}},
            {"about": "sentence", "at": 40, "words": "what nobody ever said here", "drop": True})
    heard_again = [line.replace("Take out the four side plate screws", "Take out for side plate screws") for line in TALK]
    folder = shop.folder("a")
    (folder.path / "captions.vtt").write_text(vtt(heard_again, at=3.0))
    folder.write_source(folder.read_source().model_copy(update={"captions_sha256": file_hash(folder.path / "captions.vtt")}))
    done = redo(shop, "a")
    assert "hearing" in done.stages
    assert "Take out the five side plate screws with a small screwdriver." in [s.text for s in done.episode.sentences]
    assert (30, "A middle of my own") in [(c.start, c.title) for c in done.episode.chapters]
    assert [lost.number for lost in done.lost] == [3]
    assert len(corrections.load(folder.corrections)) == 3


def test_a_refused_mend_stays_refused_and_a_taught_one_is_known_to_every_episode(shop, tmp_path):
    for id, line in (("a", "Two shims here. Two shins on the shaft, and the clacker."), ("b", "Now the clacker comes off.")):
        (tmp_path / f"{id}.vtt").write_text(vtt([line]))
        add(shop, captions=tmp_path / f"{id}.vtt", id=id)
    said = lambda id: " ".join(s.text for s in redo(shop, id).episode.sentences)
    assert "Two shims on the shaft" in said("a") and "Now the clacker" in said("b")
    correct(shop, "a", {"about": "mend", "words": "shins", "drop": True}, {"about": "mend", "words": "clacker", "set": {"to": "click pawl"}})
    for _ in range(2):
        assert "Two shins on the shaft, and the click pawl." in said("a") and said("b") == "Now the click pawl comes off."
        shop.folder("a").tidy()
        (shop.folder("a").work / "mending.json").unlink()


# bad input


@pytest.mark.parametrize("bad", ["missing.mp4", "empty.mp4", "text.mp4", "folder.mp4"])
def test_bad_footage_leaves_the_shop_as_it_was(shop, tmp_path, bad):
    (tmp_path / "empty.mp4").write_bytes(b"")
    (tmp_path / "text.mp4").write_text("not footage at all")
    (tmp_path / "folder.mp4").mkdir()
    before = contents(shop.root)
    with pytest.raises(BenchError) as error:
        add(shop, footage=[tmp_path / bad])
    assert contents(shop.root) == before and not list((shop.root / "episodes").iterdir()) and "\n" not in str(error.value)


def test_bad_captions_comments_ids_urls_and_titles_leave_the_shop_as_it_was(shop, talk, tmp_path):
    (tmp_path / "bad.json").write_text("{")
    (tmp_path / "empty.vtt").write_text("WEBVTT\n\n")
    before = contents(shop.root)
    for given in ({"captions": tmp_path / "empty.vtt"}, {"captions": tmp_path / "none.vtt"}, {"captions": talk(), "comments": tmp_path / "bad.json"},
                  {"captions": talk(), "id": "../x"}, {"captions": talk(), "url": "javascript:alert(1)"}, {"captions": talk(), "title": " \n"}, {}):
        with pytest.raises(BenchError):
            add(shop, **given)
        assert contents(shop.root) == before and not list((shop.root / "episodes").iterdir()), given


def test_corrections_that_are_wrong_stop_the_run_and_the_old_set_stays(shop, talk):
    add(shop, captions=talk(), id="a")
    before = contents(shop.folder("a").out)
    shop.folder("a").corrections.write_text('[{"about": "chapter"}]')
    with pytest.raises(BenchError, match="correction 1"):
        redo(shop, "a")
    assert contents(shop.folder("a").out) == before


def test_a_caption_file_needs_no_option(shop, tmp_path):
    (tmp_path / "one.srt").write_text("1\n00:00:01,000 --> 00:00:04,000\nOut come the two side plate screws.\n")
    assert add(shop, footage=[tmp_path / "one.srt"]).episode.steps[0].part == "side plate screw"
    (tmp_path / "two.vtt").write_text(vtt(TALK))
    with pytest.raises(BenchError, match="two.vtt: more than one caption file"):
        add(shop, footage=[tmp_path / "one.srt", tmp_path / "two.vtt"])
    assert len(list(shop.episodes())) == 1


@pytest.mark.parametrize("name", ["-x.vtt", "a b'; $(touch x) \"c\".vtt", "ünï.vtt", "a\nb.vtt", "%s{}.vtt", "..vtt", "con.vtt"])
def test_any_file_name_will_do(shop, tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    Path(name).write_text(vtt(TALK))
    done = add(shop, captions=Path(name))
    assert done.episode.title.isprintable() and [e.record.exists() for e in shop.episodes()] == [True] and not Path("x").exists()


# kills


@pytest.fixture(scope="session")
def footage(tmp_path_factory) -> Path:
    """A short piece of practice footage."""
    from pipeline.hearing.footage import ffmpeg_binary

    piece = tmp_path_factory.mktemp("footage") / "piece.ogg"
    subprocess.run([ffmpeg_binary(), "-v", "error", "-i", PRACTICE / "spinning" / "footage.ogg", "-t", "75", "-c", "copy", piece], check=True)
    return piece


def kill_when(process: subprocess.Popen, ready) -> None:
    """Kill -9 as soon as `ready` says so; fails where the process ended first."""
    try:
        while not ready():
            assert process.poll() is None, process.communicate()
            time.sleep(0.002)
        os.kill(process.pid, signal.SIGKILL)
    finally:
        process.kill()
        process.wait()


def start(*args) -> subprocess.Popen:
    return subprocess.Popen(command(*args), env=surroundings(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.timeout(600)
def test_a_run_killed_while_hearing_goes_on_to_the_same_end(tmp_path, footage):
    shops = [Shop.make(tmp_path / name) for name in ("undisturbed", "killed")]
    for shop in shops:
        (shop.root / "shop.toml").write_text("[hearing]\nwindow = 30\n")
    assert sideplate("--shop", shops[0].root, "add", footage, "--id", "a").returncode == 0
    work = shops[1].folder("a").work
    journal = work / "heard.journal"
    kill_when(start("--shop", shops[1].root, "add", footage, "--id", "a"), lambda: journal.exists() and journal.read_bytes().count(b"\n") > 1)
    assert not (work / "hearing.json").exists() and not shops[1].folder("a").out.exists()
    result = sideplate("--shop", shops[1].root, "add", footage, "--id", "a")
    assert result.returncode == 0, result.stderr
    assert contents(shops[1].folder("a").out) == contents(shops[0].folder("a").out)


def test_a_run_killed_while_writing_leaves_the_old_set_and_goes_on_to_the_same_end(tmp_path, talk):
    shops = [Shop.make(tmp_path / name) for name in ("undisturbed", "killed")]
    for shop in shops:
        add(shop, captions=talk(), id="a")
        correct(shop, "a", {"about": "chapter", "at": 0, "set": {"title": "Hello"}})
    folder = shops[1].folder("a")
    before = contents(folder.out)
    kill_when(start("--shop", shops[1].root, "redo", "a"), lambda: any(p.name.startswith(".out-new") for p in folder.path.iterdir()))
    assert contents(folder.out) == before
    assert all(sideplate("--shop", shop.root, "redo", "a").returncode == 0 for shop in shops)
    assert contents(folder.out) == contents(shops[0].folder("a").out) != before
    assert not [p for p in folder.path.iterdir() if p.name.startswith(".")]


def test_footage_that_went_away_is_no_matter_until_it_must_be_heard_again(tmp_path, shop, footage):
    import shutil

    mine = tmp_path / "mine.ogg"
    shutil.copy(footage, mine)
    captions = tmp_path / "c.vtt"
    captions.write_text(vtt(TALK))
    done = add(shop, footage=[mine], captions=captions)
    assert done.episode.duration == pytest.approx(75, abs=1)
    mine.unlink()
    assert redo(shop, done.id).episode == done.episode
    source = shop.folder(done.id).read_source()
    shop.folder(done.id).write_source(source.model_copy(update={"captions": None, "captions_sha256": None}))
    with pytest.raises(BenchError, match="not there any more"):
        redo(shop, done.id)


def test_a_disk_that_is_full_is_one_line_and_the_old_set_stays(shop, talk):
    """A limit on file sizes stands for the full disk: writes fail in the same places."""
    add(shop, captions=talk(), id="a")
    before = contents(shop.folder("a").out)
    correct(shop, "a", {"about": "chapter", "at": 0, "set": {"title": "Hello"}})
    limited = ["bash", "-c", 'ulimit -f 8; trap "" XFSZ; exec "$@"', "-", *command("--shop", shop.root, "redo", "a")]
    result = subprocess.run(limited, env=surroundings(), capture_output=True, text=True)
    assert result.returncode == 1 and result.stderr.count("\n") == 1, result.stderr
    assert contents(shop.folder("a").out) == before
    assert sideplate("--shop", shop.root, "redo", "a").returncode == 0


def test_comments_come_in_again_and_again_without_doubles(shop, talk, tmp_path):
    add(shop, captions=talk(), id="a")
    file = tmp_path / "comments.json"
    file.write_text(json.dumps([{"id": "c1", "text": "Which grease do you use?"}]))
    done, came, new = runner.bring_comments(shop, shop.folder("a"), file)
    assert (came, new, len(done.episode.questions)) == (1, 1, 1)
    file.write_text(json.dumps([{"id": "c1", "text": "Which grease do you use?"}, {"id": "c2", "text": "How long is the long screw?"}]))
    done, came, new = runner.bring_comments(shop, shop.folder("a"), file)
    assert (came, new, len(done.episode.questions)) == (2, 1, 2)


def test_the_picture_is_looked_at_once_and_its_cuts_stay_when_the_footage_is_put_away(shop, talk, tmp_path):
    film = tmp_path / "film.mp4"
    views = "testsrc2=s=160x90:r=10:d=30[a];smptebars=s=160x90:r=10:d=30[b];[a][b]concat"
    subprocess.run([ffmpeg_binary(), "-v", "error", "-f", "lavfi", "-i", views, "-f", "lavfi", "-i", "sine=d=60", film], check=True)
    first = add(shop, footage=[film], captions=talk(), id="a")
    kept = json.loads((shop.folder("a").work / "looking.json").read_text())
    assert first.stages == ["hearing", "mending", "looking", "reading", "arranging", "questions", "writing"] and kept["result"] == pytest.approx([30.0], abs=0.1)
    assert redo(shop, "a").stages == []
    film.rename(tmp_path / "shelf.mp4")
    correct(shop, "a", {"about": "sentence", "at": 24, "words": "Clean the drag washers", "set": {"text": "Clean the pinion gear with a rag."}})
    assert redo(shop, "a").stages == ["reading", "arranging", "questions", "writing"]
    assert json.loads((shop.folder("a").work / "looking.json").read_text()) == kept
    (shop.folder("a").work / "looking.json").unlink()
    assert "looking" not in redo(shop, "a").stages and not (shop.folder("a").work / "looking.json").exists()
