"""Where chapters begin, what phase they are, and how they are called, over an invented service of a spinning reel."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nltk.metrics.segmentation import pk, windowdiff

from pipeline.arranging.chapters import find_chapters
from pipeline.arranging.evidence import OPENS_USUALLY, weigh_up
from pipeline.arranging.segments import PHASES, believe, load_weights
from pipeline.arranging.settings import ChapterSettings
from pipeline.reading.findings import Findings, Mention, Sight
from pipeline.record import Fact, Reel, Sentence, Step
from pipeline.trade import load_trade

TRADE = load_trade()
SERVICE = {
    "introduction": ["Hello and welcome back to the bench.", "This one belongs to a neighbour and it came in grinding.", "It's raining out there today.", "He fishes it off the rocks every week.",
                     "So it has had its share of salt.", "Let's see what we can do for it.", "I've got the kettle on and an hour to spare."],
    "identification": ["So what we've got here is the Osmar Dunnock 30.", "The gear ratio is five to one and it weighs ten ounces.", "The Dunnock 40 is the same reel, so follow along.", "It's the second version, with the metal foot.",
                       "The number stands on the foot, there.", "They made it for six years or so.", "Right hand or left hand, it's all the same in there."],
    "disassembly": ["Okay so the handle unscrews and comes off.", "The drag knob comes off next.", "Then the spool lifts out.", "Three screws out and the rotor pulls off.", "The side plate comes away.", "And the main gear lifts out.",
                    "The bearing slides off the shaft.", "And the pinion comes out the front.", "That's everything off, in order in the tray."],
    "cleaning": ["Right, everything goes in the alcohol and gets a scrub with the toothbrush.", "Rinse it, and let it dry.", "Wipe the old grease off with a rag.", "The main gear gets the toothbrush in its teeth.", "Swish the bearing round in the alcohol.",
                 "See how brown that is.", "A second bath for the rotor.", "And it all dries on the towel."],
    "lubrication": ["Now the grease, a thin coat on the main gear.", "One drop of oil in the bearing.", "A smear of grease on the shaft, less is more.", "A drop of oil on the pinion.", "Grease on the side plate's post.", "And a bit of oil under the handle knob."],
    "reassembly": ["Okay so the bearing goes back on.", "The main gear drops in.", "The side plate goes back on.", "The rotor goes back on with its three screws.", "The spool drops in and the drag knob threads on.", "The handle screws in, snug."],
    "testing": ["Now let's try it.", "Spin the handle and listen.", "Give the rotor a turn by hand.", "No grinding any more.", "And the drag pulls smooth."],
    "closing": ["So that's it for today, thanks for watching.", "Write to me below if yours is another one.", "Next week there's a centrepin on the bench.", "Look after your reels.", "See you next week, bye."],
}
DOES = {"disassembly": "remove", "cleaning": "degrease", "lubrication": "lubricate", "reassembly": "install", "testing": "test"}
PARTS = ["handle", "drag knob", "spool", "rotor", "side plate", "main gear", "bearing", "pinion", "main shaft"]


def sight(sentence: str, phase: str, opens: bool) -> Sight:
    return Sight(sentence=sentence, phases=dict.fromkeys(PHASES, 0.1 / (len(PHASES) - 1)) | {phase: 0.9}, opens=0.8 if opens else 0.01)


def talk() -> tuple[list[Sentence], Findings, dict[str, float]]:
    """The service as a reader sees it who is fairly sure."""
    sentences, steps, mentions, sights, starts, at = [], [], [], [], {}, 0.0
    for phase, lines in SERVICE.items():
        starts[phase] = at
        for line in lines:
            s = Sentence(id=f"s{len(sentences) + 1}", start=at, end=at + 6, text=line, heard=line)
            sentences.append(s)
            sights.append(sight(s.id, phase, at == starts[phase]))
            for part in (p for p in PARTS if p in line):
                mentions.append(Mention(group="part", name=part, surface=part, sentence=s.id, start=s.start, end=s.end))
                if phase in DOES:
                    steps.append(Step(id=f"t{len(steps)}", start=s.start, end=s.end, do=DOES[phase], part=part, text="", sentences=[s.id]))
            at += 7
    reel = Reel(maker="Osmar", model="Dunnock 30", role="on_bench")
    fact = Fact(start=0, end=1, kind="condition", text="it grinds", sentences=["s2"])
    return sentences, Findings(mentions=mentions, steps=steps, reels=[reel], facts=[fact], sights=sights), starts


def test_a_service_falls_into_its_phases_in_order():
    sentences, findings, starts = talk()
    chapters = find_chapters(sentences, findings, TRADE)
    found = [c.phase for c in chapters]
    assert found == [p for p in SERVICE if p in found]
    assert {"introduction", "disassembly", "reassembly", "closing"} <= set(found)
    near = sum(any(abs(c.start - starts[c.phase]) <= 15 for c in chapters if c.phase == phase) for phase in starts)
    assert near >= 6


def test_titles_say_what_is_done_to_what_and_no_two_are_alike():
    titles = [c.title for c in find_chapters(*talk()[:2], TRADE)]
    assert "Which Dunnock this is" in titles
    assert any("spool" in t and t.endswith(("off", "out")) for t in titles)
    assert len(set(titles)) == len(titles)


def test_a_story_is_a_chapter_of_its_own_not_a_step_of_the_job():
    sentences, findings, _ = talk()
    at = sentences[-1].end
    middle = next(i for i, s in enumerate(sentences) if "rotor pulls off" in s.text) + 1
    told = ["My uncle had a reel like that once.", "He dropped the rotor in the harbour and dived for it.", "He never found it and he talks about it to this day."]
    story = [Sentence(id=f"x{i}", start=0, end=1, text=t, heard=t) for i, t in enumerate(told)]
    row = [*sentences[:middle], *story, *sentences[middle:]]
    for i, s in enumerate(row):
        s.start, s.end = i * 15.0, i * 15.0 + 14
    findings.stories = [s.id for s in story]
    findings.sights += [sight(s.id, "aside", s is story[0]) for s in story]
    asides = [c for c in find_chapters(row, findings, TRADE) if c.phase == "aside"]
    assert [c.sentences for c in asides] == [["x0", "x1", "x2"]] and at > 0


def test_nothing_said_is_no_chapter():
    assert find_chapters([], Findings(), TRADE) == []


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(sum(SERVICE.values(), [])), st.floats(0.5, 30)), min_size=1, max_size=60))
def test_chapters_begin_at_zero_ascend_stand_at_sentences_and_cover_all(lines):
    sentences, at = [], 0.0
    for i, (line, length) in enumerate(lines):
        sentences.append(Sentence(id=f"s{i}", start=at, end=at + length, text=line, heard=line))
        at += length
    chapters = find_chapters(sentences, Findings(), TRADE)
    starts = [c.start for c in chapters]
    assert starts[0] == 0 and starts == sorted(set(starts))
    assert all(b - a >= 10 for a, b in zip(starts, starts[1:]))
    assert [i for c in chapters for i in c.sentences] == [s.id for s in sentences]
    assert len({c.title for c in chapters}) == len(chapters)


@pytest.mark.parametrize("metric", [pk, windowdiff])
def test_our_cut_is_nearer_the_true_one_than_an_even_cut(metric):
    """Pk: Beeferman, Berger and Lafferty 1999; WindowDiff: Pevzner and Hearst 2002; both as nltk computes them."""
    sentences, findings, starts = talk()
    mask = lambda at: "".join("1" if s.start in at and s.start else "0" for s in sentences)
    ours = mask({c.start for c in find_chapters(sentences, findings, TRADE)})
    even = mask({sentences[round(i * len(sentences) / 7)].start for i in range(7)} | set())
    assert metric(mask(set(starts.values())), ours, 2) < metric(mask(set(starts.values())), even, 2)


def folded_story() -> tuple[list[Sentence], Findings]:
    sentences, findings, _ = talk()
    middle = next(i for i, s in enumerate(sentences) if "rotor pulls off" in s.text) + 1
    told = ["My uncle had a reel like that once.", "He dropped the rotor in the harbour and dived for it.", "He never found it and he talks about it to this day."]
    row = [*sentences[:middle], *(Sentence(id=f"x{i}", start=0, end=1, text=t, heard=t) for i, t in enumerate(told)), *sentences[middle:]]
    for i, s in enumerate(row):
        s.start, s.end = i * 15.0, i * 15.0 + 14
    findings.stories = [f"x{i}" for i in range(len(told))]
    return row, findings


def test_a_folded_story_stays_in_the_chapter_before_it():
    row, findings = folded_story()
    named = find_chapters(row, findings, TRADE)
    folded = find_chapters(row, findings, TRADE, ChapterSettings(asides="folded"))
    assert [c.start for c in folded] == [c.start for c in named if c.phase != "aside"]
    assert not any(c.phase == "aside" for c in folded)
    assert [i for c in folded for i in c.sentences] == [s.id for s in row]


def test_what_the_reader_sees_makes_an_opening_and_a_phase_likelier():
    """The same flat sentence over and over: only the reader tells where a story begins."""
    said = [Sentence(id=f"s{i}", start=i * 6.0, end=i * 6.0 + 5, text="And there it is.", heard="And there it is.") for i in range(40)]
    opens, held = 15, range(15, 24)
    sights = [Sight(sentence=s.id, phases={"disassembly": 0.04, "aside": 0.96} if i in held else {"disassembly": 0.96, "aside": 0.04}, opens=0.95 if i == opens else 0.01)
              for i, s in enumerate(said)]
    blind, seen = (weigh_up(said, f, TRADE) for f in (Findings(), Findings(sights=sights)))
    without, given = (believe(e.talk, load_weights(e.opening, e.says), 10.0) for e in (blind, seen))
    assert given.begins[opens].sum() > max(0.5, 2 * without.begins[opens].sum())
    aside = PHASES.index("aside")
    assert (given.holds[held, aside] > without.holds[held, aside]).all() and given.holds[held, aside].mean() > 0.5


def test_a_sight_that_says_no_more_than_usual_is_as_good_as_none():
    sentences, findings, _ = talk()
    usual = [Sight(sentence=s.id, phases=dict.fromkeys(PHASES, 1 / len(PHASES)), opens=OPENS_USUALLY) for s in sentences]
    blind, seen = (weigh_up(sentences, findings.model_copy(update={"sights": sights}), TRADE).talk for sights in ([], usual))
    assert np.allclose(blind.opening, seen.opening) and np.allclose(blind.says, seen.says)


def test_longer_chapters_by_setting():
    sentences, findings, _ = talk()
    starts = [c.start for c in find_chapters(sentences, findings, TRADE, ChapterSettings(least_seconds=60))]
    assert len(starts) > 1 and all(b - a >= 60 for a, b in zip(starts, starts[1:]))
