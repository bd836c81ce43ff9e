import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.hearing.words import Heard, Word
from pipeline.mending import Refusal, mend
from pipeline.trade import Glossary, load_trade

TRADE = load_trade()
BENCH = (
    "okay the pinion sits in the yoke . the yolk goes over the studs and the penion drops in . put the shim back . two shins on the shaft "
    "a break cleaner eats plastic , the bale arm and the bail spring . real good . we caught it off the boat last week and the pole snapped . free "
    "screws , start on , the star off . left the plate off , drop a boil , carbon , key , carbon , air , carbon"
).split()


def said(text: str) -> Heard:
    words = text.split()
    return Heard(words=[Word(text=w, start=i * 0.4, end=i * 0.4 + 0.3) for i, w in enumerate(words)], breaks=[0], duration=len(words), source="captions")


def mended(text: str, title: str = "", **how) -> str:
    return " ".join(s.text for s in mend(said(text), TRADE, title, **how).sentences)


@pytest.mark.parametrize("heard, meant", [
    ("Now the pinion sits in the yoke. The yolk goes over the studs.", "yoke goes over"),
    ("The pinion comes out. Put the penion in the jar.", "the pinion in the jar"),
    ("There's a shim on the shaft. Two shins on that side.", "Two shims"),
    ("The bail spring is fine. One screw through the bale arm.", "the bail arm"),
    ("One drop of real oil on each bearing.", "reel oil"),
    ("Never break cleaner on plastic.", "brake cleaner"),
    ("Four bellevilles sit on the shaft. The bellows go on the shaft cup to cup.", "The bellevilles go on"),
    ("Take the shims off the shaft. There's a sham on it, and two on that side.", "a shim on it"),
    ("E-clip off the post. Equip off the back.", "E-clip off the back"),
    ("The main gear and the penny and go in the jar.", "the pinion go in the jar"),  # a penny is a tool as well
])
def test_a_trade_word_heard_wrong_is_put_right(heard, meant):
    assert meant in mended(heard)


@pytest.mark.parametrize("heard, meant", [
    ("Lid off. Free clutch screws, same driver.", "Three clutch screws, same"),
    ("Side plate next, free screws, all round the rim.", "next, three screws, all"),
    ("And in the bag, sicks little brass pins, so count them.", "bag, six little brass pins"),
])
def test_a_count_heard_as_another_word_is_put_right(heard, meant):
    """Three and free, six and sicks are spoken alike or nearly (common practice, no published source)."""
    assert meant in mended(heard)


@pytest.mark.parametrize("heard, meant", [
    ("The star and the nut come next. Nut off, handle off, start off, and that is that.", "handle off, star off,"),
    ("There's the nut and the star. Okay, start on, handle on, not on, ten mil spanner.", "star on, handle on, nut on,"),
    ("The rotor is dirty. Later on. Rotter on, then the screws.", "Rotor on, then"),
    ("The nut is off. Then star, handle, not, and snug it.", "star, handle, nut, and"),
    ("A gear and a yoke. Into the jar. Here, pinion, yoke, bridge.", "Gear, pinion, yoke,"),
])
def test_a_part_in_short_order_heard_as_another_word_is_put_right(heard, meant):
    assert meant in mended(heard)


@pytest.mark.parametrize("plain", [
    "The nut sits low. And, not on, so take care.", "The cone is clean. Come on, you beauty.", "So we start on the handle.", "A shaft and a post. All in, and done.", "The handle is clean. Start off, then stop.",
    "Pliers down. I draw it by a circle round the foot.", "Rub it in a circle, then the pliers.", "That will ring a bell.", "It never gets well soon.", "The penny fits the slot.", "A dragon on the shelf.", "The plate is still there."])
def test_plain_talk_in_short_order_stays(plain):
    assert mended(plain) == plain


@pytest.mark.parametrize("heard, meant", [
    ("New bearing, drop a boil on it.", "drop of oil on it"),
    ("The star is brass. Lean on it and the start feels like porridge.", "the star feels"),
    ("Screws out. Left the plate straight up.", "Lift the plate straight up"),
    ("Wake it up. White the steel face with alcohol.", "Wipe the steel face"),
    ("The jar and its lid. Fluid in, let on, and shake it.", "in, lid on, and"),
    ("The sleeve is clean. Sleep on the shaft next.", "Sleeve on the shaft"),
    ("Pinion and its bearing. And last, depending with its bearing.", "the pinion with its bearing"),
    ("Screws out. And the cover lets off, easy.", "cover lifts off"),
    ("One screw, three milky.", "three mil key"),
    ("The ball is loose. Spring in the hole, fall on the spring.", "ball on the spring"),
    ("Small circle of pliers, open, and up.", "circlip pliers, open"),
    ("Star, till it touches. Handle. Not snug, then the keeper.", "Nut snug"),
    ("Star, handle, not tighten with the eleven.", "nut tighten"),
    ("Oil next. The worm gets well, no grease.", "The worm gets oil"),
    ("Two washers, and those dish ones like brackets.", "those dished ones"),
    ("Two carbons, and there's a keyed steel. Then the key one off.", "the keyed one off"),
    ("If I find that still washer, it stays.", "that steel washer"),
    ("The gear, and here pinion, yoke.", "and gear pinion"),
    ("The drag is next. The gear with a whole dragon it.", "whole drag in it"),
    ("The clicker is a spring. Now the ton, and then the button.", "the tongue, and"),
    ("Touch each with a wooden take to see.", "a wooden pick to"),
    ("The pinion's next. I hang the penny in the yoke.", "the pinion in the yoke"),
    ("The gear is kept by a circle, so take proper pliers.", "by a circlip, so"),
    ("Gear side, circle upon the end of the shaft.", "circlip on the end"),
    ("The new will ring first, with a smear of silicone grease.", "The new O-ring first"),
    ("There's a little euclip on the tube.", "U clip on the tube"),
    ("My real sounds like gravel.", "My reel sounds"),
    ("The luck bearing is stuck on its post.", "The left bearing"),
    ("In it goes, narrow and toward the spool.", "narrow end toward"),
    ("The dried knob is next.", "The drag knob"),
    ("Star, knob, and the handle wins on clockwise.", "handle winds on"),
    ("Then the playing brass washer.", "plain brass washer"),
    ("Tap out the rolling pen.", "rolling pin"),
    ("Handel off, then the plate.", "Handle off"),
    ("The shaft is clean. Rotor over the chapped.", "over the shaft"),
    ("It's a reverse red, so clockwise takes it off.", "reverse thread"),
    ("The star is bent. Start wheel on, then the handle.", "Star wheel on"),
    ("It's a click and pull reel.", "click and pawl"),
    ("The washer is then as a communion wafer.", "thin as a communion wafer"),
    ("Two drops of well on that.", "drops of oil"),
    ("The gear is clean. Here, pinion, bridge, all in the jar.", "Gear, pinion"),
    ("Spool on, now bond, three turns.", "knob on, three turns"),
    ("Wiggle the level when, it's all in there.", "level wind"),
    ("When the drag knob off and lift the spool.", "Wind the drag knob off"),
    ("Star, handle, not with a 10 mil spanner.", "handle, nut with"),
])
def test_the_words_beside_it_tell_what_was_said(heard, meant):
    assert meant in mended(heard)


@pytest.mark.parametrize("plain", [
    "The star is brass. From the start of it I was careful.", "The plate is white. I left the plate on the mat, and it stays off camera.", "The white stuff is lithium.", "It came to a boil on the stove.",
    "The lid is plastic. I let on that I knew.", "The pinion is worn, depending on the wear.", "It lets off a squeak.", "The ball is loose. I watch it fall on the mat.",
    "It's a real mess in there.", "The real trick comes last.", "Good luck with that side.", "The shaft was clean. My hands get chapped.", "The drag is set. Scrub the dried on grease.",
    "Keep it level when you lift it.", "The oil level went down.", "It wins on price.", "He was playing right here.", "My hand red and sore.", "The star is off. Start off with the handle.",
    "The pinion is clean. Turn the cap with the penny in the slot.", "When the knob is loose I stop.", "The oil is old. The machine will work.", "Set the drag now before you close it."])
def test_the_same_words_elsewhere_stay(plain):
    assert mended(plain) == plain


@pytest.mark.parametrize("heard, meant", [
    ("Now the stack. Carbon, key, carbon, the air, carbon.", "Carbon, keyed, carbon, the eared, carbon."),
    ("Gear first, then fiber, keep, fiber, and the last keed one on top.", "fiber, keyed, fiber, and the last keyed one"),
])
def test_a_washer_of_a_list_heard_as_another_word_is_put_right(heard, meant):
    assert meant in mended(heard)


@pytest.mark.parametrize("plain", ["Turn the key, carbon side up.", "Air, time, and patience.", "Brass, carbon, and a key for the lock."])
def test_a_key_and_the_air_elsewhere_stay(plain):
    assert mended(plain) == plain


@pytest.mark.parametrize("plain", [
    "The shop sends free screws with each kit.", "Free the screws with a drop of oil.", "Free, screws or not.", "Now spin it, free spool and no noise.", "It's a tree, screws and all."])
def test_free_is_no_count_where_it_says_something(plain):
    assert mended(plain) == plain


def test_what_is_told_by_its_place_is_only_suggested_below_the_threshold():
    out = mend(said("Lid off. Free screws, same driver."), TRADE, threshold=0.95)
    assert "Free screws" in out.sentences[1].text
    assert [(m.to, m.applied) for s in out.sentences for m in s.mends] == [("three", False)]


def test_a_count_that_the_host_refuses_stays_as_heard():
    out = mend(said("Lid off. Free screws, same driver."), TRADE, refused=[Refusal("free")])
    assert "Free screws" in out.sentences[1].text
    assert [m.why for s in out.sentences for m in s.mends] == ["refused by the host"]


@pytest.mark.parametrize("text", [
    "That was a real good day on the water.",
    "I had an egg yolk on my shirt at breakfast.",
    "Thanks to Paul for sending the tea.",
    "He kicked me in the shin, and my brother laughed.",
    "We sat on a bale of straw and talked about the net.",
    " ".join(["Tell me a joke. I like a good joke."] * 30),
    "Unscrew the cap with a penny and lift the spool.",
    "A penny in the slot of the cap, and the pinion can stay.",
])
def test_plain_english_stays(text):
    assert mended(text) == text


def test_names_in_the_title_are_heard_in_the_talk():
    assert "Ostmar Dunnock 30" in mended("So this is the Ostmark Dunnick 30, a nice old thing.", title="Servicing an Ostmar Dunnock 30")


def test_whose_reel_it_is_is_not_a_name_to_hear():
    out = mend(said("Packie's old reel, and the tacky grease in it. So it's Packie's."), TRADE, "Packie's old reel")
    assert not [m for s in out.sentences for m in s.mends if m.applied]


def test_what_the_glossary_teaches_is_done_everywhere():
    trade = load_trade(Glossary(hear_as={"clacker": "click pawl"}))
    out = mend(said("The clacker comes off. Clean the clacker."), trade)
    assert [s.text for s in out.sentences] == ["The click pawl comes off.", "Clean the click pawl."]
    assert all(m.why == "taught by the host" for s in out.sentences for m in s.mends)


talk = st.lists(st.sampled_from(BENCH), min_size=1, max_size=40).map(" ".join)


@settings(max_examples=40, deadline=None)
@given(talk)
def test_nothing_changes_without_a_record(text):
    for s in mend(said(text), TRADE).sentences:
        assert (s.text != s.heard) == any(m.applied for m in s.mends)


@settings(max_examples=40, deadline=None)
@given(talk)
def test_mending_what_is_mended_changes_nothing(text):
    once = mended(text)
    assert mended(once) == once


@settings(max_examples=40, deadline=None)
@given(talk)
def test_refusing_every_mend_restores_what_was_heard_to_the_letter(text):
    refused: set[Refusal] = set()
    for _ in range(12):
        out = mend(said(text), TRADE, refused=refused)
        new = {Refusal(m.from_) for s in out.sentences for m in s.mends if m.applied} - refused
        if not new:
            break
        refused |= new
    assert " ".join(s.text for s in out.sentences) == " ".join(s.heard for s in out.sentences)


@settings(max_examples=40, deadline=None)
@given(talk)
def test_words_and_sentences_say_the_same_in_order_of_time(text):
    out = mend(said(text), TRADE)
    for s, (first, last) in zip(out.sentences, out.spans):
        assert s.text == " ".join(w.text for w in out.words[first:last])
    starts = [w.start for w in out.words]
    assert starts == sorted(starts)


def test_a_refused_mend_stays_refused_at_its_moment_only():
    talk = "Two shims here. Two shins on the shaft. " + "Nothing else was said for a while at the bench. " * 3 + "Two shins in the cap."
    texts = [s.text for s in mend(said(talk), TRADE, refused=[Refusal("shins", at=2.0)]).sentences]
    assert texts[1] == "Two shins on the shaft." and texts[-1] == "Two shims in the cap."
    assert "shims" not in " ".join(s.text for s in mend(said(talk), TRADE, refused=[Refusal("shims")]).sentences[1:])


def test_the_glossary_keeps_words_as_they_are_heard():
    talk = "Two shims here. Two shins on the shaft."
    assert "Two shims on" in mended(talk)
    out = mend(said(talk), load_trade(Glossary(leave=("shins",))))
    assert [s.text for s in out.sentences] == ["Two shims here.", "Two shins on the shaft."]
    assert [m.why for m in out.sentences[1].mends] == ["refused by the host"]


def test_a_refusal_goes_before_what_is_taught():
    trade = load_trade(Glossary(hear_as={"clacker": "click pawl"}))
    out = mend(said("The clacker comes off. Some more talk about nothing much at all, for ten seconds or so. Clean the clacker."), trade, refused=[Refusal("clacker", at=0.5)])
    assert [s.text for s in out.sentences][::2] == ["The clacker comes off.", "Clean the click pawl."]


# The shop's own makers and models, beside plain words that sound like them.
OWN = load_trade(Glossary(makers=("Garrowby", "Corvane", "Ostrell"), models=(("Garrowby", "Dipper 2"), ("Corvane", "Teal 9"), ("Ostrell", "Tern 6"), ("Varnholm", "Heron 12"))))


@pytest.mark.parametrize("text", [
    "Look at this drag washer, see how it's shiny here and dull over there, that's your grabby.", "So if you done broke one, go be real nice to somebody with a dead reel.",
    "I'm gonna hold a zipper bag over the top and push it with a peg.",
    "So one turn is 42 thou near enough.",
])
def test_plain_words_are_no_names_because_they_sound_like_one(text):
    sentences = mend(said(text), OWN, "Servicing a Brundage Mistral 40").sentences
    assert " ".join(s.text for s in sentences) == text and not any(m.applied for s in sentences for m in s.mends)


@pytest.mark.parametrize("heard, meant", [
    ("My uncle owned a Corving Teal 9, an automatic.", "Corvane Teal 9"),      # no word of English
    ("My dad had a here in 12 with a cracked yoke.", "a Heron 12"),           # the shop's own Heron is a 12
])
def test_a_name_is_put_right_where_a_reel_is_spoken_of(heard, meant):
    assert meant in " ".join(s.text for s in mend(said(heard), OWN, "Servicing a Brundage Mistral 40").sentences)
