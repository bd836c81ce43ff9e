"""Invented comments under an invented episode: who asks, what answers it, what is still open, who asks the same."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.questions import answer
from pipeline.questions.comments import Comment
from pipeline.record import Episode, Fact, LedgerLine, Question, Sentence
from pipeline.trade import load_trade

TRADE = load_trade()
TALK = [
    "Welcome back, today it is a Quillstone Dabchick 20 on the bench.",
    "The Dabchick 35 is the same inside, so everything here works for that one too.",
    "The handle nut goes clockwise to come off, I think.",
    "Lift the handle away and put it in the tray.",
    "Here is the anti-reverse spring, and out it comes.",
    "The click spring comes out as well.",
    "This bearing is eight by fourteen by four millimeters.",
    "I had an egg sandwich for lunch, by the way.",
    "Never put grease in the roller clutch, it slips and the handle spins back.",
    "The leather drag washers, if they are soft you can use them again, hard ones go in the bin.",
    "The bridge is obsolete, nobody has had one for years.",
    "Back to the handle nut, I told you clockwise and that's wrong.",
    "It's a reverse thread, so the handle nut turns counterclockwise to go on.",
    "Click spring back in, under its hook.",
    "Thanks for watching, see you next time.",
]


def fact(i: int, kind: str, part: str | None = None, value: str | None = None) -> Fact:
    return Fact(start=10.0 * i, end=10.0 * i + 8, kind=kind, part=part, text=TALK[i], value=value, sentences=[f"s{i}"], confidence=0.9)


EPISODE = Episode(
    id="dabchick", title="Servicing a Quillstone Dabchick 20", duration=200.0,
    sentences=[Sentence(id=f"s{i}", start=10.0 * i, end=10.0 * i + 8, text=text, heard=text) for i, text in enumerate(TALK)],
    facts=[fact(1, "interchange"), fact(2, "fastener", "handle nut"), fact(6, "measure", "bearing", "8 x 14 x 4 mm"), fact(8, "caution", "roller clutch"),
           fact(9, "setting", "drag washer"), fact(10, "obsolete", "bridge"), fact(12, "fastener", "handle nut")],
    ledger=[LedgerLine(part="anti-reverse spring", off=40.0, status="not shown going back", confidence=0.8),
            LedgerLine(part="click spring", off=50.0, on=130.0, status="back on", confidence=0.8)])


def ask(*texts: str | Comment) -> list[Question]:
    comments = [t if isinstance(t, Comment) else Comment(id=f"c{i}", text=t) for i, t in enumerate(texts)]
    return answer(comments, EPISODE, TRADE)


@pytest.mark.parametrize("text", [
    "which spring do i need for this one", "wondering if I can just do the same on mine", "need the thread size please", "Did the click spring ever go back in? I never saw it.",
    "wat size is that bearing", "my bearings are shot, whats the number to order", "anyone know a shop that has these bridges", "is it two of the washers or three, i cant decide",
    "ok to grease the clutch or no", "Mine slips when I set the hook, whats up with that", "Thanks for this! How tight does the star go?", "Would you say the bearing part no. for me please",
])
def test_asks(text):
    [q] = ask(text)
    assert q.is_question and q.asks


@pytest.mark.parametrize("text", [
    "Who needs the cinema when there's a man and his kettle?", "Isn't it lovely how it purrs afterwards?", "How do you stay so calm when things fly off!", "Could you please never stop making these",
    "Small correction, the second run had brass gears, not bronze.", "Congratulations, you were selected! Message me to claim your free rod", "I made 700 last week from my sofa, ask me how!!", "Thank you, did mine last night and it sings.",
    "Lovely job. What a calm voice.", "Who knew a spring could fly that far?", "Did mine on Monday with your help, cheers.", "Had the same noise once, it was sand in the gears.", '"Where did it go?" is going on my gravestone.',
])
def test_asks_nothing(text):
    [q] = ask(text)
    assert not q.is_question and not q.asks and not q.answers


def test_the_hosts_own_words_are_no_question_and_answer_the_one_they_reply_to():
    asked, reply, other = ask(Comment(id="a", text="What camera do you use?"), Comment(id="b", text="A cheap one, why do you ask?", reply_to="a", from_host=True), "Where do you live?")
    assert (asked.status, asked.reply) == ("answered", "A cheap one, why do you ask?")
    assert not reply.is_question and other.status == "open" and other.reply is None


@pytest.mark.parametrize("text, place", [
    ("Does this work for the 35 as well?", 1), ("wat size is the bering in there", 6), ("can i put a bit of greese in the roller clutch so it doesn't rust", 8),
    ("keep the leather washers or bin them", 9), ("Where can I buy a bridge for one of these?", 10),
])
def test_the_moment_that_answers_comes_first(text, place):
    [q] = ask(text)
    assert q.status == "answered" and q.answers[0].text == TALK[place] and q.answers[0].episode == "dabchick"
    assert [a.confidence for a in q.answers] == sorted((a.confidence for a in q.answers), reverse=True)


def test_what_the_host_took_back_answers_less_than_what_he_said_then():
    [q] = ask("Which way does the handle nut turn?")
    assert q.answers[0].start >= 110.0


@pytest.mark.parametrize("text", [
    "Did the anti-reverse spring ever go back in?", "watched twice and I cant find you putting the anti reverse spring back", "Do you take in reels by post?", "What is the torque for the handle nut in newton metres?",
    "how often should I oil the bearing", "Does beeswax go off in the heat?",
])
def test_what_the_episode_does_not_say_stays_open(text):
    [q] = ask(text)
    assert q.is_question and q.status == "open"


def test_a_part_that_the_ledger_shows_going_back_is_answered_there():
    [q] = ask("Did the click spring ever go back in? I never saw it.")
    assert q.status == "answered" and q.answers[0].start == 130.0


def test_the_same_question_in_other_words_points_at_the_first():
    a, b, c, d = ask("Which way does the handle nut undo?", "is that handle nut a left hand thread", "What size is the bearing?", "Is the handle nut lefty loosey?")
    assert [q.same_as for q in (a, b, c, d)] == [None, "c0", None, "c0"]


@pytest.mark.parametrize("first, second", [
    ("where do you get a new bridge, mine snapped", "is there any shop that still sells that bridge"),
    ("ok to put grease on the roller clutch?", "should the one way clutch be greased or left dry"),
    ("at what thickness do the leather washers go in the bin", "how thin can the leathers get before they're done"),
])
def test_who_asks_the_same_otherwise_is_grouped(first, second):
    a, b = ask(first, second)
    assert a.same_as is None and b.same_as == "c0"


@pytest.mark.parametrize("first, second", [
    ("Which way does the handle nut turn?", "Where can I buy a handle nut?"),
    ("What size is the bearing?", "how often do you oil the bearing"),
    ("Did the click spring ever go back in?", "Does this work for the 35 as well?"),
])
def test_another_question_of_the_same_part_stands_alone(first, second):
    assert [q.same_as for q in ask(first, second)] == [None, None]


def test_asks_are_one_tidy_line():
    [q] = ask("Lovely film.\n\nwhich way does\tthe handle nut turn??!\x1b[31m")
    assert q.asks == ["Which way does the handle nut turn?"]


def test_without_sentences_everything_is_open():
    empty = EPISODE.model_copy(update={"sentences": [], "facts": [], "ledger": []})
    [q] = answer([Comment(id="a", text="How tight?")], empty, TRADE)
    assert q.is_question and q.status == "open" and q.answers == []


@settings(max_examples=60, deadline=None)
@given(st.lists(st.builds(Comment, id=st.text(min_size=1, max_size=5), text=st.text(max_size=300), from_host=st.booleans(), reply_to=st.none() | st.text(max_size=5)), max_size=5))
def test_any_comment_is_read(comments):
    found = answer(comments, EPISODE, TRADE)
    assert [q.comment_id for q in found] == [c.id for c in comments]
    known = {c.id for c in comments}
    assert all(q.same_as is None or q.same_as in known for q in found)
    assert all(line.isprintable() for q in found for line in q.asks)


def test_a_long_comment_takes_no_long_time():
    import time

    began = time.perf_counter()
    ask("why " * 5_000, "?" * 20_000, "a" * 20_000, "the the " * 2_400 + "?", ", " * 10_000, "1 " * 10_000, "is it so good " * 1_000)
    assert time.perf_counter() - began < 10


def test_who_asks_the_same_gets_the_same_answers():
    a, b = ask("can i put a bit of greese in the roller clutch so it doesn't rust", "is it ok to grease the roller clutch?")
    assert b.same_as == "c0" and a.answers == b.answers and a.status == b.status == "answered"
