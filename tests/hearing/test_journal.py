"""What was heard outlives a kill at any byte."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import BenchError
from pipeline.hearing.journal import Journal

LINES = [{"clip": 0, "end": 480000, "words": [["drag", 0.1, 0.4, 0.9]]}, {"clip": 0, "end": 900000, "words": [["größe\n", 31.0, 31.5, 0.5]]}]


def written(path, key="a"):
    with Journal(path, key) as journal:
        for line in LINES[len(journal.lines) :]:
            journal.write(line)
    return path.read_bytes()


def test_goes_on_from_a_file_torn_at_any_byte(tmp_path):
    path = tmp_path / "work" / "heard.jsonl"
    whole = written(path)
    for size in range(len(whole)):
        path.write_bytes(whole[:size])
        with Journal(path, "a") as journal:
            assert journal.lines == LINES[: max(0, whole[:size].count(b"\n") - 1)]
        assert written(path) == whole


def test_begins_anew_for_other_inputs(tmp_path):
    path = tmp_path / "heard.jsonl"
    written(path)
    with Journal(path, "b") as journal:
        assert journal.lines == []
    assert [json.loads(line) for line in path.read_bytes().splitlines()] == [{"key": "b"}]


def test_without_a_path_nothing_is_kept():
    with Journal(None, "a") as journal:
        journal.write(LINES[0])


def test_no_room_is_named(tmp_path):
    (tmp_path / "work").write_text("in the way")
    with pytest.raises(BenchError, match="can't be kept"):
        Journal(tmp_path / "work" / "heard.jsonl", "a")


@given(rubbish=st.binary(max_size=200))
def test_rubbish_does_no_harm(tmp_path_factory, rubbish):
    path = tmp_path_factory.mktemp("j") / "heard.jsonl"
    path.write_bytes(rubbish)
    with Journal(path, "a") as journal:
        assert journal.lines == []
    whole = written(path)
    path.write_bytes(whole + rubbish.replace(b"\n", b""))
    with Journal(path, "a") as journal:
        assert journal.lines == LINES
