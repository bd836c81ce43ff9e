"""What speaks for a step: chances, tools that stay in the hand, and parts that the trade's list lacks. Sentences and reels are invented."""

from hypothesis import given, strategies as st

from pipeline.reading import _english, read
from pipeline.reading.evidence import confidence, odds
from pipeline.reading.offers import REACH, Offers
from pipeline.reading.slots import aids_of, slots_of
from pipeline.reading.ruled import ruled_steps, tell, tide_of, turns
from pipeline.reading.signs import Signs
from pipeline.reading.steps import WORKED_ON, unlisted
from pipeline.reading.talk import WORDS, Talk
from pipeline.reading.findings import Mention
from pipeline.record import Sentence, Step
from pipeline.trade import data, load_trade


def sentences(*lines: str) -> list[Sentence]:
    return [Sentence(id=f"s{n}", start=n * 5.0, end=n * 5.0 + 4, text=line, heard=line) for n, line in enumerate(lines)]


@given(st.dictionaries(st.sampled_from(sorted(data("steps")["weights"])), st.floats(-1e6, 1e6)), st.floats(0, 1), st.floats(0, 1))
def test_a_likelier_action_is_never_less_sure(row, one, other):
    low, high = sorted((one, other))
    assert 0 <= confidence(row | {"chance": odds(low)}) <= confidence(row | {"chance": odds(high)}) <= 1


def test_a_tool_named_before_goes_with_what_is_done_with_it():
    steps = read(sentences("Here's the side plate.", "I'll use a number two Phillips for this.", "Four screws hold the side plate.", "Out they come."), load_trade()).steps
    assert any(s.do == "remove" and "screw" in s.part and s.qty == 4 and s.tool == "#2 Phillips screwdriver" for s in steps)


def test_a_solvent_makes_it_degreasing():
    steps = read(sentences("Wipe the side plate down with a rag and alcohol."), load_trade()).steps
    assert [(s.do, s.part) for s in steps] == [("degrease", "side plate")] and steps[0].supply in {"alcohol", "rag"}


def test_what_it_is_washed_with_says_how():
    """The annotation's rule: with a solvent a part is degreased, with anything else cleaned."""
    before = "Right, that is the last of the parts on the mat, so now we wash."
    washed = lambda line: {(s.do, s.part) for s in read(sentences(before, line, "On we go."), load_trade()).steps}  # noqa: E731
    assert ("degrease", "main gear") in washed("Main gear goes in the mineral spirits and gets the brush.")
    assert ("clean", "main gear") in washed("Main gear goes in the soapy water and gets the brush.")


def test_what_is_surely_worked_on_is_a_part_though_no_list_has_it():
    def step(part, sure):
        return Step(id="st1", start=1.0, end=2.0, do="remove", part=part, text=f"Remove the {part}.", phase="disassembly", sentences=["s0"], confidence=sure)

    listed = [Mention(group="part", name="side plate screw", names=["side plate screw", "screw"], sentence="s0", start=1.0, end=2.0)]
    assert [m.name for m in unlisted(listed, [step("planet", WORKED_ON)])] == ["planet"]
    assert unlisted(listed, [step("planet", WORKED_ON - 0.01), step("screw", 0.9), step("bridge screw", 0.9)]) == []  # too unsure, listed, perhaps listed by another name


def test_nothing_out_of_reach_is_offered():
    lines = sentences("I've got a wrench here.", *["And on we go with the spool."] * (REACH * WORDS // 7 + 2), "Off it comes.")
    talk = Talk.of(lines, _english(), load_trade(), "")
    told = tell(talk)
    tide = tide_of(told, len(lines))
    seen = Signs(talk, told, ruled_steps(talk, told, tide), [], [tide(n) for n in range(len(lines))])
    slots, aids = slots_of(told, talk.docs), aids_of(told, talk.docs)
    helps = Offers(seen, aids)
    assert aids and helps.to(slots[0]) == [0] and helps.to(slots[-1]) == []
    rows = helps.signs(slots[0], [0])
    assert len(rows) == 1 and all(isinstance(x, float) for x in rows[0])


def test_what_turns_what():
    """Common practice, no published source."""
    assert turns("#2 Phillips screwdriver", "side plate screw") and turns("10 mm wrench", "handle nut") and turns("tweezers", "spring")
    assert not any(turns(tool, "side plate screw") for tool in ("10 mm wrench", "tweezers", "safety glasses")) and not turns("screwdriver", "handle nut")
