"""The guide as a view-model: order of service, what belongs to a step, what is left out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.record import Chapter, Episode, Fact, Named, Part, Step
from pipeline.writing import WritingSettings
from pipeline.writing.guide import build_guide

from .rich import rich_episode

SETTINGS = WritingSettings()


def step(start: float, do: str, part: str, **more) -> Step:
    return Step(id=f"p{start}", start=start, end=start + 4, do=do, part=part, text=more.pop("text", ""), **more)


def fact(start: float, kind: str, text: str, part: str | None = None, **more) -> Fact:
    return Fact(start=start, end=start + 2, kind=kind, part=part, text=text, **more)


def guide_of(steps=(), facts=(), **more):
    return build_guide(Episode(id="x", title="A service", duration=1000, steps=list(steps), facts=list(facts), **more), SETTINGS)


def laid(guide) -> dict[str, list[str]]:
    return {p.title: [s.text for s in p.steps] for p in guide.procedures}


def find(guide, text: str):
    return next(s for p in guide.procedures for s in p.steps if s.text.startswith(text))


def test_steps_stand_in_the_order_of_service_not_of_talk():
    guide = guide_of([
        step(5, "test", "anti-reverse"), step(10, "remove", "handle"), step(20, "remove", "side plate"), step(30, "remove", "main gear"),
        step(40, "clean", "main gear"), step(50, "remove", "pinion gear"), step(60, "inspect", "pinion gear"), step(70, "lubricate", "main gear", supply="grease"),
        step(80, "install", "main gear"), step(90, "lubricate", "pinion gear", supply="oil"), step(100, "install", "handle"), step(110, "test", "drag")])
    assert laid(guide) == {
        "Look it over first": ["Test the anti-reverse."], "Open up": ["Remove the handle.", "Remove the side plate."],
        "Strip": ["Remove the main gear.", "Remove the pinion gear."], "Inspect": ["Inspect the pinion gear."], "Clean": ["Clean the main gear."],
        "Lubricate": ["Grease the main gear."], "Rebuild": ["Fit the main gear.", "Oil the pinion gear.", "Fit the handle."], "Check": ["Test the drag."]}
    assert [s.number for p in guide.procedures for s in p.steps] == list(range(1, 13))


def test_a_chapter_gives_the_phase_where_the_step_has_none():
    chapters = [Chapter(start=0, title="a", phase="disassembly"), Chapter(start=50, title="b", phase="testing")]
    guide = guide_of([step(1, "remove", "handle"), step(20, "install", "handle"), step(60, "align", "drag knob")], chapters=chapters)
    assert laid(guide)["Check"] == ["Line up the drag knob."]


def test_what_was_undone_is_out_and_what_was_said_again_is_merged():
    guide = guide_of([step(10, "remove", "plate screw"), step(14, "remove", "plate screw", qty=6, tool="screwdriver"),
                      step(20, "remove", "left side plate", undone=True), step(30, "install", "plate screw", qty=6)])
    assert laid(guide) == {"Strip": ["Back out the six plate screws with a screwdriver."], "Rebuild": ["Run in the six plate screws."]}
    assert [m.seconds for m in guide.procedures[0].steps[0].moments] == [10, 14]


def test_a_stack_that_alternates_is_not_merged():
    guide = guide_of([step(t, "install", part) for t, part in ((10, "drag washer"), (20, "metal washer"), (30, "drag washer"))])
    assert laid(guide)["Rebuild"] == ["Fit the drag washer.", "Fit the metal washer.", "Fit the drag washer."]


def test_every_step_on_the_record_is_in_the_guide_once():
    episode = rich_episode()
    shown = [m.seconds for p in build_guide(episode, SETTINGS).procedures for s in p.steps for m in s.moments]
    assert sorted(shown) == sorted(s.start for s in episode.steps if not s.undone)


actions = st.sampled_from(["remove", "install", "clean", "lubricate", "inspect", "test", "adjust", "tighten", "loosen", "repair", "replace", "dry", "mark"])
phases = st.sampled_from([None, "introduction", "disassembly", "inspection", "cleaning", "lubrication", "repair", "reassembly", "adjustment", "testing"])


@given(st.lists(st.tuples(st.integers(0, 900), actions, st.sampled_from(["spool", "handle", "side plate", "drag washer"]), phases), max_size=30))
def test_no_step_is_lost_whatever_the_talk(rows):
    steps = [Step(id=f"p{i}", start=t, end=t + 1, do=do, part=part, text="", phase=phase) for i, (t, do, part, phase) in enumerate(rows)]
    guide = guide_of(steps)
    assert {m.seconds for p in guide.procedures for s in p.steps for m in s.moments} == {s.start for s in steps}
    numbers = [s.number for p in guide.procedures for s in p.steps]
    assert numbers == list(range(1, len(numbers) + 1))


def test_which_way_round_stands_where_the_part_goes_back_too():
    guide = guide_of([step(10, "remove", "belleville washer"), step(300, "install", "belleville washer")],
                     [fact(12, "orientation", "Cup to cup, in pairs", "belleville washer")])
    assert [n.text for n in find(guide, "Remove").notes] == [n.text for n in find(guide, "Fit").notes] == ["Cup to cup, in pairs"]
    assert find(guide, "Fit").notes[0].moment.clock == "0:12"


def test_an_end_point_said_right_after_belongs_to_the_step():
    guide = guide_of([step(10, "tighten", "handle nut"), step(60, "test", "drag")], [fact(16, "setting", "Snug, then an eighth of a turn")])
    assert [n.text for n in find(guide, "Tighten").notes] == ["Snug, then an eighth of a turn"] and not find(guide, "Test").notes


@pytest.mark.parametrize("text, signal", [
    ("Keep your eyes well away from it", "CAUTION"), ("No flame anywhere near this stuff", "WARNING"), ("Don't cross-thread it", "NOTICE")])
def test_the_hosts_warning_stands_before_what_the_hands_do_next_and_is_signed_by_what_it_can_do(text, signal):
    guide = guide_of([step(10, "remove", "spool"), step(40, "remove", "yoke")], [fact(35, "caution", text)])
    (caution,) = find(guide, "Remove the yoke").cautions
    assert (caution.signal, caution.lines[0].text, caution.lines[0].moment.seconds) == (signal, text, 35)
    assert not find(guide, "Remove the spool").cautions and not guide.cautions


def test_the_trades_own_warning_comes_once_at_the_first_step_that_calls_for_it():
    guide = guide_of([step(10, "remove", "click spring"), step(30, "remove", "dog spring"), step(50, "degrease", "frame", supply="acetone")])
    assert [c.signal for c in find(guide, "Remove the click spring").cautions] == ["CAUTION"]
    assert not find(guide, "Remove the dog spring").cautions
    assert find(guide, "Degrease").cautions[0].signal == "WARNING"


def test_a_grave_warning_of_the_trades_is_said_again_in_another_procedure():
    guide = guide_of([step(10, "lubricate", "cap", supply="penetrating oil"), step(20, "remove", "cap"), step(50, "degrease", "frame", supply="acetone"),
                      step(60, "degrease", "spool", supply="acetone"), step(90, "install", "cap")])
    assert [bool(find(guide, text).cautions) for text in ("Put penetrating oil", "Degrease the frame", "Degrease the spool")] == [True, True, False]


def test_a_warning_about_nothing_near_stands_on_the_first_page_if_it_is_about_the_person_else_at_the_end():
    guide = guide_of([step(10, "remove", "spool")], [fact(800, "caution", "Keep that thing away from your eyes"), fact(810, "caution", "Don't store it with the drag tight")])
    assert [line.text for c in guide.cautions for line in c.lines] == ["Keep that thing away from your eyes"]
    assert [(t.title, line.text) for t in guide.topics for line in t.lines] == [("Warnings about the reel", "Don't store it with the drag tight")]


def test_how_to_look_after_it_told_at_the_end_is_about_no_step_of_the_work():
    chapters = [Chapter(start=0, title="a", phase="reassembly"), Chapter(start=50, title="b", phase="closing")]
    guide = guide_of([step(10, "install", "spool"), step(40, "install", "cap"), step(70, "loosen", "drag knob")],
                     [fact(52, "caution", "Never keep it in a wet bag"), fact(60, "setting", "One drop of oil a season")], chapters=chapters)
    assert not find(guide, "Fit the cap").cautions and laid(guide)["Look after it"] == ["Loosen the drag knob."]
    assert {n.text for n in find(guide, "Loosen").notes} | {l.text for c in find(guide, "Loosen").cautions for l in c.lines} | {
        l.text for t in guide.topics if t.title == "Looking after it" for l in t.lines} == {"Never keep it in a wet bag", "One drop of oil a season"}


def test_which_reel_it_is_belongs_to_no_step_and_a_setting_to_the_work_of_its_chapter():
    chapters = [Chapter(start=0, title="a", phase="identification"), Chapter(start=20, title="b", phase="reassembly"), Chapter(start=50, title="c", phase="adjustment")]
    guide = guide_of([step(24, "remove", "lever"), step(40, "install", "lever"), step(60, "adjust", "drag")],
                     [fact(10, "measure", "A lever drag, five to one", "lever"), fact(52, "setting", "Four pounds with the lever at strike", "lever")], chapters=chapters)
    assert [n.text for n in find(guide, "Adjust").notes] == ["Four pounds with the lever at strike"]
    assert not find(guide, "Remove").notes and not find(guide, "Fit").notes


def test_what_is_fitted_while_the_drag_is_set_is_still_the_rebuild():
    chapters = [Chapter(start=0, title="a", phase="reassembly"), Chapter(start=50, title="b", phase="adjustment")]
    guide = guide_of([step(10, "install", "gear"), step(60, "install", "spool"), step(70, "adjust", "drag"), step(80, "install", "spool"), step(90, "test", "drag")], chapters=chapters)
    assert laid(guide)["Rebuild"] == ["Fit the gear.", "Fit the spool."] and laid(guide)["Check"] == ["Adjust the drag.", "Fit the spool.", "Test the drag."]


def test_what_is_not_to_be_greased_stands_where_the_part_is_lubricated():
    guide = guide_of([step(10, "inspect", "drag washer"), step(40, "inspect", "metal washer"), step(200, "lubricate", "drag washer", supply="drag grease")],
                     [fact(34, "caution", "Never put marine grease on a drag washer", "drag washer")])
    assert find(guide, "Put drag grease on the drag washer").cautions and not find(guide, "Inspect the metal washer").cautions


def test_a_quote_that_names_nothing_comes_with_the_sentence_before_it():
    talk = [sentence("s1", 10, "The sleeve stays in the clutch."), sentence("s2", 14, "Don't push it out.")]
    guide = guide_of([step(18, "remove", "clutch")], [fact(14, "caution", "Don't push it out.", sentences=["s2"])], sentences=talk)
    assert find(guide, "Remove the clutch").cautions[0].lines[0].text == "The sleeve stays in the clutch. Don't push it out."


def test_two_quotes_of_one_run_of_talk_are_one():
    guide = guide_of([step(10, "remove", "nut")], [
        fact(10, "measure", "It's a quarter inch nut with a plain right hand thread", "nut"), fact(12, "fastener", "Nut with a plain right hand thread, lefty loosey", "nut")])
    (note,) = find(guide, "Remove the nut").notes
    assert (note.label, note.text) == ("Size, fastener", "It's a quarter inch nut with a plain right hand thread, lefty loosey")


def test_a_question_is_no_finding():
    guide = guide_of([step(10, "remove", "spring")], [fact(11, "interchange", "Is it the same one as the old model?", "spring"), fact(12, "dating", "How old is it?")])
    assert not guide.topics and not guide.parts


def test_what_the_cautions_tell_to_wear_is_laid_out():
    guide = guide_of([step(10, "remove", "click spring"), step(30, "degrease", "frame", supply="acetone")])
    assert guide.wear == ["eye protection", "gloves"] and guide_of([step(10, "remove", "spool")]).wear == []


def test_what_went_on_and_never_came_off_stands_apart_from_the_tray():
    from pipeline.record import LedgerLine

    guide = guide_of(ledger=[LedgerLine(part="spool", off=1, on=9, status="back on"), LedgerLine(part="shim", on=8, status="not shown coming off")])
    assert [t.part for t in guide.tray] == ["spool"] and [t.part for t in guide.fitted] == ["shim"]


def test_a_fastener_is_one_row_however_it_is_written_and_a_thread_of_nothing_named_has_none():
    guide = guide_of([step(10, "remove", "e-clip", qty=2), step(90, "install", "e clip", tool="tweezers"), step(20, "remove", "plate screw", qty=5)],
                     [fact(24, "fastener", "All the same length", "side plate screw"), fact(300, "fastener", "It's a reverse thread")],)
    assert [(r.name, r.count, r.extra) for r in guide.fasteners] == [("e-clip", "2", "tweezers"), ("side plate screw", "5", "")]
    assert [(t.title, line.text) for t in guide.topics for line in t.lines] == [("Fasteners, of which it was not said", "It's a reverse thread")]


def test_doubtful_steps_are_counted_and_marked_and_weak_facts_left_out():
    guide = guide_of([step(10, "remove", "spool", confidence=.4), step(20, "remove", "yoke")],
                     [fact(900, "condition", "It is worn right through there", confidence=.1), fact(910, "condition", "It is pitted all the way round"), fact(920, "condition", "Lovely.")])
    assert find(guide, "Remove the spool").doubtful and guide.doubtful_count == 1
    assert [line.text for t in guide.topics for line in t.lines] == ["It is pitted all the way round"]


def test_a_part_put_on_in_the_middle_of_stripping_is_to_be_checked():
    guide = guide_of([step(5, "install", "line guide", phase="identification"), step(10, "remove", "spool", phase="disassembly"),
                      step(300, "install", "spool", phase="reassembly")])
    assert find(guide, "Fit the line guide").doubtful and not find(guide, "Fit the spool").doubtful


def test_only_tools_that_a_step_calls_for_are_laid_out():
    guide = build_guide(rich_episode(), SETTINGS)
    assert "tweezers" in [t.name for t in guide.tools] and "toothbrush" in [t.name for t in guide.tools]
    episode = rich_episode()
    episode.steps = [s for s in episode.steps if s.tool != "tweezers"]
    assert "tweezers" in [t.name for t in build_guide(episode, SETTINGS).also_named]


def test_the_maps():
    guide = build_guide(rich_episode(), SETTINGS)
    screws = next(r for r in guide.fasteners if r.name == "side plate screw")
    assert (screws.count, screws.extra) == ("5", "#1 Phillips screwdriver") and "the short one sits by the foot" in screws.text
    assert {(r.name, r.extra) for r in guide.lubrication} == {("ball bearing", "light oil"), ("main gear", "marine grease")}
    assert [r.name for r in guide.dry] == ["drag washer"]
    assert [r.name for r in guide.orientation] == ["belleville washer"]
    assert [t.part for t in guide.tray if t.alarm][:2] == ["rod clamp nut", "handle screw"]
    assert next(t for t in guide.tray if t.part == "belleville washer").count == "4 off, 3 on"


def test_difficulty_is_drawn_from_the_record():
    guide = build_guide(rich_episode(), SETTINGS)
    assert {(s.name, s.text) for s in guide.signs} >= {("Special tool", "bearing press"), ("Spring under load", "click spring"), ("Part no longer made", "click spring")}
    assert guide.bench_time == "13 min" and [s.name for s in guide.sisters] == ["Holmquay Petrel 40"]


@pytest.mark.parametrize("parameter, link", [
    ("t={seconds}", "https://video.example/watch?v=1&t=75"), ("#t={seconds}", "https://video.example/watch?v=1#t=75"), ("start={seconds}s", "https://video.example/watch?v=1&start=75s")])
def test_how_a_link_says_the_moment_is_a_setting(parameter, link):
    episode = Episode(id="x", title="", url="https://video.example/watch?v=1", duration=100, steps=[step(75.9, "remove", "spool")])
    guide = build_guide(episode, WritingSettings(time_parameter=parameter))
    assert guide.procedures[0].steps[0].moments[0].link == link


@pytest.mark.parametrize("text, sure", [("The cover comes away and there's a shim behind it", .9), ("Don't lose that shim", .6), ("Can I never reuse it?", .95), ("Please.", .9)])
def test_what_is_no_sure_warning_gets_no_signal_word_and_is_shown_as_unsure_or_left_out(text, sure):
    guide = guide_of([step(10, "remove", "cover")], [fact(12, "caution", text, confidence=sure)])
    notes = [(n.label, n.doubtful) for n in find(guide, "Remove the cover").notes]
    assert not guide.cautions and not find(guide, "Remove the cover").cautions
    assert notes == ([] if text in ("Can I never reuse it?", "Please.") else [("Mind" if "Don't" in text else "Said", True)])


def test_a_warning_that_the_host_put_down_is_signed_whatever_its_words():
    text = "The degreaser and the handle knob are bad friends"
    (caution,) = find(guide_of([step(10, "degrease", "cover")], [fact(12, "caution", text, confidence=1.0)]), "Degrease the cover").cautions
    assert caution.lines[0].text == text
    assert not find(guide_of([step(10, "degrease", "cover")], [fact(12, "caution", text, confidence=0.96)]), "Degrease the cover").cautions


def test_a_warning_said_right_after_a_step_belongs_to_it_and_not_to_the_next():
    guide = guide_of([step(10, "degrease", "frame"), step(30, "dry", "bearing")], [fact(16, "caution", "Don't ever put the washer in there")])
    assert find(guide, "Degrease").cautions and not find(guide, "Dry").cautions


def sentence(id: str, start: float, text: str):
    from pipeline.record import Sentence

    return Sentence(id=id, start=start, end=start + 4, text=text, heard=text)


def test_where_the_program_is_not_sure_the_hosts_words_stand_too_and_once():
    talk = [sentence("s1", 10, "Nut and washer come off."), sentence("s2", 20, "Spool next.")]
    guide = guide_of([step(10, "remove", "nut", confidence=.4, sentences=["s1"]), step(11, "remove", "washer", confidence=.4, sentences=["s1"]),
                      step(20, "remove", "spool", confidence=.8, sentences=["s2"])],
                     [fact(10, "orientation", "Nut and washer come off", "nut", sentences=["s1"])], sentences=talk)
    steps = [s for p in guide.procedures for s in p.steps]
    assert [(s.doubtful, s.quote) for s in steps] == [(True, "Nut and washer come off."), (True, ""), (False, "")]
    assert not steps[0].notes  # the same words again


def test_what_is_said_once_stands_once_at_its_step_under_all_that_it_tells_of():
    said = "The long screw goes by the foot and sits flush"
    guide = guide_of([step(10, "install", "cover screw")], [fact(11, "fastener", said, "cover screw"), fact(11, "setting", said, "cover screw"), fact(11, "measure", said, "cover screw", value="12 mm")])
    assert [(n.label, n.text) for n in find(guide, "Run in").notes] == [("Fastener, setting, size", said)]
    assert not guide.topics


def test_which_screw_goes_where_is_said_again_at_the_fitting_and_how_many_there_were_is_not():
    guide = guide_of([step(10, "remove", "cover screw"), step(300, "install", "cover screw")],
                     [fact(12, "fastener", "The long one goes by the foot", "cover screw"), fact(13, "fastener", "Five screws in all", "cover screw")])
    assert [n.text for n in find(guide, "Run in").notes] == ["The long one goes by the foot"]


def test_a_test_between_two_fittings_stays_between_them():
    guide = guide_of([step(10, "remove", "rotor"), step(100, "install", "gear"), step(120, "test", "gear", phase="testing"), step(140, "install", "rotor"),
                      step(200, "test", "drag", phase="testing")])
    assert laid(guide)["Rebuild"] == ["Fit the gear.", "Test the gear.", "Fit the rotor."] and laid(guide)["Check"] == ["Test the drag."]


def test_a_fitting_heard_in_a_cleaning_chapter_does_not_begin_the_rebuild():
    chapters = [Chapter(start=0, title="a", phase="disassembly"), Chapter(start=50, title="b", phase="cleaning"), Chapter(start=90, title="c", phase="reassembly")]
    guide = guide_of([step(10, "remove", "spool"), step(55, "install", "bridge"), step(60, "clean", "frame"), step(95, "install", "spool")], chapters=chapters)
    assert laid(guide)["Clean"] == ["Clean the frame."] and find(guide, "Fit the bridge").doubtful


def test_the_list_of_parts_tells_what_was_found_what_goes_back_and_where_to_get_it():
    from pipeline.record import LedgerLine, Part

    guide = guide_of([step(10, "replace", "roller bearing")], [
        fact(12, "condition", "Rough as gravel", "roller bearing"), fact(14, "obsolete", "Nobody sells those", "click arm"), fact(16, "interchange", "Same one as the Petrel 40", "click arm"),
        fact(18, "upgrade", "A sealed one is better", "roller bearing"), fact(20, "part_number", "Number", "roller bearing", value="RB-9")],
        parts=[Part(name="roller bearing", qty=2), Part(name="click arm"), Part(name="spool"), Part(name="shim")],
        ledger=[LedgerLine(part="spool", off=1, on=2, status="back on"), LedgerLine(part="shim", off=3, status="not shown going back")])
    assert [(p.name, p.count, p.number, [(line.name, line.text) for line in p.lines]) for p in guide.parts] == [
        ("roller bearing", "2", "RB-9", [("condition found", "Rough as gravel"), ("replace or reuse", "replaced"), ("upgrade", "A sealed one is better")]),
        ("click arm", "", "", [("availability", "Nobody sells those"), ("fits other models", "Same one as the Petrel 40")])]


@pytest.mark.parametrize("said, spelled_out", [
    ("Same again on the other side.", True), ("And the other side, exactly the same.", True), ("Repeat that at the far end.", True),
    ("It's not the same on the other side.", False), ("The same grease, see you on the other side of the break.", False), ("There's a hole on the other side.", False)])
def test_same_on_the_other_side_is_spelled_out(said, spelled_out):
    guide = guide_of([step(10, "remove", "plate screw", qty=3, tool="screwdriver", sentences=["s1"])],
                     sentences=[sentence("s1", 10, "Three screws out with the screwdriver."), sentence("s2", 16, said)])
    steps = laid(guide)["Strip"]
    assert steps[0] == "Back out the three plate screws with a screwdriver."
    assert [text.split(", on the other ")[0] for text in steps[1:]] == (["Back out the three plate screws with a screwdriver"] if spelled_out else [])


def test_oil_that_frees_a_stuck_screw_is_put_on_before_it_is_turned_not_with_the_lubrication():
    guide = guide_of([step(10, "remove", "handle"), step(20, "lubricate", "rod clamp screw", supply="penetrating oil"), step(40, "remove", "rod clamp screw"),
                      step(60, "lubricate", "main gear", supply="grease"), step(90, "install", "handle")])
    assert laid(guide)["Strip"] == ["Put penetrating oil on the rod clamp screw.", "Back out the rod clamp screw."]
    assert laid(guide)["Lubricate"] == ["Grease the main gear."]


def test_what_is_worn_is_no_tool():
    guide = guide_of([step(10, "remove", "bridge screw", tool="safety glasses", text="Back out the bridge screw with safety glasses.")], tools=[Named(name="safety glasses")])
    assert laid(guide)["Strip"] == ["Back out the bridge screw."] and guide.wear == ["eye protection"] and not guide.tools and not guide.also_named


def test_one_sentence_stands_at_one_step_though_it_was_read_two_ways():
    said = "These four screws on the outside hold the bridge in its place"
    guide = guide_of([step(10, "remove", "bridge screw"), step(20, "remove", "bridge")],
                     [fact(8, "fastener", said, "bridge screw"), fact(18, "caution", said, "bridge", confidence=.6)])
    assert [n.label for n in find(guide, "Back out").notes] == ["Fastener"] and not find(guide, "Remove the bridge").notes


def test_no_oil_on_a_part_does_not_stand_at_the_next_piece_in_the_hand():
    guide = guide_of([step(10, "remove", "leather washer"), step(60, "inspect", "metal washer")], [fact(50, "caution", "Don't ever put petroleum grease on a leather washer", "leather washer")])
    assert not [c for p in guide.procedures for s in p.steps for c in s.cautions] and [r.name for r in guide.dry] == ["leather washer"] and not guide.topics


def test_what_the_handle_does_is_not_what_stays_dry():
    guide = guide_of([step(10, "remove", "handle")], [fact(200, "caution", "Never ever put grease in that, it slips and then the handle kicks back", "handle")])
    assert [(r.name, r.text[:10]) for r in guide.dry] == [("", "Never ever")]


def test_which_way_told_while_it_goes_back_stands_once_at_the_fitting():
    guide = guide_of([step(10, "remove", "gear"), step(170, "install", "yoke"), step(190, "lubricate", "gear", supply="grease", phase="reassembly"), step(200, "install", "gear")],
                     [fact(191, "orientation", "Ears down in the slots", "gear")], chapters=[Chapter(start=0, title="a", phase="disassembly"), Chapter(start=150, title="b", phase="reassembly")])
    assert [n.text for p in guide.procedures for s in p.steps for n in s.notes] == ["Ears down in the slots"] and find(guide, "Fit the gear").notes


def test_the_screws_in_the_hand_are_those_that_are_told_of():
    guide = guide_of([step(10, "remove", "screw", qty=6, tool="screwdriver")], [fact(11, "fastener", "The one by the foot is the long one", "stand", sentences=["s1"]),
                     fact(12, "fastener", "All six side plate screws are M3", "side plate screw")])
    assert [(r.name, r.count, r.extra, r.text) for r in guide.fasteners][0][:3] == ("side plate screw", "6", "screwdriver")
    assert len(guide.fasteners) <= 2


def test_a_bare_screw_has_no_row_beside_screws_told_by_name():
    told = [step(10, "remove", "plate screw", qty=5, tool="driver"), step(20, "remove", "stand screw", qty=2), step(30, "remove", "screw", qty=3)]
    assert [r.name for r in guide_of(told).fasteners] == ["plate screw", "stand screw"]
    assert [(r.name, r.count) for r in guide_of(told[2:]).fasteners] == [("screw", "3")], "alone, it is the one that there is"


def bought(guide) -> dict[str, str]:
    return {row.name: row.text for row in guide.buy}


def test_what_is_used_up_and_what_few_have_is_to_be_bought_and_the_rest_is_likely_at_hand():
    guide = guide_of([step(10, "lubricate", "main gear", supply="marine grease", tool="brush"), step(20, "clean", "frame", supply="rag", tool="toothbrush"),
                      step(30, "degrease", "bearing", supply="alcohol"), step(40, "test", "drag", tool="spring scale")],
                     tools=[Named(name=n) for n in ("brush", "toothbrush", "spring scale", "bearing press")],
                     supplies=[Named(name="marine grease"), Named(name="rag"), Named(name="isopropyl alcohol", names=["isopropyl alcohol", "alcohol"]), Named(name="threadlocker")])
    assert bought(guide) == {"marine grease": "for the main gear", "isopropyl alcohol": "for the bearing", "spring scale": "special tool"} and guide.at_hand
    assert [s.name for s in guide.supplies] == ["marine grease", "rag", "isopropyl alcohol"]


@pytest.mark.parametrize("text, new", [
    ("The new bearings are number RB-9", True), ("A fresh pair of line roller bearings, RB-9", True), ("Replacement line roller bearing, RB-9", True),
    ("The bearing is like new, it is an RB-9", False), ("It's as new bearings go, RB-9", False), ("The line roller bearing is number RB-9", False)])
def test_a_part_that_the_host_calls_new_is_to_be_bought_by_its_number(text, new):
    guide = guide_of([step(10, "remove", "line roller bearing")], [fact(12, "part_number", text, "line roller bearing", value="RB-9")],
                     parts=[Part(name="line roller bearing", names=["line roller bearing", "bearing"], part_number="RB-9")])
    assert bought(guide) == ({"line roller bearing": "new in this service; number RB-9"} if new else {})


def test_a_part_with_a_number_that_went_on_and_never_came_off_is_new():
    parts = [Part(name="carbon drag washer", names=["carbon washer"], part_number="VK-9"), Part(name="cap", part_number="C-1")]
    guide = guide_of([step(5, "remove", "cap"), step(10, "install", "carbon washer"), step(20, "install", "cap")], parts=parts)
    assert bought(guide) == {"carbon washer": "new in this service; number VK-9"}


def test_a_part_stands_once_among_what_is_to_be_bought():
    guide = guide_of([step(10, "replace", "bearing", qty=2)], [fact(12, "upgrade", "A sealed bearing is the better buy", "bearing"), fact(30, "obsolete", "Nobody makes the cover", "cover")],
                     parts=[Part(name="bearing"), Part(name="cover")])
    assert [(r.name, r.count, r.text) for r in guide.buy] == [
        ("bearing", "2", "new in this service; offered as an option"), ("cover", "", "no longer made: look for a donor reel")]


def test_the_list_of_parts_says_one_sentence_once_under_all_that_it_tells():
    said = "The new washer is carbon, the same as in the 16"
    guide = guide_of(facts=[fact(12, "interchange", said, "drag washer"), fact(12, "upgrade", said, "drag washer")], parts=[Part(name="drag washer")])
    assert [(line.name, line.text) for line in guide.parts[0].lines] == [("fits other models, upgrade", said)]
