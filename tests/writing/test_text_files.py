"""transcript.md, ledger.md, questions.md, description.txt."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline import corrections
from pipeline.record import Chapter, Episode, LedgerLine, Mend, Named, Sentence
from pipeline.writing import WritingSettings
from pipeline.writing.chapters import published
from pipeline.writing.description import description
from pipeline.writing.ledger import ledger
from pipeline.writing.questions import questions
from pipeline.writing.transcript import transcript

from .rich import rich_episode

SETTINGS = WritingSettings()


def told(text: str, *mends: Mend, url: str | None = None) -> str:
    episode = Episode(id="x", title="T", url=url, duration=9, sentences=[Sentence(id="s1", start=61, end=64, text=text, heard="", mends=list(mends))])
    return transcript(episode, SETTINGS).splitlines()[-1]


def test_a_mend_keeps_what_was_heard_in_sight():
    mend = Mend(**{"from": "bevel", "to": "belleville"}, why="sounds alike")
    assert told("One belleville washer.", mend) == "\\[1:01\\] One **belleville** (~~bevel~~) washer."


def test_two_mends_of_the_same_word_each_find_their_own_place():
    mends = [Mend(**{"from": a, "to": "drag"}, why="") for a in ("drug", "dreg")]
    assert told("The drag on this drag.", *mends) == "\\[1:01\\] The **drag** (~~drug~~) on this **drag** (~~dreg~~)."


def test_a_suggestion_leaves_the_text_and_a_lost_mend_is_still_told():
    suggestion = Mend(**{"from": "bearing", "to": "bushing"}, why="", applied=False)
    lost = Mend(**{"from": "peanut", "to": "pinion"}, why="")
    assert told("A bearing.", suggestion, lost) == "\\[1:01\\] A bearing (or: bushing?). (heard ~~peanut~~, read as pinion)"


@pytest.mark.parametrize("heard", ["bevel", 'a "quoted" one', "``` \n# out of the block", "`" * 9])
def test_how_to_refuse_a_mend_is_told_in_lines_that_the_corrections_take(heard, tmp_path):
    episode = Episode(id="x", title="T", duration=9, sentences=[
        Sentence(id="s1", start=61, end=64, text="One belleville washer.", heard="", mends=[Mend(**{"from": heard, "to": "belleville"}, why="")])])
    block = re.search(r"^(`{3,})json\n(.*)\n\1$", transcript(episode, SETTINGS), re.M | re.S)[2].splitlines()
    (tmp_path / "corrections.json").write_text("[" + ",".join(block) + "]")
    refuse, teach = corrections.load(tmp_path / "corrections.json")
    assert refuse.words == heard and refuse.at == 61 and refuse.drop and teach.set_


def test_times_are_links_where_there_is_an_address():
    assert told("Hello.", url="https://v.example/a?b=1").startswith("[1:01](<https://v.example/a?b=1&t=61>) Hello")


def test_the_worst_stands_first_in_the_ledger_with_both_moments():
    said = ledger(rich_episode(url=None), SETTINGS)
    rows = [line for line in said.splitlines() if line.startswith("| ")][2:]
    assert rows[0].startswith("| rod clamp nut | 1:02 (2) | not shown | **not shown going back**")
    assert [("count differs" in r) for r in rows].index(True) == 5 and rows[-1].endswith("| back on |")
    assert "| belleville washer | 4:40 (4) | 10:33 (3) | **count differs** |" in rows
    assert "7 of 12 lines do not come out even" in said


def test_a_new_part_for_an_old_one_is_nothing_to_look_for():
    lines = [LedgerLine(part="pawl", off=1, status="replaced"), LedgerLine(part="pawl", on=9, status="new")]
    said = ledger(Episode(id="x", title="", duration=10, ledger=lines), SETTINGS)
    assert "| pawl | 0:01 | - | replaced |" in said and "| pawl | - | 0:09 | new |" in said and "All 2 lines come out even" in said


def test_a_pipe_in_a_part_breaks_no_row():
    line = LedgerLine(part="a | b\n| c", off=1, status="not shown going back")
    rows = ledger(Episode(id="x", title="", duration=1, ledger=[line]), SETTINGS).splitlines()
    assert rows[-1].count("|") - rows[-1].count("\\|") == 5


def test_open_questions_first_the_most_asked_on_top():
    said = questions(rich_episode(), SETTINGS)
    assert said.index("Where did the spacer end up? (comment c2, asked 2 times)") < said.index("## Answered: 1")
    assert "[4:42](<https://video.example/watch?v=petrel25&t=282>): In two facing pairs, cup to cup." in said and "## Still open: 1" in said


texts = st.text(max_size=120)


@settings(max_examples=60)
@given(texts, st.lists(texts, max_size=40), st.lists(texts.filter(bool), max_size=40), st.integers(200, 3000))
def test_the_description_never_passes_the_hosts_limit(title, titles, names, limit):
    chosen = WritingSettings(description_length=limit)
    things = [Named(name=n, at=[(i, i + 1)]) for i, n in enumerate(names)]
    episode = Episode(id="x", title=title, duration=4000, chapters=[Chapter(start=i * 60, title=t, phase="aside") for i, t in enumerate(titles)],
                      tools=things, supplies=things)
    said = description(episode, published(episode.chapters, 4000, chosen.chapters), chosen)
    assert len(said) <= limit and "<" not in said and ">" not in said


def test_the_description_holds_summary_chapters_tools_and_supplies():
    episode = rich_episode()
    said = description(episode, published(episode.chapters, episode.duration, SETTINGS.chapters), SETTINGS)
    assert said.startswith("Full service of a Holmquay Petrel 25\nA full service of the Holmquay Petrel 25, step by step.\nThe same service fits: Holmquay Petrel 40.")
    assert "\n\nChapters\n0:00 Welcome\n0:25 Which Petrel this is\n" in said and "\n\nTools\n#1 Phillips screwdriver (2:51)\n" in said
