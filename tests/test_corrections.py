import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline import corrections
from pipeline.corrections import Correction
from pipeline.errors import BenchError
from pipeline.hearing.words import Word
from pipeline.mending import Mended
from pipeline.record import Chapter, Episode, Fact, LedgerLine, Named, Part, Question, Reel, Sentence, Step
from pipeline.writing import WritingSettings
from pipeline.writing.calling import Calling
from pipeline.writing.guide import build_guide


def correct(about, **given) -> Correction:
    return Correction.model_validate({"about": about, **given})


def mended(*texts: str, at: float = 0.0, every: float = 5.0) -> Mended:
    sentences, words, spans = [], [], []
    for i, text in enumerate(texts):
        start = at + i * every
        own = [Word(text=t, start=start + n, end=start + n + 0.5) for n, t in enumerate(text.split())]
        spans.append((len(words), len(words) + len(own)))
        words += own
        sentences.append(Sentence(id=f"s{i + 1}", start=start, end=own[-1].end, text=text, heard=text))
    return Mended(sentences=sentences, words=words, spans=spans)


def record(at: float = 0.0) -> Episode:
    """A small record; `at` moves all of it, as another hearing might."""
    return Episode(
        id="a", title="A title", duration=400,
        sentences=[Sentence(id="s1", start=100 + at, end=104 + at, text="Take out the four side plate screws.", heard="")],
        chapters=[Chapter(start=0, title="Welcome", phase="introduction"), Chapter(start=100 + at, title="Taking the side plate off", phase="disassembly"),
                  Chapter(start=200 + at, title="Cleaning", phase="cleaning")],
        parts=[Part(name="drag washer", names=["drag washer", "drag disc"], qty=3, at=[(150 + at, 152 + at)]), Part(name="spool", names=["spool"], at=[(50, 51)])],
        tools=[Named(name="tweezers", names=["tweezers"])],
        steps=[Step(id="t1", start=100 + at, end=104 + at, do="remove", part="side plate screw", qty=6, text="Take out six side plate screws.", sentences=["s1"]),
               Step(id="t2", start=150 + at, end=152 + at, do="clean", part="drag washer", text="Clean the drag washers.")],
        facts=[Fact(start=160 + at, end=162 + at, kind="orientation", part="drag washer", text="The cupped side goes up.")],
        reels=[Reel(maker="Quillstone", model="Dabchick 20", role="on_bench", at=[(3, 5)])],
        ledger=[LedgerLine(part="drag washer", off=150 + at, status="not shown going back")],
        questions=[Question(comment_id="c1", is_question=True, asks=["Which grease is it?"])])


def laid(episode: Episode, *rows: Correction) -> Episode:
    episode, lost = corrections.lay_over(episode, list(rows))
    assert not lost, lost[0]
    return episode


# sentences


def test_a_corrected_sentence_takes_its_words_and_their_times_along():
    new, lost = corrections.mend_sentences(mended("Lift the bevel washer out.", "And the next one."), [
        correct("sentence", at=1, words="bevel washer", set={"text": "Lift the belleville spring washer out."})])
    assert not lost and new.sentences[0].text == "Lift the belleville spring washer out." and new.sentences[0].heard == "Lift the bevel washer out."
    first, last = new.spans[0]
    assert [w.text for w in new.words[first:last]] == new.sentences[0].text.split()
    times = {w.text: w.start for w in new.words[first:last]}
    assert times["Lift"] == 0 and times["washer"] == 3 and times["out."] == 4 and 2 <= times["belleville"] < times["spring"] < 3
    assert [w.text for w in new.words[slice(*new.spans[1])]] == ["And", "the", "next", "one."]


def test_sentences_come_and_go_in_order_of_time():
    new, lost = corrections.mend_sentences(mended("One here.", "Two here.", "Three here."), [
        correct("sentence", words="Two here", at=5, drop=True), correct("sentence", at=3, add={"text": "In between."})])
    assert not lost and [s.text for s in new.sentences] == ["One here.", "In between.", "Three here."]
    assert [" ".join(w.text for w in new.words[a:b]) for a, b in new.spans] == [s.text for s in new.sentences]
    assert len({s.id for s in new.sentences}) == 3


def test_a_sentence_is_found_again_when_heard_otherwise_and_later():
    c = correct("sentence", at=41, words="Lift out the bevel washer and the clip", set={"text": "Lift out the belleville washer and the clip."})
    again = mended("So here we are now.", "Lift out the bevelled washer, then the clip.", at=40, every=7)
    new, lost = corrections.mend_sentences(again, [c])
    assert not lost and new.sentences[1].text == "Lift out the belleville washer and the clip."


def test_what_finds_no_place_is_reported_and_changes_nothing():
    before = mended("One here.", "Two here.")
    after, lost = corrections.mend_sentences(before, [correct("title", set={"title": "x"}), correct("sentence", at=0, words="something else entirely", drop=True)])
    assert after == before and lost[0].number == 2 and "something else" in str(lost[0])


def test_words_that_stand_twice_need_a_moment():
    twice = mended("Put it back.", "Lift it out.", "Put it back.")
    assert corrections.mend_sentences(twice, [correct("sentence", words="Put it back", drop=True)])[1]
    new, lost = corrections.mend_sentences(twice, [correct("sentence", words="Put it back", at=11, drop=True)])
    assert not lost and [s.start for s in new.sentences] == [0, 5]


# the record


def test_chapters_are_renamed_moved_joined_and_added_and_stay_so_when_heard_again():
    rows = [correct("chapter", at=100, words="Taking the side plate off", set={"title": "Opening up"}),
            correct("chapter", at=200, words="Cleaning", set={"start": 190}),
            correct("chapter", at=300, add={"title": "Oiling", "phase": "lubrication"})]
    for shift in (0, 4, -6):
        episode = laid(record(shift), *rows)
        assert [(c.start, c.title) for c in episode.chapters] == [(0, "Welcome"), (100 + shift, "Opening up"), (190, "Cleaning"), (300, "Oiling")]
    joined = laid(record(), correct("chapter", at=0, words="Welcome", drop=True))
    assert [(c.start, c.title) for c in joined.chapters] == [(0, "Taking the side plate off"), (200, "Cleaning")]


def test_what_a_newer_version_finds_by_itself_does_not_stand_twice():
    rows = [correct("chapter", at=200.3, add={"title": "Scrubbing", "phase": "cleaning"}), correct("part", at=150, add={"name": "drag washer", "qty": 5}),
            correct("step", at=151, add={"do": "clean", "part": "drag washer", "text": "Clean all five."}),
            correct("reel", add={"maker": "Quillstone", "model": "Dabchick 20", "role": "on_bench"})]
    episode = laid(record(), *rows)
    assert [c.title for c in episode.chapters][-1] == "Scrubbing" and len(episode.chapters) == 3
    assert [(p.name, p.qty) for p in episode.parts] == [("drag washer", 5), ("spool", None)]
    assert [s.text for s in episode.steps][-1] == "Clean all five." and len(episode.steps) == 2 and len(episode.reels) == 1


def test_a_parts_new_name_goes_through_the_whole_record():
    episode = laid(record(), correct("part", words="drag disc", set={"name": "carbon drag washer"}))
    assert episode.parts[0].names == ["carbon drag washer", "drag washer", "drag disc"]
    assert (episode.steps[1].part, episode.facts[0].part, episode.ledger[0].part) == ("carbon drag washer",) * 3


def test_a_parts_new_name_goes_also_where_the_steps_had_the_hosts_own_word():
    """The record lists a part under its plain name, the steps keep what was said; whichever of its names the host corrects, all that is published has the new one."""
    episode = record()
    episode.parts = [Part(name="tension washer", names=["tension washer", "belleville washer", "washer"], at=[(100, 104)]), Part(name="spring washer kit", names=["kit"]),
                     Part(name="main gear", names=["main gear", "gear"], at=[(110, 112)]), Part(name="idle gear", names=["idle gear"], at=[(115, 116)])]
    episode.steps = [Step(id=f"u{i}", start=100 + i, end=101 + i, do="remove", part=part, text=f"Lift the {part}s out.") for i, part in enumerate(("belleville washer", "washer", "gear"))]
    episode.facts, episode.ledger = [Fact(start=100, end=101, kind="orientation", part="belleville washer", text="Cup up.")], [LedgerLine(part="belleville washer", off=100, status="not shown going back")]
    new = laid(episode, correct("part", words="belleville washer", set={"name": "cupped washer"}), correct("part", words="main gear", set={"name": "bull gear"}))
    again = laid(episode, correct("part", words="belleville washer", set={"name": "tension washer"}))
    assert [s.part for s in again.steps] == ["tension washer", "tension washer", "gear"]  # the plain name that the list had all along
    assert [s.part for s in new.steps] == ["cupped washer", "cupped washer", "gear"]  # "the gear" may be the idle gear
    assert new.steps[0].text == "Lift the cupped washers out." and (new.facts[0].part, new.ledger[0].part) == ("cupped washer",) * 2
    episode.chapters[0].title, episode.chapters[1].title = "Tension washers and the idle gear", "The cupped Belleville washers, then the gear"
    assert [c.title for c in laid(episode, correct("part", words="belleville washer", set={"name": "cupped belleville washer"}),
                                  correct("chapter", at=200, set={"title": "A belleville washer"})).chapters] == [
        "Cupped belleville washers and the idle gear", "The cupped belleville washers, then the gear", "A belleville washer"]
    calling = Calling(new)
    assert [calling.word(p.name) for p in new.parts] == ["cupped washer", "spring washer kit", "bull gear", "idle gear"]


def test_a_corrected_step_makes_the_ledger_again():
    seen = []
    corrections.lay_over(record(), [correct("step", at=100, words="side plate screws", set={"qty": 4})], lambda steps: seen.append(steps[0].qty) or [])
    assert seen == [4]


def test_every_kind_is_set_dropped_and_sure():
    rows = [correct("step", at=101, words="remove side plate screw", set={"qty": 4}), correct("fact", at=160, words="cupped side", drop=True),
            correct("tool", words="Tweezers", drop=True), correct("supply", at=60, add={"name": "rag"}),
            correct("reel", words="Quillstone Dabchick 20", set={"model": "Dabchick 25"}),
            correct("ledger", at=150, words="drag washer", set={"on": 310.0, "status": "back on"}), correct("title", set={"title": "Better"})]
    episode = laid(record(), *rows)
    assert episode.steps[0].qty == 4 and episode.steps[0].confidence == 1 and not episode.facts and not episode.tools
    assert episode.supplies[0].at == [(60, 60)] and episode.reels[0].model == "Dabchick 25" and episode.title == "Better"
    assert (episode.ledger[0].on, episode.ledger[0].status) == (310, "back on")


@pytest.mark.parametrize("about, at, words", [("step", 150, "Clean"), ("fact", 160, "cupped side"), ("part", None, "drag disc"), ("tool", None, "tweezers"), ("chapter", 100, ""),
                                              ("reel", None, "Dabchick 20"), ("ledger", 150, "drag washer")])
def test_what_was_unsure_is_kept_as_it_is_and_sure_from_then_on(about, at, words):
    episode = record()
    rows = lambda e: getattr(e, {"reel": "reels", "ledger": "ledger"}.get(about, f"{about}s"))
    for row in rows(episode):
        row.confidence = 0.4
    new = laid(episode, correct(about, at=at, words=words, keep=True))
    assert [row.confidence for row in rows(new)].count(1.0) == 1
    assert [row.model_copy(update={"confidence": 0.4}) for row in rows(new)] == rows(episode)


def test_an_added_step_without_words_is_worded_from_what_is_done():
    new = laid(record(), correct("step", at=300, add={"do": "install", "part": "drag washer", "qty": 3}))
    assert new.steps[-1].text == "Fit the three drag washers."


def test_a_question_is_found_by_its_comments_id_or_by_what_it_asks():
    for words in ("c1", "which grease is it"):
        episode, lost = corrections.lay_over_questions(record(), [correct("question", words=words, set={"status": "dropped"})])
        assert not lost and episode.questions[0].status == "dropped"
    assert corrections.lay_over_questions(record(), [correct("question", words="c7", set={"status": "dropped"})])[1]


def test_the_record_given_stays_as_it_is():
    before = record()
    laid(before, correct("step", at=100, words="screws", drop=True))
    assert before == record()


# the file


@pytest.mark.parametrize("text, says", [
    ("{", "not JSON"),
    ("[" * 100_000, "not JSON"),
    ("{}", "not a list"),
    ('[{"about": "chapter", "at": 3, "set": {"title": "x"}}, {"about": "chaptr", "at": 3, "drop": true}]', "correction 2"),
    ('[{"about": "chapter", "at": 3, "set": {"titel": "x"}}]', '"titel" is not a field of a chapter; it has start, title, phase'),
    ('[{"about": "chapter", "at": 3, "set": {"phase": "lunch"}}]', '"phase"'),
    ('[{"about": "step", "at": 3, "set": {"qty": "many"}}]', '"qty"'),
    ('[{"about": "step", "at": 3}]', "exactly one of set, drop, keep and add"),
    ('[{"about": "step", "at": 3, "drop": true, "set": {"qty": 1}}]', "has set and drop"),
    ('[{"about": "step", "at": 3, "drop": false}]', '"drop"'),
    ('[{"about": "step", "drop": true}]', "at (seconds) or words"),
    ('[{"about": "step", "at": -3, "drop": true}]', '"at"'),
    ('[{"about": "step", "at": 3, "add": {"do": "clean"}}]', "part is missing"),
    ('[{"about": "fact", "at": 3, "add": {"part": "spool"}}]', "kind, text are missing"),
    ('[{"about": "step", "at": 3, "keep": true, "drop": true}]', "has drop and keep"),
    ('[{"about": "sentence", "at": 3, "keep": true}]', "it needs set or drop"),
    ('[{"about": "still", "at": 3, "keep": true}]', "set or dropped"),
    ('[{"about": "title", "keep": true}]', "can only be set"),
    ('[{"about": "step", "at": 3, "add": {"id": "x"}}]', '"id" is not a field'),
    ('[{"about": "title", "drop": true}]', "can only be set"),
    ('[{"about": "question", "add": {"is_question": true}}]', "can't be added"),
    ('[{"about": "question", "at": 3, "drop": true}]', "found by words"),
    ('[{"about": "part", "words": "x", "wehre": 3, "drop": true}]', "wehre"),
    ('["x"]', "correction 1"),
    (json.dumps([{"about": "part", "words": "x" * 3000, "drop": True}]), '"words"'),
    (json.dumps([{"about": "part", "words": "x", "drop": True}] * 10_001), "more than 10000"),
])
def test_a_mistake_is_one_line_that_names_it(tmp_path, text, says):
    path = tmp_path / "corrections.json"
    path.write_text(text)
    with pytest.raises(BenchError) as error:
        corrections.load(path)
    assert says in str(error.value) and str(path) in str(error.value) and "\n" not in str(error.value)


words = st.text(st.characters(exclude_categories=("Cs",)), max_size=40)
name = words.filter(lambda w: w.strip())
moment = st.floats(0, 1e5, allow_nan=False)
anchor = st.fixed_dictionaries({"words": name, "reason": words}, optional={"at": moment})
change = st.one_of(
    st.tuples(st.just("chapter"), st.fixed_dictionaries({"title": words}, optional={"start": moment})),
    st.tuples(st.just("sentence"), st.fixed_dictionaries({"text": words})),
    st.tuples(st.just("part"), st.fixed_dictionaries({"qty": st.integers(0, 99) | st.none()}, optional={"names": st.lists(words, max_size=3)})),
    st.tuples(st.just("step"), st.fixed_dictionaries({"do": st.sampled_from(["clean", "set aside"])}, optional={"tool": words | st.none()})),
    st.tuples(st.just("question"), st.fixed_dictionaries({"status": st.sampled_from(["open", "answered", "dropped"])}, optional={"reply": words | st.none()})))
rows = st.lists(st.one_of(
    st.builds(lambda a, c: {"about": c[0], **a, "set": c[1]}, anchor, change),
    st.builds(lambda a, kind: {"about": kind, **a, "drop": True}, anchor, st.sampled_from(["fact", "tool", "ledger", "reel", "chapter"])),
    st.builds(lambda a, kind: {"about": kind, **a, "keep": True}, anchor, st.sampled_from(["step", "part", "supply", "fact"])),
    st.builds(lambda a, n, t: {"about": "supply", **a, "add": {"name": n, "at": [[t, t + 1]]}}, anchor, name, moment)), max_size=8)


@settings(max_examples=60, deadline=None)
@given(rows)
def test_any_list_of_corrections_comes_back_from_its_file_and_can_be_laid_on(tmp_path_factory, given_rows):
    path = tmp_path_factory.mktemp("c") / "corrections.json"
    first = [Correction.model_validate(row) for row in given_rows]
    corrections.save(path, first)
    assert corrections.load(path) == first
    _, lost_sentences = corrections.mend_sentences(mended("One here.", "Two here."), first)
    episode, lost_findings = corrections.lay_over(record(), first)
    episode, lost_questions = corrections.lay_over_questions(episode, first)
    Episode.model_validate_json(episode.model_dump_json(by_alias=True))
    assert len({item.number for item in lost_sentences + lost_findings + lost_questions}) == len(lost_sentences + lost_findings + lost_questions)


def test_a_corrected_step_says_what_the_host_says():
    assert laid(record(), correct("step", at=100, words="side plate screws", set={"qty": 4, "tool": "#1 Phillips screwdriver"})).steps[0].text == (
        "Back out the four side plate screws with a #1 Phillips screwdriver.")
    assert laid(record(), correct("step", at=100, words="side plate screws", set={"qty": 4, "text": "Out with all four."})).steps[0].text == "Out with all four."
    assert laid(record(), correct("part", words="drag washer", set={"name": "friction disc"})).steps[1].text == "Clean the friction discs."


# stills


def test_a_chosen_still_goes_with_its_step_and_leaves_the_rest_of_it_alone():
    episode = record()
    episode.steps[0].confidence = 0.4
    step = laid(episode, correct("still", at=101, words="side plate screws", set={"moment": 109.5})).steps[0]
    assert (step.still, step.confidence, step.qty) == (109.5, 0.4, 6)
    assert laid(episode, correct("still", at=101, drop=True)).steps[0].still == "none"


def test_a_chosen_still_is_found_again_when_the_talk_is_heard_later_and_otherwise():
    episode = record(at=12)
    episode.steps[0].text = "Back out the side plate screws."
    assert laid(episode, correct("still", at=100, words="Take out six side plate screws.", drop=True)).steps[0].still == "none"
    _, (lost,) = corrections.lay_over(record(), [correct("still", at=300, words="bail arm", drop=True)])
    assert "bail arm" in str(lost)


@pytest.mark.parametrize("wrong", [{"set": {"moment": -1}}, {"set": {"still": 4}}, {"add": {"moment": 4}}, {"set": {"moment": "soon"}}])
def test_a_still_is_set_to_a_moment_or_dropped(wrong):
    with pytest.raises(ValueError):
        correct("still", at=100, **wrong)


def test_choosing_again_takes_the_place_of_what_was_chosen_and_two_steps_in_one_breath_need_words():
    episode = record()
    episode.steps.insert(1, Step(id="t3", start=100, end=104, do="remove", part="side plate", text="Remove the side plate."))
    first, step = corrections.choose_still([], episode, 102, "plate screws", 110.0)
    other, _ = corrections.choose_still(first, episode, 102, "Remove the side plate", "none")
    again, _ = corrections.choose_still(other, episode, 102, "plate screws", 111.0)
    assert step.id == "t1" and [c.set_ for c in again] == [None, {"moment": 111.0}]
    assert [c.about for c in corrections.choose_still(again, episode, 102, "plate screws", None)[0]] == ["still"]
    with pytest.raises(BenchError, match="2 steps are told there"):
        corrections.choose_still([], episode, 100, "", 110.0)


def test_a_step_is_named_by_the_second_that_the_guide_shows():
    episode = record()
    episode.steps.insert(1, Step(id="t3", start=104.7, end=106, do="remove", part="spool", text="Remove the spool."))
    assert corrections.choose_still([], episode, 104, "", "none")[1].id == "t3"
    assert corrections.choose_still([], episode, 103, "", "none")[1].id == "t1"


@pytest.mark.parametrize("wrong", [{"drop": True}, {"words": "pole", "add": {"to": "pawl"}}, {"words": "pole", "set": {"to": ""}}, {"words": "pole", "set": {"from": "x"}}])
def test_a_mend_is_dropped_or_set_by_its_words(wrong):
    with pytest.raises(ValueError):
        correct("mend", at=3, **wrong)


def test_a_refused_mend_whose_words_are_not_heard_any_more_is_told():
    heard = mended("The pole drops out.", "And the next one.")
    here, gone = correct("mend", at=1, words="pole", drop=True), correct("mend", at=1, words="the poles", drop=True)
    assert [lost.number for lost in corrections.mend_sentences(heard, [here, gone])[1]] == [2]


def test_a_tool_and_a_supply_called_otherwise_are_so_in_every_step_also_where_the_host_had_another_word():
    """The record's steps have the word that was said; the host's correction is the last word, in the guide's lists and in its steps."""
    episode = record()
    episode.tools = [Named(name="#1 Phillips screwdriver", names=["#1 Phillips screwdriver", "cross head", "screwdriver"]), Named(name="flat screwdriver", names=["flat screwdriver", "screwdriver"])]
    episode.supplies = [Named(name="marine grease", names=["marine grease", "blue grease"])]
    for tool, supply in (("cross head", None), ("screwdriver", None), (None, "blue grease")):
        episode.steps.append(Step(id=f"u{len(episode.steps)}", start=300, end=301, do="remove" if tool else "lubricate", part="foot", tool=tool, supply=supply, text=f"Do the foot with {tool or supply}."))
    new = laid(episode, correct("tool", words="#1 Phillips screwdriver", set={"name": "JIS 1"}), correct("supply", words="marine grease", set={"name": "thin grease"}))
    assert [(s.tool, s.supply) for s in new.steps[-3:]] == [("JIS 1", None), ("screwdriver", None), (None, "thin grease")]
    assert [s.text for s in new.steps[-3:]] == ["Do the foot with JIS 1.", "Do the foot with screwdriver.", "Do the foot with thin grease."]
    guide = build_guide(new, WritingSettings())
    assert {line.name for line in guide.tools} >= {"JIS 1"} and "cross head" not in str(guide.tools)
