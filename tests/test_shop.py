import json
import os
import subprocess
import sys

import pytest
from tests.conftest import surroundings
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import BenchError
from pipeline.shop import ID, EpisodeFolder, Shop, Source, slug, write_atomically

HOLD = """
import sys, time
from pathlib import Path
from pipeline.shop import Shop
with Shop.open(Path(sys.argv[1])).writing("holding on"):
    print("held", flush=True)
    time.sleep(600)
"""


def hold(shop: Shop) -> subprocess.Popen:
    holder = subprocess.Popen([sys.executable, "-c", HOLD, str(shop.root)], env=surroundings(), stdout=subprocess.PIPE, text=True)
    assert holder.stdout.readline() == "held\n"
    return holder


def test_a_second_writer_is_told_who_is_at_it(shop):
    holder = hold(shop)
    try:
        with pytest.raises(BenchError) as error:
            with shop.writing("second"):
                pass
        assert f"process {holder.pid} on" in str(error.value) and "holding on" in str(error.value)
    finally:
        holder.kill()
        holder.wait()


def test_the_claim_of_a_killed_writer_is_void(shop):
    holder = hold(shop)
    holder.kill()
    holder.wait()
    assert json.loads((shop.root / ".lock-holder.json").read_text())["pid"] == holder.pid
    with shop.writing("the next one"):
        assert json.loads((shop.root / ".lock-holder.json").read_text())["pid"] == os.getpid()


def test_a_shop_is_not_made_over_a_shop_nor_over_a_file(shop, tmp_path):
    with pytest.raises(BenchError, match="already"):
        Shop.make(shop.root)
    (tmp_path / "file").write_text("")
    with pytest.raises(BenchError, match="not a folder"):
        Shop.make(tmp_path / "file")
    with pytest.raises(BenchError, match="sideplate new"):
        Shop.open(tmp_path / "nowhere")


@pytest.mark.parametrize("id", ["../x", "..", ".", "", "/etc", "a/b", "a\\b", "A", "-a", "a-", "a b", "a\0", "a\n", "x" * 81, "é", ".work"])
def test_no_id_leads_out_of_the_shop(shop, id):
    with pytest.raises(BenchError):
        shop.folder(id)


@given(st.text())
def test_any_title_makes_a_safe_id(title):
    assert ID.fullmatch(slug(title))


def source(sum: str) -> Source:
    return Source(title="x", captions="captions.vtt", captions_sha256=sum)


def put(folder: EpisodeFolder, of: Source) -> None:
    folder.path.mkdir(parents=True)
    folder.write_source(of)


def test_the_same_footage_is_the_same_episode_and_other_footage_gets_a_number(shop):
    first, known = shop.place_for(source("aa"), None, "Dabchick 20")
    assert (first.id, known) == ("dabchick-20", False)
    put(first, source("aa"))
    assert shop.place_for(source("aa"), None, "another title") == (first, True)
    second, known = shop.place_for(source("bb"), None, "Dabchick 20")
    assert (second.id, known) == ("dabchick-20-2", False)
    with pytest.raises(BenchError, match="another episode"):
        shop.place_for(source("bb"), "dabchick-20", "x")


def test_an_unknown_episode_is_named_with_the_nearest(shop):
    put(shop.folder("dabchick-20"), source("aa"))
    with pytest.raises(BenchError, match="Did you mean dabchick-20"):
        shop.episode("dabchik-20")


def test_a_harmed_source_file_is_one_line(shop):
    folder = shop.folder("a")
    folder.path.mkdir(parents=True)
    for text in ("{", "[]", '{"title": 3}', '{"schema": "other", "title": "x"}'):
        folder.source_file.write_text(text)
        with pytest.raises(BenchError) as error:
            folder.read_source()
        assert "\n" not in str(error.value)


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "a.json"
    write_atomically(path, "old")
    with pytest.raises(UnicodeEncodeError):
        write_atomically(path, "\ud800")
    assert path.read_text() == "old" and list(tmp_path.iterdir()) == [path]


def test_a_failed_set_leaves_the_old_set(shop):
    folder = shop.folder("a")
    with folder.new_out() as fresh:
        (fresh / "guide.html").write_text("old")
    with pytest.raises(OSError):
        with folder.new_out() as fresh:
            (fresh / "guide.html").write_text("new")
            raise OSError(28, "No space left on device")
    assert (folder.out / "guide.html").read_text() == "old"
    assert [p.name for p in folder.path.iterdir()] == ["out"]


def test_a_set_caught_between_two_renames_comes_back(shop):
    folder = shop.folder("a")
    with folder.new_out() as fresh:
        (fresh / "guide.html").write_text("old")
    os.rename(folder.out, folder.path / ".out-old-1")
    (folder.path / ".out-new-1").mkdir()
    (folder.path / ".source.json.7.tmp").write_text("half")
    folder.tidy()
    assert (folder.out / "guide.html").read_text() == "old" and [p.name for p in folder.path.iterdir()] == ["out"]
