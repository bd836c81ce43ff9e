import sqlite3

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import BenchError
from pipeline.index import search, store
from pipeline.index.reels import reels
from pipeline.index.sameness import meaning_words
from pipeline.index.waiting import question, questions
from pipeline.record import Answer, Episode, Fact, Named, Part, Question, Reel, Sentence, Step
from pipeline.shop import Shop, Source


def episode(id: str, *texts: str, **given) -> Episode:
    sentences = [Sentence(id=f"s{i}", start=i * 10, end=i * 10 + 8, text=t, heard=t) for i, t in enumerate(texts, 1)]
    return Episode(id=id, title=f"Servicing {id}", duration=1000, sentences=sentences, **given)


def put(shop: Shop, record: Episode) -> None:
    folder = shop.folder(record.id)
    folder.out.mkdir(parents=True, exist_ok=True)
    folder.write_source(Source(title=record.title, captions="captions.vtt", captions_sha256=record.id))
    folder.record.write_text(record.model_dump_json(by_alias=True))


@pytest.fixture
def three(shop) -> Shop:
    put(shop, episode(
        "dabchick", "A Quillstone Dabchick 20, and the 30 is the same inside.", "Back out the two plate screws.", "A dab of grease on the carbon drag washers.",
        reels=[Reel(maker="Quillstone", model="Dabchick 20", role="on_bench", at=[(10, 12)], sentences=["s1"]),
               Reel(maker="Quillstone", model="Dabchick 30", role="same_service", at=[(13, 15)], sentences=["s1"])],
        facts=[Fact(start=10, end=18, kind="interchange", text="The Dabchick 30 is the same inside.", sentences=["s1"])],
        parts=[Part(name="plate screw", at=[(20, 28)], sentences=["s2"]), Part(name="carbon drag washer", at=[(30, 38)], sentences=["s3"])],
        supplies=[Named(name="grease", at=[(30, 38)])],
        steps=[Step(id="t1", start=20, end=28, do="remove", part="plate screw", qty=2, text="Back out two plate screws.", sentences=["s2"]),
               Step(id="t2", start=30, end=38, do="lubricate", part="carbon drag washer", supply="grease", text="Grease them.", sentences=["s3"])],
        questions=[Question(comment_id="c1", is_question=True, asks=["Where can I buy leather drag washers for this reel?"]),
                   Question(comment_id="c2", is_question=True, asks=["Leather drag washers, where to buy those?"], same_as="c1"),
                   Question(comment_id="c3", is_question=False),
                   Question(comment_id="c4", is_question=True, asks=["Which grease?"], status="answered",
                            answers=[Answer(episode="dabchick", start=30, end=38, text="A dab of grease.", confidence=0.8)])]))
    put(shop, episode(
        "moorhen", "The Moorhen 5 today.", "Wipe the old grease off the spool.", "My Dabchick 20 has that too.",
        reels=[Reel(model="Moorhen 5", role="on_bench", at=[(10, 12)]), Reel(model="Dabchick 20", role="mentioned", at=[(30, 32)])],
        steps=[Step(id="t1", start=20, end=28, do="clean", part="spool", text="Wipe the spool.", sentences=["s2"])],
        questions=[Question(comment_id="c1", is_question=True, asks=["where do you buy the leather drag washers"]),
                   Question(comment_id="c2", is_question=True, asks=["How often?"])]))
    put(shop, episode("coot", "Café talk about nothing, won't take long.", reels=[Reel(maker="Brackwater", model="Coot 7", role="on_bench")],
                      questions=[Question(comment_id="c9", is_question=True, asks=["How often?"])]))
    return shop


def found(shop: Shop, words: str = "", **how) -> list[tuple[str, float]]:
    with store.reading(shop) as db:
        return [(h.episode, h.start) for h in search.find(db, words, **how)]


# find


def test_words_part_step_and_reel_find_their_moments(three):
    assert found(three, "dab greases")[0] == ("dabchick", 30)
    assert found(three, "grease", reel="Dabchick 20") == [("dabchick", 30)]
    assert found(three, "grease", reel="quillstone dabchick 30") == [("dabchick", 30)]
    assert found(three, part="drag washer") == [("dabchick", 30)]
    assert found(three, step="remove") == [("dabchick", 20)] and found(three, step="remove", part="drag washer") == []
    assert found(three, step="lubricate", part="drag washer") == [("dabchick", 30)]
    assert found(three, "grease", part="spool") == [("moorhen", 20)]
    assert found(three, reel="Moorhen 5") == [("moorhen", 20)] and found(three, "grease", reel="Nothing 1") == []


def test_a_step_says_more_than_the_talk_around_it(three):
    with store.reading(three) as db:
        hit = search.find(db, "plate screw")[0]
    assert (hit.start, hit.title, hit.found) == (20, "Servicing dabchick", "remove plate screw")


def test_the_newest_come_first_and_the_oldest_are_found_too(three, monkeypatch):
    every = found(three, "the", limit=100)
    monkeypatch.setattr(search, "WINDOW", 2)
    assert sorted(found(three, "the", limit=100)) == sorted(every)
    monkeypatch.setattr(search, "LOOKED_AT", 1)
    assert found(three, "grease", limit=1) == [("moorhen", 20)]


def test_letters_with_marks_and_beginnings_of_words_are_found(three):
    assert found(three, "cafe") == found(three, "CAFÉ") == [("coot", 10)] and found(three, "won't") == [("coot", 10)]
    assert found(three, "carbo") == [("dabchick", 30)]


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60), st.none() | st.text(max_size=20), st.none() | st.text(max_size=20))
def test_nothing_that_is_typed_is_an_operator(words, part, step):
    with sqlite3.connect(":memory:") as db:
        db.executescript(store.TABLES)
        search.find(db, words, part=part, step=step)


@pytest.mark.parametrize("words", ['"', "a AND", "NOT", "text:", "grease OR spool", "gr*se", "NEAR(a b)", "-", "'; DROP TABLE moment; --", "{text}:x", "^a", "(", "a" * 5000, "x " * 5000])
def test_operators_and_quotes_are_only_words(three, words):
    found(three, words)
    assert found(three, "grease spool") == [("moorhen", 20)]


# reels


def test_each_model_with_its_episodes_and_its_sisters_and_the_reason(three):
    with store.reading(three) as db:
        models = {m.name: m for m in reels(db)}
    assert list(models) == ["Brackwater Coot 7", "Moorhen 5", "Quillstone Dabchick 20", "Quillstone Dabchick 30"]
    twenty, thirty = models["Quillstone Dabchick 20"], models["Quillstone Dabchick 30"]
    assert twenty.episodes == [("dabchick", "Servicing dabchick")] and thirty.episodes == []
    assert [(s.name, s.why) for s in thirty.sisters] == [("Quillstone Dabchick 20", "The Dabchick 30 is the same inside.")]
    assert [s.name for s in twenty.sisters] == ["Quillstone Dabchick 30"]
    assert twenty.mentioned == [("moorhen", "Servicing moorhen")]  # named there without its maker


# questions


def test_what_waits_is_grouped_by_what_it_asks_over_all_episodes(three):
    with store.reading(three) as db:
        groups = [[q.id for q in group] for group in questions(db)[0]]
    assert groups[0] == ["dabchick/c1", "dabchick/c2", "moorhen/c1"]
    assert sorted(groups[1:]) == [["coot/c9"], ["moorhen/c2"]]  # "How often?" says too little to be the same elsewhere


def test_a_question_is_found_by_its_id_alone_where_that_is_enough(three):
    with store.reading(three) as db:
        assert question(db, "c9").id == "coot/c9" and question(db, "moorhen/c1").episode == "moorhen"
        assert question(db, "c4").answers[0]["start"] == 30
        with pytest.raises(BenchError, match="say which|Say which"):
            question(db, "c1")
        with pytest.raises(BenchError, match="no such"):
            question(db, "moorhen/c7")


def test_meaning_words_leave_the_wrapping_out():
    assert meaning_words("Hi, where can I get the leather washers for this?") == {"leather", "washer"}


# the file


def everything(shop: Shop) -> dict[str, list]:
    """All that the index answers, whatever row numbers it has inside."""
    with store.reading(shop) as db:
        return {"reels": [vars(m) for m in reels(db)], "questions": [[q.id for q in g] for g in questions(db, None)[0]],
                "moments": [vars(h) for h in search.find(db, "the", limit=100)], "grease": found(shop, "grease")}


@pytest.mark.parametrize("harm", ["gone", "not a database", "another version", "cut off"])
def test_a_missing_or_harmed_index_is_made_again_from_the_records(three, harm):
    before = everything(three)
    path = three.database
    if harm == "gone":
        path.unlink()
    elif harm == "not a database":
        path.write_text("scribble" * 1000)
    elif harm == "cut off":
        path.write_bytes(path.read_bytes()[:3000])
    else:
        with sqlite3.connect(path) as db:
            db.execute("PRAGMA user_version = 99")
    assert everything(three) == before


def test_a_record_that_changed_takes_the_place_of_the_old_one(three):
    before = everything(three)
    record = store.read_record(three.folder("dabchick"))
    put(three, record.model_copy(update={"title": "Another title", "sentences": record.sentences[:1], "questions": []}))
    with three.writing("test"):
        assert store.sync(three) == ["dabchick"]
    assert ("dabchick", 30) not in found(three, "grease")
    with sqlite3.connect(three.database) as db:
        db.execute("INSERT INTO said (said) VALUES ('integrity-check')")
        assert db.execute("SELECT count(*) FROM asked WHERE id NOT IN (SELECT alike FROM question)").fetchone() == (0,)
    put(three, record)
    with three.writing("test"):
        store.sync(three)
    after = everything(three)
    assert after["reels"] == before["reels"]
    assert after["grease"] == before["grease"] and {tuple(sorted(g)) for g in after["questions"]} == {tuple(sorted(g)) for g in before["questions"]}


def test_an_episode_whose_folder_went_is_forgotten_and_a_new_one_is_seen(three):
    import shutil

    everything(three)
    shutil.rmtree(three.folder("moorhen").path)
    put(three, episode("grebe", "Grease again."))
    assert {e for e, _ in found(three, "grease")} == {"dabchick", "grebe"}


def test_a_record_that_is_none_is_told_in_one_line(three):
    three.folder("coot").record.write_text('{"id": 3}')
    with pytest.raises(BenchError, match="sideplate redo coot"):
        found(three, "grease")
