"""One word for a part, all through the guide: the host's."""

from pipeline.record import Episode, LedgerLine, Part, Sentence
from pipeline.writing import WritingSettings
from pipeline.writing.calling import Calling
from pipeline.writing.guide import build_guide

from .test_guide import fact, find, step


def calling(parts, steps=(), said=()) -> Calling:
    sentences = [Sentence(id=f"s{i}", start=i, end=i + 1, text=text, heard=text) for i, text in enumerate(said)]
    return Calling(Episode(id="x", title="", duration=900, parts=parts, steps=list(steps), sentences=sentences))


def test_the_word_of_the_steps_is_the_word_of_the_lists():
    plate = Part(name="pressure plate", names=["pressure plate", "drag plate"])
    guide = build_guide(Episode(id="x", title="", duration=900, parts=[plate], steps=[step(10, "remove", "drag plate"), step(300, "install", "drag plate")],
                                facts=[fact(12, "orientation", "Gear side up", "pressure plate"), fact(400, "condition", "Blue from the heat", "pressure plate")],
                                ledger=[LedgerLine(part="drag plate", off=10, on=300, status="back on")]), WritingSettings())
    assert {r.name for r in guide.orientation} | {p.name for p in guide.parts} | {t.part for t in guide.tray} == {"drag plate"}
    assert find(guide, "Remove the drag plate").notes[0].text == "Gear side up"  # known as one part, told or listed


def test_two_words_for_one_part_become_one_and_plain_speech_stays():
    part = Part(name="main gear", names=["main gear", "drive gear", "gear"])
    words = calling([part], [step(10, "remove", "drive gear"), step(20, "clean", "drive gear"), step(30, "install", "main gear"), step(40, "lubricate", "gear")])
    assert words.word("main gear") == "drive gear" and words.same("main gear") == "drive gear" and words.same("gear") == "gear"


def test_a_word_that_several_parts_go_by_names_none_of_them():
    parts = [Part(name="handle nut", names=["nut"]), Part(name="rotor nut", names=["nut"])]
    words = calling(parts, [step(10, "remove", "nut")])
    assert [words.word("handle nut"), words.word("rotor nut"), words.same("nut"), words.plain("nut")] == ["handle nut", "rotor nut", "nut", "nut"]


def test_a_part_in_no_step_is_called_as_the_talk_calls_it():
    names = ["stand", "reel foot", "foot"]
    heard = Part(name="stand", names=names, sentences=["s0"], confidence=0.9)
    assert calling([heard], said=["A letter stamped under the foot."]).word("stand") == "foot"
    assert calling([heard.model_copy(update={"confidence": 1.0})], said=["A letter stamped under the foot."]).word("stand") == "stand"  # named so by the host
    assert calling([Part(name="stand", names=names)]).word("stand") == "stand"


def test_said_of_a_part_is_no_name_for_it():
    washer = Part(name="carbon drag washer", names=["carbon drag washer", "carbons", "carbon ones", "carbon set"], sentences=["s0"])
    assert calling([washer], said=["The carbon set is better, the carbons last."]).word("carbon drag washer") == "carbon drag washer"


def test_a_text_of_the_hosts_own_stays():
    part = Part(name="main gear", names=["main gear", "drive gear"])
    steps = [step(10, "remove", "main gear", text="Lift her out."), step(20, "clean", "drive gear", text="Clean the drive gear."), step(30, "clean", "drive gear", text="Clean the drive gear."),
             step(40, "install", "main gear", text="Fit the main gear.")]
    guide = build_guide(Episode(id="x", title="", duration=900, parts=[part], steps=steps), WritingSettings())
    assert find(guide, "Lift her out.") and find(guide, "Clean the main gear.")
