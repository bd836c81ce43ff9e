"""What the speech model is told before it listens."""

import pytest

from pipeline.hearing import FootageError, HearingSettings, hear
from pipeline.hearing.hints import OWN_LETTERS, WORDS, hints
from pipeline.hearing.speech import hint_of
from pipeline.mending.vocabulary import split_words, vocabulary
from pipeline.trade import Glossary, Term, data, load_trade


def test_every_hint_is_a_word_of_the_trade_and_every_kind_one_of_its_kinds():
    known = {"".join(said.words) for said in vocabulary(load_trade(), "")}
    told = data("hearing")
    for word in (*told["any"], *(w for words in told["kind"].values() for w in words)):
        assert "".join(split_words(word)) in known, f"{word} is in none of the trade's lists"
    assert told["kind"].keys() == data("parts")["called"].keys()


def test_hints_are_short_sentences_since_the_model_goes_on_in_their_manner():
    told = hints("Servicing a Brindock Tamsel 12", Glossary())
    assert told[:2] == ["Servicing a Brindock Tamsel 12.", "Pawl, pinion, spool."]
    assert all(s.endswith(".") and s.count(",") < WORDS for s in told)


def test_the_title_tells_which_words_come_first():
    assert hints("A spincast reel, stripped and cleaned", Glossary())[1] == "Pin, cone, spinner head."
    assert hints("", Glossary())[0] == "Pawl, pinion, spool."
    assert hints("Very long " * 50, Glossary())[0] == "Pawl, pinion, spool.", "a title as long as that is no title"


def test_own_words_come_before_the_trade_s_and_leave_it_room():
    own = Glossary(makers=("Brindock",), models=(("Brindock", "Tamsel 12"),), terms=(Term("click tongue", "part"),))
    assert hints("", own)[0] == "Brindock, Tamsel 12, click tongue."
    many = hints("", Glossary(makers=tuple(f"Maker{i}" for i in range(500))))
    assert len(" ".join(s for s in many if "Maker" in s)) <= OWN_LETTERS and "pinion" in hint_of(many)


def test_strange_words_of_a_glossary_do_no_harm(talk):
    odd = Glossary(makers=("", " ", "...", "<|endoftext|>", "\u202eשלום", "x" * 5000))
    assert hear([talk(20, 12)], HearingSettings(), hints("<|startoftranscript|>\n\n", odd)).words


def test_the_model_spells_a_name_as_it_was_told(talk):
    """The host says "Ostrell Petrel" in the first minute; alone, the model writes a fuel."""
    clip = talk(0, 60)
    told = hear([clip], HearingSettings(), hints("", Glossary(makers=("Ostrell",), models=(("Ostrell", "Petrel"),))))
    untold = hear([clip], HearingSettings(hint=False))
    assert " ".join(w.text for w in told.words).count("Petrel") > " ".join(w.text for w in untold.words).count("Petrel")


def test_nothing_is_told_where_the_settings_say_no(talk):
    clip = talk(20, 12)
    assert hear([clip], HearingSettings(hint=False), ["Pawl."]) == hear([clip], HearingSettings(hint=False))


def test_noise_is_not_heard_as_the_hint(clips):
    hiss = clips("hiss.wav", "-f", "lavfi", "-i", "anoisesrc=a=0.2:color=brown:seed=3", "-t", "20", "-ar", "16000")
    with pytest.raises(FootageError, match="no speech was found"):
        hear([hiss], HearingSettings(), hints("", Glossary()))


def test_no_word_of_the_hint_gets_into_talk_with_long_pauses(talk, clips):
    """Half a minute of talk, half a minute of a running tap's hiss, and the talk once more: what is told is never what is heard."""
    hiss = clips("tap.wav", "-f", "lavfi", "-i", "anoisesrc=a=0.05:color=pink:seed=5", "-t", "30", "-ar", "16000")
    heard = hear([talk(20, 30), hiss, talk(50, 30)], HearingSettings(), hints("", Glossary()))
    assert not [w.text for w in heard.words if 30.5 < (w.start + w.end) / 2 < 59.5]
