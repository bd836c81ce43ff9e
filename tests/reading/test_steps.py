"""Steps from bench talk. Sentences and reels are invented; what comes before what is common practice, no published source."""

import pytest

from pipeline.reading import _english, read
from pipeline.reading.clauses import clauses_of
from pipeline.reading.frames import frames_of
from pipeline.record import Sentence
from pipeline.trade import load_trade


def told(*lines: str, title: str = ""):
    sentences = [Sentence(id=f"s{n}", start=n * 5.0, end=n * 5.0 + 4, text=line, heard=line) for n, line in enumerate(lines)]
    return read(sentences, load_trade(), title).steps


AT_WORK = ("Okay, so that's the first half of the job, and I've got it all on the mat in front of me.", "Right, next.")


def done(*lines: str) -> list[tuple[str, str]]:
    """Said in the middle of the job: a talk that begins with an order is seldom a job being done."""
    return [(s.do, s.part) for s in told(*AT_WORK, *lines, "There.", "On we go.")]


@pytest.mark.parametrize("line, step", [
    ("Pop the spool off.", ("remove", "spool")),
    ("The rotor just slides right off.", ("remove", "rotor")),                              # spinning
    ("Handle nut off.", ("remove", "handle nut")),
    ("Unscrew the preset knob.", ("remove", "preset knob")),                                # lever drag
    ("Draw the drum off the pin.", ("remove", "drum")),                                     # centrepin
    ("Fish the pawl spring out with a pick.", ("remove", "pawl spring")),
    ("And that's the palm plate off.", ("remove", "palm plate")),                           # low profile
    ("Off comes the drag cover.", ("remove", "drag cover")),                                # fly
    ("Wipe the spool down with a rag.", ("clean", "spool")),
    ("Scrub the main gear in isopropyl alcohol.", ("degrease", "main gear")),
    ("The pawl gets the toothbrush and the alcohol.", ("degrease", "pawl")),
    ("Two drops of oil in the pinion bearing.", ("lubricate", "pinion bearing")),
    ("Work a little grease into the worm gear.", ("lubricate", "worm gear")),
    ("A thin coat of drag grease on the drag washers.", ("lubricate", "drag washer")),
    ("Put the calipers on the drag washer.", ("measure", "drag washer")),
    ("Turn the pinion till the slots line up with the yoke.", ("align", "pinion")),
    ("Line up the pinion with the yoke.", ("align", "pinion")),
    ("Line up the bridge with the posts.", ("align", "bridge")),
    ("Give the spool a spin.", ("test", "spool")),
    ("Set the drag to four pounds.", ("adjust", "drag")),
    ("Blow the pinion bearing out.", ("dry", "pinion bearing")),
    ("Have a look at the pinion under the loupe.", ("inspect", "pinion")),
    ("Set the bail spring aside.", ("set aside", "bail spring")),
    ("Snug up the handle nut.", ("tighten", "handle nut")),
])
def test_an_idiom_names_its_action(line, step):
    assert step in done(line)


NOT_DONE = [
    "Don't pull the pinion out.",
    "Never oil the drag washers.",
    "If the pinion is worn, you would replace the main gear.",
    "My uncle pulled the spool off his with a hammer.",
    "I already took the handle off last night.",
    "Did I loosen the star first?",
    "The drag washers are greased.",
    "The bearings are oiled, so we leave those.",
    "You could polish the spool.",
    "Some folks take the bail off.",
    "Force the handle nut and you've stripped it.",
    "Overtighten the star and the drag never lets go.",
    "Right, here we go.",
]


@pytest.mark.parametrize("line", NOT_DONE)
def test_what_is_not_done_now_is_no_step(line):
    assert told(*AT_WORK, line, "Let me move the light a bit.", "On we go.") == []


@pytest.mark.parametrize("line", NOT_DONE)
def test_nor_is_it_where_there_is_said_after_it(line):
    assert done(line) == []


@pytest.mark.parametrize("line, step", [
    ("Lift the carbon out, then the metal one.", ("remove", "carbon washer")),
    ("Out of the spool comes the felt, then the steel, then the felt.", ("remove", "felt washer")),
    ("The carbon goes back in first, then the steel one.", ("install", "carbon washer")),
])
def test_what_is_told_by_its_stuff_alone_is_a_washer(line, step):
    assert step in done(line)
    assert not {"carbon", "felt", "steel", "metal one", "steel one"} & {part for _, part in done(line)}


@pytest.mark.parametrize("ahead, between, now, part", [
    ("Then the star comes off.", "Let me just get my light, it is dark in here.", "Star off.", "star"),
    ("In a minute the spool comes off.", "But first a look at the handle, it is loose on its shaft.", "Now lift the spool off.", "spool"),
])
def test_what_is_said_ahead_is_done_where_it_is_told_for_sure(ahead, between, now, part):
    steps = [s for s in told(*AT_WORK, ahead, between, now, "There.") if (s.do, s.part) == ("remove", part)]
    assert len(steps) == 1
    assert steps[0].start >= 20, "the third line begins at 20 s"


@pytest.mark.parametrize("line, tool", [
    ("Put the mic on the drag washer, ten thou.", "micrometer"),
    ("Put the mike on the pinion bearing, and it says four mil.", "micrometer"),
    ("Then the hairdryer on the bridge till it's warm right through.", "hair dryer"),   # one word or two is only how a hearing writes it
])
def test_a_tool_by_its_short_name(line, tool):
    assert [s.tool for s in told(*AT_WORK, line, "There.", "On we go.") if s.tool] == [tool]


def test_a_microphone_measures_nothing():
    steps = told(*AT_WORK, "I'll hold the spool up to the mic, listen, there it is.", "There.", "On we go.")
    assert not [s for s in steps if s.tool or s.do == "measure"]


@pytest.mark.parametrize("lines, part, count", [
    (["The drive gear lifts straight out, and there's a bearing on each end of it.", "Both of those slip off, no puller needed."], "bearing", 2),
    (["Yoke on the two studs.", "Now the yoke springs, one on each post."], "yoke spring", 2),
    (["Push a bearing in each side of the spool."], "bearing", 2),
    (["Three posts on the bridge, and a sleeve on each, so pull those sleeves off."], "sleeve", 3),
    (["Lift the bearing off the end of the shaft."], "bearing", None),
])
def test_one_at_each_of_several_places_is_several(lines, part, count):
    assert {s.qty for s in told(*AT_WORK, *lines, "There.", "On we go.") if s.part.endswith(part)} == {count}


def test_a_list_of_washers_told_by_their_look():
    steps = told(*AT_WORK, "Grease goes on the carbons, thin.", "Now back in the gear, carbon, keyed, carbon, eared, carbon, and the last keyed on top.", "There.", "On we go.")
    assert {(s.part, s.qty) for s in steps if s.do == "install"} == {("carbon washer", 3), ("keyed washer", 2), ("eared washer", None)}


def test_one_and_another_of_a_list_are_two():
    steps = told(*AT_WORK, "Out of the gear comes the thin keyed washer, a carbon, the thick keyed one, and the last carbon.", "There.", "On we go.")
    assert ("keyed washer", 2) in {(s.part, s.qty) for s in steps if s.do == "remove"}


def test_each_of_them_is_as_many_as_were_counted():
    steps = told(*AT_WORK, "Here are two springs, and under them two pawls.", "Lift each pawl off its post.", "There.", "On we go.")
    assert [(s.do, s.qty) for s in steps if s.part == "pawl"] == [("remove", 2)]


@pytest.mark.parametrize("line, part, count", [
    ("Off the shaft come the belleville washers, four of them, and look how they sit, in pairs, cup to cup.", "belleville washer", 4),
    ("Off come the side plate screws, six of them.", "side plate screw", 6),
    ("Out come the clutch rollers, seven, into the dish.", "clutch roller", 7),
])
def test_a_count_may_come_right_after(line, part, count):
    assert [s.qty for s in told(*AT_WORK, line, "There.", "On we go.") if s.do == "remove" and s.part == part] == [count]


@pytest.mark.parametrize("line, stays", [
    ("The plate comes away with the main gear still in it.", "main gear"),
    ("Lift the bridge off with the pinion still on it.", "pinion"),
    ("The rotor comes off, the bail still attached.", "bail"),
])
def test_what_is_still_in_it_does_not_come_off(line, stays):
    assert any(do == "remove" for do, _ in done(line))
    assert ("remove", stays) not in done(line)


def test_one_sentence_with_three_steps():
    assert done("Handle nut off, handle off, star off.")[:2] == [("remove", "handle nut"), ("remove", "handle")]
    assert len(done("Handle nut off, handle off, star off.")) == 3


def test_one_step_told_over_several_sentences_is_one():
    steps = told("There are four bridge screws.", "Back 'em out with a screwdriver.", "Out they come.")
    assert [(s.do, s.part, s.qty) for s in steps] == [("remove", "bridge screw", 4)]
    assert steps[0].tool == "screwdriver" and set(steps[0].sentences) >= {"s1", "s2"}


def test_a_count_corrected_later_counts():
    steps = told("Right, the side plate.", "It's held by five screws, no, six side plate screws.", "Back all the side plate screws out with a screwdriver.")
    assert ("side plate screw", 6) in [(s.part, s.qty) for s in steps]


def test_a_pronoun_is_the_part_in_front_of_it():
    assert done("And the spacer sleeve, that pulls straight out.") == [("remove", "spacer sleeve")]


@pytest.mark.parametrize("lines, step", [
    (("This black ring is the one way clutch.", "Three screws hold it, number one Phillips, out they come."), ("remove", "one way clutch screw", 3)),
    (("Then the side cover, four screws, and one of them is longer.", "Out they all come."), ("remove", "side cover screw", 4)),
    (("On the front of the rotor sits a nut, twelve millimetre socket.", "Undo the nut and lift it off."), ("remove", "rotor nut", None)),
    (("The bridge is held by three screws.", "Back the screws out."), ("remove", "bridge screw", 3)),
    (("Next is the pinion and it rides in a bearing.", "Push the bearing out from behind."), ("remove", "pinion bearing", None)),
])
def test_a_bare_word_has_the_name_of_what_it_belongs_to_with_its_count(lines, step):
    assert step in [(s.do, s.part, s.qty) for s in told(*AT_WORK, *lines, "There.", "On we go.")]


def test_a_bare_word_stays_bare_where_nothing_tells_which_piece_it_is():
    steps = told(*AT_WORK, "There's a screw here, and I don't know where it's from.", "Put the screw in.", "There.", "On we go.")
    assert [s.part for s in steps] == ["screw"]


def test_two_actions_of_one_piece_come_in_the_order_of_the_work():
    steps = [(s.do, s.part) for s in told(*AT_WORK, "Screw the drag knob on and snug it up.", "There.", "On we go.")]
    assert steps == [("install", "drag knob"), ("tighten", "drag knob")]


def test_what_is_loosened_is_loosened_before_it_comes_off():
    steps = told(*AT_WORK, "On the front of the rotor sits a nut.", "Twelve millimetre socket on the nut, and you loosen it clockwise, since it's a reverse thread.", "And the rotor nut comes off.", "There.")
    order = [s.do for s in steps if s.part == "rotor nut"]
    assert order == ["loosen", "remove"]
    assert [s.start for s in steps] == sorted(s.start for s in steps)


def test_what_is_off_goes_back_on():
    steps = done("Take the rotor nut off.", "The rotor lifts off.", "Clean the rotor with a rag.", "Now it's time to put it back.", "Rotor on.", "Then the nut goes on.")
    assert steps[-2:] in ([("install", "rotor"), ("install", "rotor nut")], [("install", "rotor"), ("install", "nut")])


def test_a_list_counts_what_it_names_one_by_one():
    steps = told(*AT_WORK, "Tip the gear over and out they fall, a steel washer, a leather washer, a steel washer, a leather washer and the last leather washer.")
    assert [s.qty for s in steps if s.do == "remove" and s.part == "steel washer"] == [2]


def test_what_comes_in_pairs_is_two_where_nobody_counts_it():
    """Common practice, no published source: a clutch yoke has two springs, a spool two bearings. What the host counts goes before."""
    steps = told(*AT_WORK, "Pull the yoke springs out with tweezers.", "Pull all three of the spool bearings out.", "Degrease the side plate screws in alcohol.", "There.")
    assert [(s.part, s.qty) for s in steps] == [("yoke spring", 2), ("spool bearing", 3), ("side plate screw", None)]


def test_what_was_counted_once_has_its_count_everywhere():
    """Said of all of them: "the bridge screws get a drop of oil" is four of them."""
    steps = told(*AT_WORK, "Four bridge screws, and out they come.", "Degrease the bridge screws in isopropyl alcohol.", "There.")
    assert [(s.do, s.qty) for s in steps if s.part == "bridge screw"] == [("remove", 4), ("degrease", 4)]


@pytest.mark.parametrize("line, tool", [
    ("Lift the clip out with a lolly stick.", "lolly stick"),
    ("Undo the side plate screws with a flat blade.", "flat blade screwdriver"),
    ("Undo the side plate screws with a Phillips.", "Phillips screwdriver"),
    ("Take the handle nut off with a ten millimetre spanner.", "10 mm spanner"),
    ("Scrub the main gear with an old toothbrush.", "toothbrush"),
    ("Pick the spring out with the tweezers.", "tweezers"),
    ("Take the handle nut off with a fourteen millimetre ring spanner.", "14 mm ring spanner"),
    ("The little screwdriver'll do for the side plate screws, so out they come with it.", "little screwdriver"),
])
def test_a_tool_goes_by_the_hosts_own_word(line, tool):
    assert tool in [s.tool for s in told(*AT_WORK, line, "There.")]


@pytest.mark.parametrize("before, tool", [("Grab the tools.", "10 mm wrench"), ("Grab a spanner, any spanner.", "10 mm spanner")])
def test_a_tool_told_by_its_size_alone_goes_by_the_word_the_host_has_for_such(before, tool):
    assert ("handle nut", tool) in [(s.part, s.tool) for s in told(*AT_WORK, before, "Ten millimetre on the handle nut, and off it comes.", "There.")]


def test_a_tool_named_with_the_part_goes_along():
    (step,) = told("Take the handle nut off with a wrench.")
    assert step.tool == "wrench"


def test_where_a_thing_belongs_is_no_fitting_while_tearing_down():
    steps = done("The spool lifts off.", "The long ones go in the pillars.", "The bridge comes out.")
    assert ("install", "pillar") not in steps and len(steps) == 2


def test_a_wrong_step_caught_is_marked_undone():
    steps = told("Take the side plate off.", "The pinion comes out.", "Set the pinion back in.", "Side plate back on.", "No, that's wrong, side plate off again.", "Then side plate back on.")
    assert [s.undone for s in steps if s.part == "side plate"][1:3] == [True, True]


def test_what_the_talk_has_none_of_is_put_on_nothing():
    steps = [s for s in told(*AT_WORK, "Gear grease on the main gear.", "The worm gets well, no grease, because grease keeps the sand.", "There.", "On we go.") if s.do == "lubricate"]
    assert [(s.part, s.supply) for s in steps] == [("main gear", "gear grease"), ("worm", None)]
    sleeve = told(*AT_WORK, "So, the clutch.", "No grease in here.", "Ever.", "Grease makes the rollers slip.", "A smear on the sleeve with a toothpick.", "There.", "On we go.")
    assert {s.supply for s in sleeve if s.do == "lubricate"} == {None}


@pytest.mark.parametrize("lines, new", [
    (["The pawl comes out.", "New pawl, drop it down the hole."], True),
    (["The pawl comes out.", "It's worn, so I've got a fresh pawl here.", "Drop it in the hole."], True),
    (["The pawl comes out.", "The pawl's like new.", "Drop the pawl back in."], False),
    (["The pawl comes out.", "No new pawl for this one.", "Drop the pawl back in."], False),
    (["Lift the pawl out.", "That old one is shot, so it goes in the bin.", "I've got a new pawl here from the kit.", "Drop it in its hole."], True),
    (["Lift the pawl out.", "A brush and some solvent, and it cleans up nicely.", "Drop it back in its hole."], False),
])
def test_a_new_piece_is_told_from_the_one_that_came_off(lines, new):
    steps = [s for s in told(*AT_WORK, *lines, "There.", "On we go.") if s.do == "install"]
    assert [(s.part, s.new) for s in steps] == [("pawl", new)]


def test_particles_point_the_way():
    def way(line):
        doc = _english()(line)
        doc.spans["terms"] = []
        return [f.way for c in clauses_of(doc) for f in frames_of(c)]

    assert way("Pull it out.") == way("Out they come.") == way("She comes away.") == [-1]
    assert way("Drop it in.") == way("It goes back on.") == [1]
    assert way("Keep them in order.") == []


def test_steps_carry_where_they_were_said():
    (step,) = told(AT_WORK[0], "Pull the spool off.")
    assert step.sentences == ["s1"] and 5 <= step.start <= step.end <= 10 and 0 < step.confidence <= 1


def test_an_order_after_a_greeting_is_a_step():
    (step,) = told("Good morning.", "Pull the spool off.")
    assert step.sentences == ["s1"] and 5 <= step.start <= step.end <= 10 and 0 < step.confidence <= 1


@pytest.mark.parametrize("line", ["", ".", ", , and", "and then and then", "out", "'em 'em 'em", "of of of the the", "🎣 <script>alert(1)</script>", "off " * 400])
def test_any_talk_is_read_without_harm(line):
    for step in told(line):
        assert step.part


def test_a_step_knows_its_phase():
    steps = told("The spool comes out.", "Clean the spool with a rag.", "A drop of oil on the pinion bearing.", "Spool back in.", "Give the spool a spin.")
    assert {s.do: s.phase for s in steps} == {"remove": "disassembly", "clean": "cleaning", "lubricate": "lubrication", "install": "reassembly", "test": "testing"}


def test_several_things_named_in_a_row_share_what_is_done():
    steps = done("Now for the oil.", "A drop of oil on the worm shaft and the pinion bearing.")
    assert {("lubricate", "worm shaft"), ("lubricate", "pinion bearing")} <= set(steps)


def test_a_place_on_a_part_is_the_part():
    assert done("Wipe the teeth of the main gear with a rag.") == [("clean", "main gear")]


@pytest.mark.parametrize("line, step", [
    ("The cork disc can be peeled off the spindle.", ("remove", "cork disc")),
    ("The drum gets wiped with a rag.", ("clean", "drum")),
    ("The spool is slid back on.", ("install", "spool")),
])
def test_a_passive_is_done_to_its_subject(line, step):
    assert step in done(line)


def test_a_nut_spanner_turns_no_screw_and_a_solvent_dries_nothing():
    steps = told("Handle first, so out comes the little lock screw and then the nut, 10 mm spanner.", "Flush the bearing with alcohol, then let it dry.")
    assert all("spanner" not in (s.tool or "") and "wrench" not in (s.tool or "") for s in steps if "screw" in s.part)
    assert all(s.supply != "alcohol" for s in steps if s.do == "dry")


def test_a_piece_told_as_one_stays_one():
    steps = told("Okay, back together.", "Then the drag plate goes on, gear side up.", "Four bellows on the shaft, cup to cup.")
    assert all(s.qty in {None, 1} for s in steps if s.part == "drag plate")
