"""chapters.jsonld through a JSON-LD processor (pyld: the W3C JSON-LD 1.1 algorithms), not as plain JSON.

The network is not asked: a document loader gives a small context in place of schema.org's, written for this test from the published terms
(schema.org VideoObject, Clip, HowTo, HowToSection, HowToStep, HowToTool, HowToSupply; from memory): every term of the vocabulary, `url` an address.
"""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyld import jsonld

from pipeline.record import Chapter, Episode, Named, Reel, Sentence, Step
from pipeline.writing.chapters import published
from pipeline.writing.guide import build_guide
from pipeline.writing.plain import clean
from pipeline.writing.settings import WritingSettings
from pipeline.writing.structured import structured

SCHEMA = "https://schema.org/"
TERMS = ("VideoObject Clip HowTo HowToSection HowToStep HowToTool HowToSupply name description duration startOffset endOffset hasPart tool supply step "
         "position itemListElement text").split()
CONTEXT = {"@context": {"schema": SCHEMA, **{t: f"schema:{t}" for t in TERMS}, "url": {"@id": "schema:url", "@type": "@id"}}}
TYPES = {SCHEMA + t for t in TERMS if t[0].isupper()}


def offline(url: str, options: dict) -> dict:
    assert url.rstrip("/") == "https://schema.org"
    return {"contentType": "application/ld+json", "contextUrl": None, "documentUrl": url, "document": CONTEXT}


def expanded(text: str) -> list[dict]:
    """The processor's view: every term as an address of the vocabulary; a term that the context does not know would be gone."""
    return jsonld.expand(json.loads(text), {"documentLoader": offline})


def episode(titles: list[str], url: str | None = "https://video.example/watch?v=1") -> Episode:
    said = [Sentence(id="s1", start=1, end=4, text="Take the spool out.", heard="Take the spool out.")]
    return Episode(
        id="a", title="Servicing a Quillstone Dabchick 20", url=url, duration=40.0 * len(titles), sentences=said, reels=[Reel(maker="Quillstone", model="Dabchick 20", role="on_bench")],
        chapters=[Chapter(start=40.0 * i, title=t, phase="aside") for i, t in enumerate(titles)],
        tools=[Named(name="small screwdriver", at=[(1, 4)], sentences=["s1"])], supplies=[Named(name="reel oil", at=[(1, 4)], sentences=["s1"])],
        steps=[Step(id="t1", start=1, end=4, do="remove", part="spool", tool="small screwdriver", text="Take the spool out.", phase="disassembly", sentences=["s1"], confidence=0.95)])


def write(record: Episode) -> tuple[str, list]:
    rules = WritingSettings()
    marks = published(record.chapters, record.duration, rules.chapters)
    return structured(record, marks, build_guide(record, rules, {}), rules), marks


def values(node: dict, term: str) -> list:
    return [v.get("@value", v.get("@id")) for v in node.get(SCHEMA + term, [])]


def test_every_type_and_term_is_one_of_the_vocabulary_and_nothing_is_lost():
    text, marks = write(episode(["Spool out", "Cleaning"]))
    graph = expanded(text)
    video, how_to = ({SCHEMA + "VideoObject", SCHEMA + "HowTo"} & set(n["@type"]) and n for n in graph)
    assert video["@type"] == [SCHEMA + "VideoObject"] and how_to["@type"] == [SCHEMA + "HowTo"]
    clips = video[SCHEMA + "hasPart"]
    assert [values(c, "name")[0] for c in clips] == [m.title for m in marks]
    assert [values(c, "startOffset")[0] for c in clips] == [m.start for m in marks]
    assert values(video, "duration") == ["PT80S"] and values(how_to[SCHEMA + "tool"][0], "name") == ["small screwdriver"]
    steps = how_to[SCHEMA + "step"][0][SCHEMA + "itemListElement"]
    assert values(steps[0], "text") and values(steps[0], "url")[0].startswith("https://video.example/")

    def keys(plain) -> int:
        if isinstance(plain, dict):
            return sum(1 + keys(v) for k, v in plain.items() if not k.startswith("@"))
        return sum(map(keys, plain)) if isinstance(plain, list) else 0

    def named(node) -> int:
        if isinstance(node, dict):
            return sum((k.startswith(SCHEMA)) + named(v) for k, v in node.items())
        return sum(map(named, node)) if isinstance(node, list) else 0

    assert named(graph) == keys(json.loads(text)["@graph"])  # the processor drops what it does not know: nothing was dropped
    flat = jsonld.flatten(json.loads(text), None, {"documentLoader": offline})
    assert {t for n in flat for t in n.get("@type", [])} <= TYPES


def test_an_episode_without_an_address_has_no_links():
    text, _ = write(episode(["Spool out"], url=None))
    assert SCHEMA + "url" not in json.dumps(expanded(text))


@settings(max_examples=25, deadline=None)
@given(st.lists(st.text(min_size=1, max_size=60), min_size=1, max_size=8))
def test_any_titles_come_back_as_they_were(titles):
    text, marks = write(episode(titles))
    video = next(n for n in expanded(text) if n["@type"] == [SCHEMA + "VideoObject"])
    assert [values(c, "name")[0] for c in video[SCHEMA + "hasPart"]] == [m.title for m in marks]
    assert "<" not in text and all(m.title == clean(m.title) for m in marks)


@pytest.mark.parametrize("text", ['{"@context": "https://elsewhere.example", "name": "x"}'])
def test_the_loader_gives_no_other_context(text):
    with pytest.raises(Exception):
        expanded(text)
