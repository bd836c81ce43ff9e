import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.mending.sounds import phrase_sound, sound_distance, word_sound

sounds = st.lists(st.sampled_from(["pinion", "yoke", "shim", "bail", "clutch", "rotor", "oil"]), max_size=3).map(phrase_sound)


@pytest.mark.parametrize("heard, said", [("yolk", "yoke"), ("bale", "bail"), ("break", "brake"), ("paul", "pawl"), ("real", "reel")])
def test_what_sounds_the_same_is_no_distance_apart(heard, said):
    assert sound_distance(word_sound(heard), word_sound(said)) == 0


@pytest.mark.parametrize("near, far, said", [("shin", "chip", "shim"), ("net", "cat", "nut"), ("penion", "onion", "pinion")])
def test_the_nearer_sound_is_nearer(near, far, said):
    said = word_sound(said)
    assert sound_distance(word_sound(near), said) < sound_distance(word_sound(far), said)


@given(sounds, sounds)
def test_distance_is_symmetric_and_zero_only_for_the_same_sound(a, b):
    assert sound_distance(a, b) == pytest.approx(sound_distance(b, a))
    assert (sound_distance(a, b) == 0) == (a == b)
