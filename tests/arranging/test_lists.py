"""Mentions gathered: one entry a thing, its moments in order, its numbers where they were said."""

from pipeline.arranging.lists import list_terms
from pipeline.reading.findings import Mention
from pipeline.record import Fact
from pipeline.trade import load_trade


def mention(name: str, at: float, group: str = "part", **more) -> Mention:
    return Mention(group=group, name=name, names=[name, *more.pop("also", [])], sentence=f"s{at:g}", start=at, end=at + 1, **more)


def test_one_entry_a_thing_with_all_its_moments():
    lists = list_terms([mention("click tongue", 1, also=["clicker tongue"]), mention("click tongue", 5)], load_trade())
    [part] = lists.parts
    assert part.name == "click tongue" and "clicker tongue" in part.names
    assert part.at == [(1, 2), (5, 6)] and part.sentences == ["s1", "s5"]


def test_groups_stay_apart():
    lists = list_terms([mention("spool", 1), mention("pick", 2, "tool"), mention("rag", 3, "supply")], load_trade())
    assert [[x.name for x in g] for g in (lists.parts, lists.tools, lists.supplies)] == [["spool"], ["pick"], ["rag"]]


def test_named_twice_in_a_sentence_is_one_moment():
    [part] = list_terms([mention("spool", 1), mention("spool", 1)], load_trade()).parts
    assert part.at == [(1, 2)]


def test_the_count_said_most_stands():
    [part] = list_terms([mention("pillar", 1, qty=4), mention("pillar", 2, qty=3), mention("pillar", 3, qty=3), mention("pillar", 4)], load_trade()).parts
    assert part.qty == 3


def test_a_number_spoken_for_a_part_stands_beside_it():
    fact = Fact(start=1, end=2, kind="part_number", part="pillar", text="", value="31-204")
    [part] = list_terms([mention("pillar", 1)], load_trade(), [fact]).parts
    assert part.part_number == "31-204"


def test_often_named_is_surer():
    once, often = (list_terms([mention("pillar", n, confidence=0.6) for n in range(count)], load_trade()).parts[0].confidence for count in (1, 4))
    assert once < often <= 0.95
