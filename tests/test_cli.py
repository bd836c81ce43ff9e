import json
import os
import re
import signal
import subprocess
from pathlib import Path

import pytest
from tests.conftest import PRACTICE, TALK, command, sideplate, surroundings, vtt

from pipeline import corrections
from pipeline.cli import _clock, _line, _seconds, main
from pipeline.errors import BenchError
from pipeline.shop import Shop

@pytest.fixture
def here(monkeypatch, capsys):
    """Run the command in this process, which is quicker; gives its exit status, output and errors."""
    def run(*args: str | Path) -> subprocess.CompletedProcess:
        monkeypatch.setattr("sys.argv", ["sideplate", *map(str, args)])
        with pytest.raises(SystemExit) as ended:
            main()
        return subprocess.CompletedProcess(args, ended.value.code, *capsys.readouterr())

    return run


COMMANDS = ["new", "add", "redo", "still", "comments", "questions", "questions answer", "questions drop", "questions reopen", "find", "reels", "check", "demo"]


@pytest.mark.parametrize("verb", COMMANDS)
def test_every_command_has_help_with_an_example(verb, here):
    result = here(*verb.split(), "--help")
    assert result.returncode == 0 and re.search(rf"Example:\s+sideplate\s+{verb.split()[0]}", result.stdout)


def test_help_says_where_the_schema_is():
    path = Path("".join(sideplate("--help").stdout.split("out/episode.json:")[1].split("Options")[0].split()))
    assert json.loads(path.read_text())["title"] == "Episode"


@pytest.mark.parametrize("args, says", [
    (["fnd", "x"], "fnd"), (["add", "--captons", "x"], "--captons"), (["redo"], "EPISODE"), (["redo", "a", "--all"], "--all"), (["find"], "what to find"),
    (["find", "x", "--limit", "0"], "--limit"), (["questions", "answer", "c1"], "--at"), (["new"], "DIR"), (["questions", "ansewr", "c1"], "ansewr"),
    (["still", "a", "1:14"], "MOMENT"), (["still", "a", "1:14", "1:15", "--none"], "MOMENT"),
])
def test_wrong_use_is_one_line_and_ends_with_2(shop, args, says, here):
    result = here("--shop", shop.root, *args)
    assert result.returncode == 2 and says in result.stderr and result.stderr.count("\n") == 1 and "--help" in result.stderr and not result.stdout


@pytest.mark.parametrize("args, says", [
    (["redo", "nothing"], "no such episode"), (["redo", "../../etc"], "not an episode id"), (["add", "nothing.mp4"], "nothing.mp4"), (["add"], "a caption file"),
    (["comments", "nothing", "x.json"], "no such episode"), (["questions", "drop", "c1"], "no such question"), (["new", "."], "already"),
])
def test_a_failure_is_one_line_and_ends_with_1(shop, args, says, here, monkeypatch):
    monkeypatch.chdir(shop.root)
    result = here("--shop", shop.root, *args)
    assert result.returncode == 1 and says in result.stderr and result.stderr.count("\n") == 1 and not result.stdout


def test_outside_a_shop_it_says_how_to_make_one(tmp_path):
    result = sideplate("reels", cwd=tmp_path)
    assert result.returncode == 1 and "sideplate new" in result.stderr
    assert not list(tmp_path.iterdir())


def test_a_wrong_setting_is_told_by_the_command_that_meets_it(shop, talk, here):
    (shop.root / "shop.toml").write_text("[hearing]\nmodle = 1\n")
    result = here("--shop", shop.root, "add", "--captions", talk())
    assert result.returncode == 1 and 'did you mean "model"' in result.stderr and result.stderr.count("\n") == 1


def test_while_another_writes_a_writer_is_told_and_a_reader_is_served(shop, talk):
    assert sideplate("--shop", shop.root, "add", "--captions", talk(), "--id", "a").returncode == 0
    with shop.writing("a long add"):
        result = sideplate("--shop", shop.root, "redo", "a")
        assert result.returncode == 1 and f"process {os.getpid()} on" in result.stderr and "a long add" in result.stderr
        assert "drag washers" in sideplate("--shop", shop.root, "find", "grease").stdout


def test_a_name_that_begins_with_a_dash(shop, tmp_path, here, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "-x.vtt").write_text(vtt(TALK))
    (tmp_path / "-x.mp4").write_text("no footage")
    for args in (["add", "--", "-x.mp4"], ["add", "./-x.mp4"]):
        result = here("--shop", shop.root, *args)
        assert result.returncode == 1 and "-x.mp4" in result.stderr and "no footage" in result.stderr
    assert here("--shop", shop.root, "add", "--captions", "-x.vtt").returncode == 0


def test_a_name_that_is_no_text_is_told_without_breaking_the_line(shop, tmp_path):
    name = os.fsdecode(b"a\xff\x1b[31m\n.vtt")
    (tmp_path / name).write_text(vtt(TALK))
    result = sideplate("--shop", shop.root, "add", "--captions", name, cwd=tmp_path)
    assert result.returncode == 1 and "UTF-8" in result.stderr and "\x1b" not in result.stderr and result.stderr.count("\n") == 1


def test_ctrl_c_is_one_line_and_the_work_goes_on_later(shop, talk):
    process = subprocess.Popen(command("--shop", shop.root, "add", "--captions", talk(), "--id", "a"), env=surroundings(), stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE, text=True)
    while not (shop.folder("a").work / "mending.json").exists():
        assert process.poll() is None
    process.send_signal(signal.SIGINT)
    _, said = process.communicate()
    assert process.returncode == 1 and said.count("\n") == 1 and "goes on" in said
    assert sideplate("--shop", shop.root, "redo", "a").returncode == 0


def test_three_episodes_and_what_can_be_asked_of_them(shop, here):
    """The whole bench over the practice episodes, by their captions."""
    for name in ("star-drag", "baitcaster", "spinning"):
        title = json.loads((PRACTICE / name / "gold.json").read_text())["title"]
        result = here("--shop", shop.root, "add", "--captions", PRACTICE / name / "heard.vtt", "--comments", PRACTICE / name / "comments.json",
                           "--title", title, "--id", name)
        assert result.returncode == 0, result.stderr
        assert str(shop.root / "episodes" / name / "out") in result.stdout and "guide.pdf" in result.stdout and not result.stderr
    reels = here("--shop", shop.root, "reels").stdout
    for name in ("star-drag", "baitcaster", "spinning"):
        for reel in json.loads(shop.folder(name).record.read_text())["reels"]:
            assert reel["model"] in reels and f"({name}" in reels
    hits = here("--shop", shop.root, "find", "drag", "washer").stdout
    assert re.match(r"\d:\d\d:\d\d  .+ \((star-drag|baitcaster|spinning)\)\n", hits)
    assert "(star-drag)" in here("--shop", shop.root, "find", "--step", "clean").stdout

    waiting = here("--shop", shop.root, "questions").stdout
    ids = re.findall(r"^    (\S+/\S+)$", waiting, re.M)
    assert len(ids) >= 3
    first, second = ids[0], ids[1]
    episode = first.split("/")[0]
    assert here("--shop", shop.root, "questions", "answer", first, "A dealer for old parts has them.").returncode == 0
    assert here("--shop", shop.root, "questions", "drop", second).returncode == 0
    assert here("--shop", shop.root, "redo", "--all").returncode == 0
    left = re.findall(r"^    (\S+/\S+)$", here("--shop", shop.root, "questions").stdout, re.M)
    assert set(ids) - set(left) == {first, second}
    assert "A dealer for old parts has them." in (shop.folder(episode).out / "questions.md").read_text()
    assert "A dealer for old parts" in here("--shop", shop.root, "questions", "--all").stdout

    moment = here("--shop", shop.root, "questions", "answer", first, "--at", "1:40")
    assert moment.returncode == 0 and "answered" in moment.stdout
    record = json.loads(shop.folder(episode).record.read_text())
    answer = next(q for q in record["questions"] if q["comment_id"] == first.split("/")[1])["answers"][0]
    assert answer["start"] <= 100.5 and answer["end"] >= 98 and answer["text"]
    assert here("--shop", shop.root, "questions", "answer", first, "--at", "99:00:00").returncode == 1
    assert here("--shop", shop.root, "questions", "reopen", first).returncode == 0
    assert first in here("--shop", shop.root, "questions").stdout
    assert len(corrections.load(shop.folder(episode).corrections)) == len({first, second} & {i for i in ids if i.startswith(f"{episode}/")})


def test_a_harmed_corrections_file_stops_one_episode_of_all_and_not_the_others(shop, talk, here):
    for id, lines in (("a", TALK), ("b", TALK[:5])):
        assert here("--shop", shop.root, "add", "--captions", talk(lines), "--id", id).returncode == 0
    shop.folder("a").corrections.write_text("[")
    result = here("--shop", shop.root, "redo", "--all")
    assert result.returncode == 1 and "a: " in result.stderr and "1 of 2" in result.stderr and "b:" in result.stdout


def test_a_step_shows_another_still_or_none_and_it_stays_so(shop, talk, tmp_path, here):
    clip, folder = tmp_path / "dabchick.mp4", shop.root / "episodes" / "dabchick"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc=s=320x180:r=10:d=60", "-pix_fmt", "yuv420p", str(clip)], check=True)
    assert here("--shop", shop.root, "add", clip, "--captions", talk(), "--id", "dabchick").returncode == 0

    def shown() -> list[str]:
        return re.findall(r'alt="The bench at ([\d:]+): Clean', (folder / "out" / "guide.html").read_text("utf-8"))

    def choose(*args: str) -> subprocess.CompletedProcess:
        return here("--shop", shop.root, "still", "dabchick", "0:24", *args)

    (first,) = shown()
    assert first != "0:50"
    assert "shows 0:50" in choose("0:50").stdout and shown() == ["0:50"]
    assert here("--shop", shop.root, "redo", "dabchick").returncode == 0 and shown() == ["0:50"]
    assert "shows no picture" in choose("--none").stdout and shown() == []
    assert len(corrections.load(folder / "corrections.json")) == 1
    assert choose("--back").returncode == 0 and shown() == [first] and corrections.load(folder / "corrections.json") == []
    for args, says in ((["9:99"], "after the episode's end"), (["0:50", "--words", "bail arm"], "no step")):
        assert says in choose(*args).stderr
    assert "no step" in here("--shop", shop.root, "still", "dabchick", "0:01", "--none").stderr


def test_check_says_what_is_there_and_what_is_missing(shop, here):
    result = here("--shop", shop.root, "check")
    for thing in ("shop", "python", "ffmpeg", "speech model", "language", "print", "disk"):
        assert re.search(rf"^(ok|note|MISSING) +{thing}: ", result.stdout, re.M), result.stdout
    assert result.returncode == 0, result.stdout
    (shop.root / "shop.toml").write_text('[hearing]\nmodel = "no such model"\n')
    result = here("--shop", shop.root, "check")
    assert result.returncode == 1 and re.search("^MISSING +speech model: .*no such model", result.stdout, re.M) and result.stderr.count("\n") == 1


def test_times_are_read_and_written():
    assert [_seconds(t) for t in ("75", "1:15", "0:01:15", "1:00:00.5")] == [75, 75, 75, 3600.5] and _clock(3675.9) == "1:01:15"
    for wrong in ("", "a", "1:2:3:4", "-5", "nan", "inf", "1e9"):
        with pytest.raises(BenchError):
            _seconds(wrong)


def test_text_from_outside_does_not_steer_the_terminal():
    assert _line("a\x1b[31mred\nb\u202ec") == "a [31mred b c" and len(_line("x" * 500)) == 120


def test_the_demo_does_not_touch_a_folder_that_is_something_else(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear")
    result = sideplate("demo", tmp_path / "mine")
    assert result.returncode == 1 and [p.name for p in (tmp_path / "mine").iterdir()] == ["letter.txt"]


def test_a_shop_from_the_environment(shop, tmp_path):
    assert sideplate("reels", cwd=tmp_path, SIDEPLATE_SHOP=str(shop.root)).returncode == 0
    assert Shop.open(shop.root).database.exists()
