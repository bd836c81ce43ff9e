"""Where sentences begin and end in a stream of heard words."""

from ..hearing.words import Heard

LONG_SILENCE = 1.2  # seconds: a stop at the bench ends a sentence, whatever the punctuation says


def sentence_spans(heard: Heard) -> list[tuple[int, int]]:
    """[first, last) word indices of each sentence, in order, covering all words."""
    spans, first, words = [], 0, heard.words
    opens_cue = set(heard.breaks)
    for i, word in enumerate(words):
        last = i + 1
        ends = word.text[-1:] in ".?!" or last == len(words)
        if not ends and last < len(words):
            ends = words[last].start - word.end > LONG_SILENCE or (
                last in opens_cue and words[last].text[:1].isupper() and last - first >= 4)
        if ends:
            spans.append((first, last))
            first = last
    return spans
