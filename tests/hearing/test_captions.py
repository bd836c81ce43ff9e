"""Caption files of every kind, honest and hostile."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.hearing import captions
from pipeline.hearing.captions import CaptionError, read_captions

SRT = "1\n00:00:01,000 --> 00:00:02,500\nBack out the screws.\n\n2\n00:00:03,000 --> 00:00:04,000\nSix of them.\n"
VTT = "WEBVTT - made at the bench\n\nNOTE nothing to see\n\nfirst\n00:01.000 --> 00:02.500 align:start\nBack out the screws.\n\n00:03.000 --> 00:04.000\nSix of them.\n"
ASS = ("[Script Info]\nScriptType: v4.00+\n\n[V4+ Styles]\nFormat: Name, Fontname\nStyle: Default,Sans\n\n[Events]\n"
       "Format: Layer, Start, End, Style, Name, MarginL, MarginR, MarginV, Effect, Text\n"
       "Dialogue: 0,0:00:01.00,0:00:02.50,Default,,0,0,0,,{\\an8\\b1}Back out{\\b0}\\Nthe screws.\n"
       "Comment: 0,0:00:02.00,0:00:02.50,Default,,0,0,0,,not said\n"
       "Dialogue: 0,0:00:03.00,0:00:04.00,Default,,0,0,0,,Six of them.\n")
TTML = ('<tt xmlns="http://www.w3.org/ns/ttml"><body><div><p begin="00:00:01.000" end="00:00:02.500">Back out the screws.</p>'
        '<p begin="00:00:03.000" end="00:00:04.000">Six of them.</p></div></body></tt>')
MICRODVD = "{1}{1}10\n{10}{25}Back out|the screws.\n{30}{40}Six of them.\n"


@pytest.fixture
def read(tmp_path):
    def read(content: str | bytes, name="said.txt"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_captions(path)

    return read


def said(heard) -> str:
    return " ".join(w.text for w in heard.words)


def starts(heard) -> list[float]:
    return [w.start for w in heard.words]


@pytest.mark.parametrize("content", [SRT, VTT, ASS, TTML, MICRODVD, SRT.replace("\n", "\r\n"), SRT.replace(",", "."), "\ufeff" + SRT],
                         ids=["srt", "vtt", "ass", "ttml", "microdvd", "crlf", "dots", "bom"])
def test_every_format_says_the_same(read, content):
    heard = read(content)
    assert said(heard) == "Back out the screws. Six of them."
    assert heard.breaks == [0, 4] and heard.words[4].start == pytest.approx(3.0) and heard.duration == pytest.approx(4.0)
    assert heard.words[0].start == pytest.approx(1.0) and heard.words[3].end == pytest.approx(2.5)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"])
def test_every_encoding(read, encoding):
    heard = read(SRT.replace("screws", "café’s “screws”").encode(encoding))
    assert said(heard) == "Back out the café’s “screws”. Six of them."


@pytest.mark.parametrize("line", ["[12:34] Mind the spring.", "0:12:34 Mind the spring.", "12:34 - Mind the spring.", "(12:34.00) Mind the spring.",
                                  "00:12:34:Mind the spring.", "12:34\nMind the spring.", "<12:34> Mind\nthe spring."])
def test_plain_lines_that_begin_with_a_time(read, line):
    heard = read(f"{line}\n13:00 It flies.\n")
    assert said(heard) == "Mind the spring. It flies."
    assert heard.words[0].start == 754 and heard.words[3].start == 780
    assert heard.words[2].end < 757, "words are not stretched over the silence after them"


def test_words_keep_the_times_they_have(read):
    heard = read("WEBVTT\n\n00:01.000 --> 00:04.000\n<v Host>Back <00:01.500><c.white>out</c> <00:03.000>the screws</v>\n")
    assert starts(heard) == [1.0, 1.5, 3.0, 3.333]


def test_rolling_captions_are_said_once(read):
    heard = read("WEBVTT\n\n00:00.000 --> 00:02.000\n \nso<00:00.800><c> the</c><00:01.200><c> side</c>\n\n00:02.000 --> 00:02.010\nso the side\n \n\n"
                 "00:02.010 --> 00:04.000\nso the side\nplate<00:03.000><c> comes</c>\n\n00:04.000 --> 00:04.010\nplate comes\n \n\n"
                 "00:04.010 --> 00:06.000\nplate comes\noff<00:05.000><c> now</c>\n")
    assert said(heard) == "so the side plate comes off now"
    assert starts(heard) == [0.0, 0.8, 1.2, 2.01, 3.0, 4.01, 5.0]


def test_growing_captions_are_said_once(read):
    lines = ["back", "back the", "back the screws", "back the screws out"]
    heard = read("".join(f"{i}\n00:00:0{i},000 --> 00:00:0{i},900\n{line}\n\n" for i, line in enumerate(lines, 1)))
    assert said(heard) == "back the screws out" and starts(heard) == [1, 2, 3, 4]


def test_what_the_host_repeats_stays(read):
    lines = ["Click.", "Click.", "Listen to that.", "Listen to that.", "Now the spool.", "It drops in.", "Click.", "That's it."]
    heard = read("".join(f"{i}\n00:00:0{i},000 --> 00:00:0{i},900\n{line}\n\n" for i, line in enumerate(lines, 1)))
    assert said(heard) == " ".join(lines)


def test_markup_sounds_and_speakers_are_not_words(read):
    heard = read("1\n00:00:01,000 --> 00:00:02,000\n- <font color=\"red\">Oil &amp; grease</font> [clatter]\n- HOST: {\\an8}a drop\u200b\n\n"
                 "2\n00:00:03,000 --> 00:00:04,000\n(laughs)\n\n3\n00:00:05,000 --> 00:00:06,000\n♪ ♪\n\n4\n00:00:07,000 --> 00:00:08,000\n>> Six\u202e <b>screws</b>.\n")
    assert said(heard) == "Oil & grease a drop Six screws."


def test_odd_times_are_set_right(read):
    heard = read("1\n00:00:10,000 --> 00:00:09,000\nthird\n\n2\n00:00:01,000 --> 00:00:08,000\nfirst\n\n3\n00:00:05,000 --> 00:00:06,000\nsecond\n\n4\n00:00:05,000 --> 00:00:05,500\ntoo\n")
    assert said(heard) == "first second too third"
    assert heard.words[0].end == 5 and heard.words[-1].end > 10


BAD = {
    "the file is empty": b" \n",
    "there are no captions in it": b"Back out the screws.\nSix of them.\n",
    "past 24 hours": b"1\n99:00:01,000 --> 99:00:02,000\nhi\n",
    "the times on line 2 can't be read": b"1\n00:00:0x,000 --> 00:00:02,000\nhi\n",
    "the times on line 1 can't": b"-00:00:01,000 --> 00:00:02,000\nhi\n",
    "count frames": b"{10}{25}Back out the screws.\n",
    "this is not text": bytes(range(32)) * 100,
    "captions are damaged": b"<tt xmlns='http://www.w3.org/ns/ttml'><body>",
    "there are no captions": b"WEBVTT\n\n00:01.000 --> 00:02.000\n[music]\n",
    "too large": b"1\n00:00:01,000 --> 00:00:02,000\n" + b"hi " * (captions.LARGEST // 3),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_captions_are_named_in_one_line(read, what):
    with pytest.raises(CaptionError, match=what) as caught:
        read(BAD[what])
    assert "said.txt" in str(caught.value) and "\n" not in str(caught.value)


def test_what_is_no_file_is_named(tmp_path):
    for path, what in ((tmp_path, "folder"), (tmp_path / "gone.srt", "no such file"), (tmp_path / "a\0b", "can't be read")):
        with pytest.raises(CaptionError, match=what):
            read_captions(path)


def test_an_endless_file_is_not_read(tmp_path):
    huge = tmp_path / "huge.srt"
    with huge.open("wb") as file:
        file.write(SRT.encode())
        file.truncate(200_000_000)  # a file with a hole: it takes no room on the disk
    with pytest.raises(CaptionError, match="too large"):
        read_captions(huge)


def test_entities_do_not_swell(read):
    lol = "".join(f'<!ENTITY l{i + 1} "{f"&l{i};" * 10}">' for i in range(9))
    with pytest.raises(CaptionError):
        read(f'<?xml version="1.0"?><!DOCTYPE tt [<!ENTITY l0 "lollollol">{lol}]><tt xmlns="http://www.w3.org/ns/ttml"><body><p begin="1s" end="2s">&l9;</p></body></tt>')


def in_order(heard):
    assert heard.words and heard.breaks[0] == 0 and heard.breaks == sorted(set(heard.breaks)) and heard.breaks[-1] < len(heard.words)
    times = [t for w in heard.words for t in (w.start, w.end)]
    assert times == sorted(times) and times[0] >= 0 and heard.duration == times[-1] <= captions.LAST_MOMENT
    assert all(w.text and w.text.split() == [w.text] and w.text.isprintable() for w in heard.words)


times = st.integers(0, 50_000_000).map(lambda ms: f"{ms // 3600000:02d}:{ms // 60000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}")
cues = st.lists(st.tuples(times, times, st.text(max_size=60)), min_size=1, max_size=8)


@given(cues=cues, web=st.booleans())
def test_any_text_at_any_times_gives_words_in_order_or_one_line(tmp_path_factory, cues, web):
    path = tmp_path_factory.mktemp("c") / "any.txt"
    body = "".join(f"{start} --> {end}\n{text}\n\n" for start, end, text in cues)
    path.write_text(("WEBVTT\n\n" if web else "") + body, "utf-8", errors="replace", newline="")
    try:
        in_order(read_captions(path))
    except CaptionError as error:
        assert "\n" not in str(error)


@given(raw=st.one_of(st.binary(max_size=400), st.text(max_size=400).map(lambda t: t.encode("utf-8", "replace")),
                     st.tuples(st.sampled_from([SRT, VTT, ASS, TTML, MICRODVD]), st.integers(0, 600), st.binary(max_size=40)).map(
                         lambda p: p[0].encode()[: p[1]] + p[2] + p[0].encode()[p[1] :])))
def test_any_bytes_give_words_in_order_or_one_line(tmp_path_factory, raw):
    path = tmp_path_factory.mktemp("c") / "any.txt"
    path.write_bytes(raw)
    try:
        in_order(read_captions(path))
    except CaptionError as error:
        assert "\n" not in str(error)
