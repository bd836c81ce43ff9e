"""Values whose unit goes without saying: what the words around a bare number make of it.

Spanners and hex keys in millimetres, a worn thickness in the unit of the new one: common practice, no published source. Bearing sizes: ISO 15, metric
radial bearings (boundary dimensions), from memory.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.reading.values import offered
from pipeline.trade.numbers import find_numbers


def told(*texts):
    """What the last of some sentences may tell, the surest first."""
    offers = offered(list(texts), [find_numbers(t) for t in texts])
    return [o.value for o in sorted(offers, key=lambda o: -o.sure) if o.sentence == len(texts) - 1]


@pytest.mark.parametrize("texts, value", [
    (["Ten spanner on that."], "10 mm"),
    (["The nut is a seventeen, so put a deep socket on it."], "17 mm"),
    (["You want the one point five hex."], "1.5 mm"),
    (["Nut, nineteen ring, right hand thread."], "19 mm"),
    (["Put the mike on it, and it's forty four thou.", "New was sixty."], "0.060 in"),
    (["Longs are twelve mil, and short's eight."], "8 mm"),
    (["It's two millimetres long.", "The other one is three."], "3 mm"),
    (["Micrometer on the old shim, zero point two."], "0.2 mm"),
    (["It holds six pounds.", "Lever to strike, and pull, and that's four."], "4 lb"),
    (["She's good for ten kilos.", "At strike the scale reads six and a half."], "6.5 kg"),
    (["High is three point eight to one, and low is one point seven."], "1.7:1"),
    (["It's a seven, nineteen, six bearing."], "7 x 19 x 6 mm"),
    (["Front one's a quarter by five eighths."], "1/4 x 5/8 in"),
    (["A bearing, seven by eleven."], "7 x 11 mm"),
    (["Stainless, M three by eight."], "8 mm"),
    (["It spun for forty seconds, and before it was nine."], "9 s"),
    (["Two thou on the shim.", "Calipers on this one, and it's 68,000."], "0.068 in"),
])
def test_the_words_around_tell_the_unit(texts, value):
    assert value in told(*texts)


@pytest.mark.parametrize("text", [
    "There are six screws.", "Two spanners, one either side.", "The top one goes first.", "Number two Phillips.", "Turn it three times.", "Torx ten, and out it comes.", "Five of them.",
])
def test_what_is_counted_is_not_measured(text):
    assert told(text) == []


@given(st.lists(st.text(alphabet="abc 0123456789.,/:-'", max_size=60), max_size=5))
def test_offers_lie_in_their_sentences(texts):
    for o in offered(texts, [find_numbers(t) for t in texts]):
        assert 0 <= o.start < o.end <= len(texts[o.sentence]) and 0 < o.sure < 1 and o.value
