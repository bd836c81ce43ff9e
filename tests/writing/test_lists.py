import csv
import io

from hypothesis import given
from hypothesis import strategies as st

from pipeline.record import Episode, Named, Part, Step
from pipeline.writing import WritingSettings
from pipeline.writing.lists import lists_csv, lists_md
from pipeline.writing.plain import clean

from .rich import rich_episode


def rows(episode: Episode) -> list[dict]:
    raw = lists_csv(episode, WritingSettings())
    assert raw.startswith(b"\xef\xbb\xbf")
    return list(csv.DictReader(io.StringIO(raw.decode("utf-8-sig"), newline="")))


def test_the_list_reads_back():
    read = rows(rich_episode())
    assert read[2] == {"group": "part", "name": "ball bearing", "also called": "", "quantity": "2", "part number": "HB-3107", "condition found": "", "replace or reuse": "replaced",
                       "availability": "", "fits other models": "", "upgrade": "Stainless bearings are the better buy near salt", "first seen": "5:30",
                       "all moments": "5:30 8:25", "link": "https://video.example/watch?v=petrel25&t=330", "confidence": "1.00"}
    assert [r["name"] for r in read if r["group"] == "supply"][-1] == "paper towel"


@given(st.text(min_size=1, max_size=80), st.sampled_from(["", "=", "+", "-", "@", "\t=", "\r=", "\n=", " =", "＝"]))
def test_no_cell_can_run_as_a_formula(text, opening):
    said = opening + text
    read = rows(Episode(id="x", title="", duration=1, parts=[Part(name=said, part_number=said)], tools=[Named(name=said)]))
    assert len(read) == 2
    for row in read:
        for value in row.values():
            assert not value.startswith(("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠"))
        assert row["name"].removeprefix("'") == clean(said).removeprefix("'")


def test_the_page_of_lists_shows_markup_as_text():
    said = lists_md(Episode(id="x", title="a | b", duration=1, tools=[Named(name="<b>*[x](http://y)*</b>")]), WritingSettings())
    assert "- \\<b\\>\\*\\[x\\](http\\://y)\\*\\</b\\>" in said


def test_the_list_to_shop_from_stands_as_a_table_and_says_what_is_not_sure():
    from pipeline.record import Fact

    said = lists_md(Episode(id="x", title="", duration=9, parts=[Part(name="click | arm", qty=2)], facts=[
        Fact(start=1, end=2, kind="obsolete", part="click | arm", text="=Nobody sells those.", confidence=0.5)]), WritingSettings())
    heads, _, row = [line for line in said.splitlines() if line.startswith("|")]
    assert heads == "| part | quantity | part number | condition found | replace or reuse | availability | fits other models | upgrade | seen |"
    assert row.startswith("| click \\| arm | 2 |  |  |  | ") and "Nobody sells those (check the footage)" in row


def test_what_is_said_of_a_bearing_is_told_of_one_bearing():
    from pipeline.record import Fact

    parts = [Part(name=f"{which} bearing", names=[f"{which} bearing", "bearing"], at=[(at, at + 2)]) for which, at in (("spool", 10), ("roller", 50))]
    read = rows(Episode(id="x", title="", duration=90, parts=parts, facts=[Fact(start=49, end=51, kind="condition", part="bearing", text="Dry as a bone"),
                                                                         Fact(start=52, end=53, kind="interchange", part="bearing", text="Is it the same one?")]))
    assert [(r["condition found"], r["fits other models"]) for r in read] == [("", ""), ("Dry as a bone", "")]


def test_a_part_goes_by_the_word_that_the_host_uses_for_it_as_in_the_guide():
    washer = Part(name="tension washer", names=["tension washer", "belleville washer"], qty=4, at=[(10, 12)])
    episode = Episode(id="x", title="", duration=90, parts=[washer], steps=[Step(id="a", start=10, end=12, do="remove", part="belleville washer", text="", phase="disassembly", confidence=0.9)])
    (read,) = rows(episode)
    assert (read["name"], read["also called"]) == ("belleville washer", "tension washer")
    assert "| belleville washer | 4 |" in lists_md(episode, WritingSettings())


@given(st.sampled_from(["=", "+", "-", "@", "\t=", "＝"]), st.sampled_from(["condition", "obsolete", "interchange", "upgrade"]))
def test_what_was_said_of_a_part_can_not_run_as_a_formula(opening, kind):
    from pipeline.record import Fact

    (read,) = rows(Episode(id="x", title="", duration=9, parts=[Part(name="arm")], facts=[Fact(start=1, end=2, kind=kind, part="arm", text=f"{opening}cmd()")]))
    assert any("cmd()" in value for value in read.values())
    assert not any(value.startswith(("=", "+", "-", "@", "\t", "＝")) for value in read.values())
