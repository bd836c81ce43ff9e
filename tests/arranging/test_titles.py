"""Titles: what is done to what, in the host's own words for the parts. Invented talk of several kinds of reel."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.arranging.titles import name_chapters
from pipeline.reading.findings import Findings, Mention
from pipeline.record import Chapter, Fact, Reel, Sentence, Step
from pipeline.trade import load_trade

TRADE = load_trade()


def titled(phase: str, say: list[str], parts: dict[str, str] | None = None, does: list[tuple] = (), facts: list[Fact] = (), reels: list[Reel] = ()) -> str:
    """The title of one chapter. `parts`: plain name → what the host calls it; `does`: (action, part, supply)."""
    said = [Sentence(id=f"s{i}", start=i * 5.0, end=i * 5.0 + 4, text=t, heard=t) for i, t in enumerate(say)]
    ids = [s.id for s in said]
    mentions = [Mention(group="part", name=name, surface=called, sentence=s.id, start=s.start, end=s.end)
                for name, called in (parts or {}).items() for s in said if called in s.text.lower()]
    steps = [Step(id=f"t{i}", start=0, end=1, do=do, part=part, supply=supply[0] if supply else None, text="", sentences=ids[:1])
             for i, (do, part, *supply) in enumerate(does)]
    found = Findings(mentions=mentions, steps=steps, facts=[f.model_copy(update={"sentences": ids[:1]}) for f in facts],
                     reels=[r.model_copy(update={"sentences": ids[:1]}) for r in reels])
    return name_chapters([Chapter(start=0, title="", phase=phase, sentences=ids)], said, found, TRADE)[0].title


def test_parts_stand_in_the_order_in_which_they_come_up():
    title = titled("disassembly", ["The handle comes off, and then the rotor lifts away."], {"rotor": "rotor", "handle": "handle"},
                   [("remove", "rotor"), ("remove", "handle")])
    assert title == "Handle and rotor off"


def test_a_part_goes_by_the_name_that_the_host_gives_it():
    star = next(t for t in TRADE.terms if "star" in t.also)
    assert titled("reassembly", ["The star threads back on."], {star.name: "star"}, [("install", star.name)]) == "Star back on"


def test_a_word_for_many_things_is_spelled_out():
    does = [("remove", "rotor nut"), ("remove", "rotor nut")]
    assert titled("disassembly", ["This holds the rotor.", "And that nut is off."], {"rotor nut": "nut"}, does) == "Rotor nut off"
    assert titled("disassembly", ["And that nut is off."], {"rotor nut": "nut"}, does) == "Nut off"  # nobody has said that there is a rotor


def test_small_stuff_gives_way_to_what_it_holds():
    title = titled("disassembly", ["Out come the plate screws and the spool lifts out."], {"side plate screw": "plate screws", "spool": "spool"},
                   [("remove", "side plate screw"), ("remove", "spool")])
    assert title == "Spool out"


def test_a_name_that_no_list_knows_may_be_misheard_and_stays_out():
    assert titled("disassembly", ["The locks crew is off."], {"locks crew": "locks crew"}, [("remove", "locks crew")]) == "Taking it apart"


def test_many_parts_of_one_assembly_go_by_its_name():
    drag = [t.name for t in TRADE.terms if t.group == "part" and t.assembly == "drag" and "washer" in t.name][:4]
    assert len(drag) == 4
    title = titled("reassembly", [f"The {name} goes on." for name in drag], {n: n for n in drag}, [("install", n) for n in drag])
    assert title == "Drag back together"


def test_oil_and_grease_each_with_its_part():
    does = [("lubricate", "pinion gear", "marine grease"), ("lubricate", "spool bearing", "reel oil")]
    assert titled("lubrication", ["Grease on the pinion gear, oil in the spool bearing."], {"pinion gear": "pinion gear", "spool bearing": "spool bearing"},
                  does) == "Grease for the pinion gear, oil for the spool bearing"


def test_half_of_the_lubrication_is_not_told_as_the_whole():
    title = titled("lubrication", ["Grease on the pinion gear.", "The rest gets oil."], {"pinion gear": "pinion gear"}, [("lubricate", "pinion gear", "grease")])
    assert title == "Oil and grease for the pinion gear"


@pytest.mark.parametrize("note, title", [
    ("the main gear is chipped", "What's wrong with the main gear"),
    ("no chips on the main gear", "Checking the main gear"), ("not one of them is chipped", "Checking the main gear")])
def test_trouble_is_named_and_its_absence_is_not(note, title):
    fact = Fact(start=0, end=1, kind="condition", part="main gear", text=note)
    assert titled("inspection", ["Let's have a look at the main gear, the main gear is what I came for."], {"main gear": "main gear"}, facts=[fact]) == title


@pytest.mark.parametrize("say, title", [
    (["My uncle had a Merrow 6 once."], "A story: my uncle's Merrow 6"),
    (["There was a Merrow 6 in a shed."], "A story: the Merrow 6"),
])
def test_an_aside_says_whose_reel_it_was(say, title):
    assert titled("aside", say, reels=[Reel(model="Merrow 6", role="mentioned")]) == title


def test_what_is_tried_at_the_end():
    assert titled("testing", ["Hook the scale on and pull, the drag lets go at four pounds.", "Crank it, smooth."]) == "Testing the drag and how it turns"
    assert titled("testing", ["Well, here goes."]) == "Trying it out"


@settings(max_examples=30, deadline=None)
@given(st.lists(st.sampled_from(["disassembly", "aside", "cleaning", "closing", "introduction"]), min_size=1, max_size=25))
def test_no_two_titles_are_alike_however_many_say_nothing(phases):
    said = [Sentence(id=f"s{i}", start=i * 20.0, end=i * 20.0 + 19, text="Right.", heard="Right.") for i in range(len(phases))]
    chapters = [Chapter(start=s.start, title="", phase=p, sentences=[s.id]) for s, p in zip(said, phases)]
    titles = [c.title for c in name_chapters(chapters, said, Findings(), TRADE)]
    assert len(set(titles)) == len(titles) and all(titles)


def test_what_was_worked_on_is_known_by_the_words_of_the_step():
    does = [("remove", "worm"), ("remove", "line guide")]  # a step calls a part as the host does
    title = titled("disassembly", ["The line guide comes off.", "Then the worm slides out.", "The spool stays, the spool is fine, leave the spool."],
                   {"line guide": "line guide", "worm shaft": "worm", "spool": "spool"}, does)
    assert title == "Line guide and worm off"


def test_a_bare_word_stays_bare_where_the_steps_say_no_more():
    title = titled("disassembly", ["That plate comes off.", "And the pawl."], {"back plate": "plate", "level wind pawl": "pawl"}, [("remove", "plate"), ("remove", "pawl")])
    assert title == "Plate and pawl off"


def test_a_spool_before_a_rotor_comes_off_and_one_in_a_frame_out():
    does = [("remove", "spool")]
    assert titled("disassembly", ["Lift the spool off the rotor."], {"spool": "spool"}, does) == "Spool off"
    assert titled("disassembly", ["Pull the spool."], {"spool": "spool"}, does) == "Spool out"


def test_a_title_begins_with_what_is_seen_first():
    parts = ["handle", "yoke", "main gear", "pinion gear"]
    talk = ["The handle comes off.", *(f"The {p}, look at that {p}, the {p} comes out." for p in parts[1:])]
    assert titled("disassembly", talk, {p: p for p in parts}, [("remove", p) for p in parts]).startswith("Handle, ")


def test_a_chapter_that_moves_very_many_parts_is_told_by_its_ends():
    parts = ["pinion gear", "main gear", "yoke", "bridge", "side plate", "spool", "star drag wheel", "handle"]
    title = titled("reassembly", [f"The {p} goes back." for p in parts], {p: p for p in parts}, [("install", p) for p in parts])
    assert title == "Back together, from the pinion gear to the handle"


def test_what_was_only_put_back_was_not_mended():
    fact = Fact(start=0, end=1, kind="condition", part="yoke", text="the yoke was bent")
    does = [("install", "main gear"), ("install", "yoke")]
    assert titled("repair", ["The main gear goes on.", "The yoke is straight again."], {"main gear": "main gear", "yoke": "yoke"}, does, [fact]) == "Putting the yoke right"
    assert titled("repair", ["The main gear goes on."], {"main gear": "main gear"}, does[:1]) == "Putting it right"


@pytest.mark.parametrize("say", ["I had an uncle with one of those.", "It puts me in mind of my uncle."])
def test_whose_story_it_is(say):
    assert titled("aside", [say]) == "A story about my uncle"
