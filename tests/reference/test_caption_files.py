"""Our caption files, read back by webvtt-py, pysubs2 and the browser's own track element."""

import html
import io

from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.hearing.words import Word
from pipeline.writing.captions import cut_captions, srt, vtt
from pipeline.writing.plain import clean
from pipeline.writing.settings import CaptionRules

RULES = CaptionRules()
any_words = st.lists(st.tuples(st.text(min_size=1, max_size=70), st.floats(0.01, 1.5), st.floats(0, 3)), max_size=60).map(
    lambda rows: _timed(rows))


def _timed(rows):
    words, at = [], 0.0
    for text, length, pause in rows:
        words.append(Word(text=text, start=at, end=at + length))
        at += length + (pause if pause > 1 else 0)
    return words


def letters(text: str) -> str:
    return "".join(text.split())


@settings(max_examples=60, deadline=None)
@given(any_words)
def test_webvtt_py_reads_every_word_in_its_place(words):
    """webvtt-py: an independent WebVTT parser. Cue texts and times come back as we cut them."""
    import webvtt

    cues = cut_captions(words, RULES)
    read = list(webvtt.from_buffer(io.StringIO(vtt(cues))))
    assert [html.unescape(c.raw_text).split("\n") for c in read] == [list(c.lines) for c in cues]
    assert letters("".join(html.unescape(c.raw_text) for c in read)) == letters(" ".join(clean(w.text) for w in words))
    assert all(a.end <= b.start for a, b in zip(read, read[1:]))


@settings(max_examples=60, deadline=None)
@given(any_words)
@example([Word(text="0" * 19, start=0, end=1), Word(text="0" * 23, start=1, end=2)])  # the last line is no number of a caption
def test_pysubs2_reads_the_subrip_file(words):
    """pysubs2: an independent SubRip parser. Nothing is taken for a tag or a time line."""
    import pysubs2

    cues = cut_captions(words, RULES)
    read = pysubs2.SSAFile.from_string(srt(cues), format_="srt")
    said = [letters(e.plaintext).replace("\u2060", "") for e in read]
    assert said == [letters("".join(c.lines)).replace("-->", "→").replace("{", "(").replace("}", ")").replace("\u2060", "") for c in cues]
    assert [e.start for e in read] == [round(c.start * 1000) for c in cues]


@given(any_words)
def test_captions_hold_to_the_rules(words):
    cues = cut_captions(words, RULES)
    for cue, following in zip(cues, [*cues[1:], None]):
        assert 1 <= len(cue.lines) <= RULES.lines and all(len(line) <= RULES.line_length for line in cue.lines)
        assert cue.start < cue.end and (following is None or cue.end < following.start)


MEASURES = ["10 mm", "two washers", "5/8 inch", "#1 Phillips", "twenty ounces", "0.3 mm"]


@given(st.lists(st.one_of(st.sampled_from(MEASURES), st.sampled_from("then the drag washer goes on top of that and we turn the handle over slowly".split())), min_size=1, max_size=60))
def test_a_number_is_never_parted_from_what_it_counts(phrases):
    texts = " ".join(phrases).split()
    cues = cut_captions([Word(text=t, start=i * .3, end=i * .3 + .3) for i, t in enumerate(texts)], RULES)
    numbers = {m.split()[0] for m in MEASURES}
    assert not [line for cue in cues for line in cue.lines if line.split()[-1] in numbers]


def test_lines_break_where_a_phrase_ends():
    said = "Now the drag stack comes off in order, because the next man will thank you, and it goes back the same way."
    cues = cut_captions([Word(text=t, start=i * .25, end=i * .25 + .25) for i, t in enumerate(said.split())], RULES)
    assert [line for cue in cues for line in cue.lines] == [
        "Now the drag stack comes off in order,", "because the next man will thank you,", "and it goes back the same way."]


HOSTILE = "<script>alert(1)</script> --> 00:00:01.000 &amp; <b>bold</b> {\\an8} מסרק & 5 < 6"


def test_the_browser_shows_our_captions_as_text(page):
    """Chromium's own WebVTT parser, through a track element: captions and chapters."""
    from pipeline.writing import chapters

    cues = cut_captions([Word(text=t, start=i * .5, end=i * .5 + .4) for i, t in enumerate(HOSTILE.split())], RULES)
    marks = [chapters.Mark(0, 20.5, HOSTILE), chapters.Mark(20.5, 3700, "End")]
    for kind, text, wanted in (("captions", vtt(cues), [(c.start, c.end, "\n".join(c.lines)) for c in cues]),
                               ("chapters", chapters.vtt(marks), [(m.start, m.end, m.title) for m in marks])):
        got = page.execute_async_script("""
            const [kind, text, done] = arguments, track = document.createElement('track'), video = document.createElement('video');
            track.kind = kind; track.default = true; track.src = URL.createObjectURL(new Blob([text], {type: 'text/vtt'}));
            track.onerror = () => done('error');
            track.onload = () => done([...track.track.cues].map(c => [c.startTime, c.endTime, c.getCueAsHTML().textContent]));
            video.append(track); document.body.append(video); track.track.mode = 'hidden';""", kind, text)
        assert [tuple(c) for c in got] == wanted
    assert page.execute_script("return document.scripts.length") == 0
