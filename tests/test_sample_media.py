"""The demo episode is whole, small, and its answers say what its script says."""

import json
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import get_args

import pytest

from pipeline.record import Action, FactKind, Phase, Role

DEMO = Path(__file__).parent.parent / "sample_media" / "demo"


def load(name):
    return json.loads((DEMO / name).read_text())


@pytest.fixture(scope="module")
def gold():
    return load("gold.json")


@pytest.fixture(scope="module")
def script():
    yaml = pytest.importorskip("yaml")
    return yaml.safe_load((DEMO / "script.yaml").read_text())


def test_the_film_is_small_two_to_four_minutes_and_has_picture_and_sound(gold):
    av = pytest.importorskip("av")
    film = DEMO / "demo.mp4"
    assert film.stat().st_size < 8_000_000
    with av.open(str(film)) as container:
        assert container.streams.video[0].codec_context.name == "h264"
        assert (container.streams.video[0].width, container.streams.video[0].height) == (1280, 720)
        assert container.streams.audio[0].codec_context.name == "aac"
        seconds = container.duration / av.time_base
    assert 120 <= seconds <= 240
    assert gold["duration"] <= seconds  # the last word is heard


def test_the_film_can_start_before_it_is_all_there():
    head = (DEMO / "demo.mp4").read_bytes()[:200_000]
    assert -1 < head.find(b"moov") < (head.find(b"mdat") if b"mdat" in head else len(head))


def test_the_picture_is_never_black():
    av = pytest.importorskip("av")
    with av.open(str(DEMO / "demo.mp4")) as container:
        stream = container.streams.video[0]
        for seconds in (2, 60, 120, 180, 230):
            container.seek(int(seconds / stream.time_base), stream=stream)
            picture = next(container.decode(stream)).to_ndarray(format="gray")
            assert picture.std() > 15, f"nothing to see at {seconds} s"


def test_the_lines_of_the_answers_are_those_of_the_script_one_after_the_other(gold, script):
    assert [line["say"] for line in gold["lines"]] == [line["say"] for line in script["lines"]]
    assert 35 <= len(gold["lines"]) <= 45
    for before, after in pairwise(gold["lines"]):
        assert before["start"] < before["end"] < after["start"]


def test_every_answer_is_from_the_closed_lists(gold):
    assert {step["do"] for step in gold["steps"]} <= set(get_args(Action))
    assert {fact["kind"] for fact in gold["facts"]} <= set(get_args(FactKind))
    assert {chapter["phase"] for chapter in gold["chapters"]} <= set(get_args(Phase))
    assert {reel["role"] for reel in gold["reels"]} <= set(get_args(Role))


def test_the_whole_job_is_shown(gold):
    phases = {chapter["phase"] for chapter in gold["chapters"]}
    assert phases >= {"introduction", "identification", "disassembly", "inspection", "cleaning", "lubrication", "reassembly", "testing", "closing"}
    assert {reel["role"] for reel in gold["reels"]} >= {"on_bench", "same_service"}
    kinds = {fact["kind"] for fact in gold["facts"]}
    assert kinds >= {"orientation", "fastener", "setting", "obsolete", "upgrade", "caution", "part_number"}


def test_every_quote_of_the_script_stands_in_one_line(script):
    says = [line["say"] for line in script["lines"]]
    quotes = [comment["answered_by"] for comment in script["comments"] if comment.get("answered_by")]
    for entry in script["ledger"]:  # YAML 1.1 may read off and on as booleans
        quotes += [quote for key, quote in entry.items() if key in ("off", "on", True, False) and quote]
    assert quotes
    for quote in quotes:
        assert sum(quote in say for say in says) == 1, quote


def test_one_part_never_goes_back(gold):
    left = [entry["part"][0] for entry in gold["ledger"] if entry["on"] is None]
    assert left == ["brass shim"]
    for entry in gold["ledger"]:
        assert entry["on"] is None or entry["off"] < entry["on"]


def test_the_comments_are_well_formed():
    comments = load("comments.json")
    assert len(comments) >= 12
    ids = [comment["id"] for comment in comments]
    assert len(set(ids)) == len(ids)
    for at, comment in enumerate(comments):
        assert comment["text"].strip() and comment["author"].strip()
        date.fromisoformat(comment["posted"])
        assert comment.get("reply_to") in [None, *ids[:at]]
        assert not {"question", "answered_at", "same_as"} & set(comment), "answers must not travel with the comments"
    assert any(comment.get("from_host") for comment in comments)


def test_comments_ask_answered_open_and_repeated_questions(gold):
    asked = [comment for comment in gold["comments"] if comment["question"]]
    assert any(comment["answered_at"] for comment in asked) and any(not comment["answered_at"] for comment in asked)
    assert any(comment.get("same_as") for comment in asked)


def test_still_stretches_follow_one_another_and_are_of_all_three_sorts(gold):
    stretches = load("stills.json")
    assert {stretch["is"] for stretch in stretches} == {"sharp", "soft", "shaky"}
    for before, after in pairwise(stretches):
        assert before["start"] < before["end"] <= after["start"]
