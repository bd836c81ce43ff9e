#!/usr/bin/env python3
"""How fast the index answers with very many episodes.

    python benchmarks/index.py                     ten thousand made-up episodes of 200 sentences each
    python benchmarks/index.py --episodes 1000
    python benchmarks/index.py --keep DIR          keep the index there, and use it again the next time

Prints milliseconds of the clock, the best and the worst of several runs after one to warm up, and of the processor at best:
on a busy machine the clock says more about the neighbours.
"""

import argparse
import random
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from pipeline.index import search, store  # noqa: E402
from pipeline.index.reels import reels  # noqa: E402
from pipeline.index.waiting import questions  # noqa: E402
from pipeline.record import Episode, Fact, Named, Part, Question, Reel, Sentence, Step  # noqa: E402
from pipeline.shop import Shop  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

SAYINGS = ["So the {part} comes out next, nice and easy.", "Put a dab of {supply} on the {part} and move on.", "I had a {part} like this on a {model} last year.",
           "Reach for the {tool}, that {part} is tight.", "This {part} is worn, you can feel it.", "Right, tea first, then we carry on.",
           "Let me get the camera a bit closer here.", "Wipe it all down, and look at it under the light.", "That one goes in with the cup facing up.",
           "Careful now, there is a spring behind the {part}."]
ASKS = ["Where can I buy a {part} for the {model}?", "Which {supply} do you put on the {part}?", "Does the {part} go in cup up or cup down?",
        "My {model} has no {part}, is that right?", "What size is the {tool} for the {part}?"]
DO = ["remove", "install", "clean", "lubricate", "inspect", "tighten"]


def episode(number: int, rng: random.Random, names: dict[str, list[str]], sentences: int) -> Episode:
    model = f"{names['model'][number % 2000]}"
    pick = lambda group: names[group][min(int(rng.paretovariate(0.9)) - 1, len(names[group]) - 1)]  # few names said often, many rarely
    said, steps, facts = [], [], []
    parts: dict[str, Part] = {}
    for i in range(sentences):
        words = {"part": pick("part"), "tool": pick("tool"), "supply": pick("supply"), "model": model}
        text = rng.choice(SAYINGS).format(**words)
        s = Sentence.model_construct(id=f"s{i}", start=i * 5.0, end=i * 5.0 + 4, text=text, heard=text, mends=[])
        said.append(s)
        if words["part"] in text:
            part = parts.setdefault(words["part"], Part.model_construct(name=words["part"], names=[], at=[], sentences=[], confidence=1.0, qty=None, part_number=None))
            part.at.append((s.start, s.end))
            part.sentences.append(s.id)
            if i % 3 == 0:
                steps.append(Step.model_construct(id=f"t{i}", start=s.start, end=s.end, do=rng.choice(DO), part=words["part"], text=text, sentences=[s.id]))
        if i % 8 == 0:
            facts.append(Fact.model_construct(start=s.start, end=s.end, kind="interchange" if i == 0 else "condition", text=text, value=None, part=None, sentences=[s.id]))
    asked = [Question.model_construct(comment_id=f"c{i}", is_question=True, asks=[rng.choice(ASKS).format(part=pick("part"), tool=pick("tool"), supply=pick("supply"), model=model)],
                                      same_as=None, status="open", answers=[], reply=None) for i in range(5)]
    bench = Reel(maker=model.split()[0], model=model.split(" ", 1)[1], role="on_bench", at=[(3, 5)])
    sister = Reel(maker=bench.maker, model=bench.model + "0", role="same_service", at=[(8, 9)])
    return Episode.model_construct(id=f"e{number}", title=f"Servicing a {model}", url=None, duration=sentences * 5.0, reels=[bench, sister], sentences=said, chapters=[],
                                   parts=list(parts.values()), tools=[Named(name="tweezers", at=[(5, 9)])], supplies=[], steps=steps, facts=facts, ledger=[], questions=asked)


def build(path: Path, count: int, sentences: int) -> None:
    rng, trade = random.Random(7), load_trade()
    syllables = ["bra", "kel", "dor", "min", "sto", "ver", "tal", "quin", "hes", "ga", "lun", "pri"]
    makers = [("".join(rng.choices(syllables, k=2))).title() for _ in range(40)]
    names = {"model": [f"{rng.choice(makers)} {''.join(rng.choices(syllables, k=3)).title()} {rng.randrange(1, 90)}" for _ in range(2000)]}
    for group in ("part", "tool", "supply"):
        names[group] = [t.name for t in trade.group(group)]
        rng.shuffle(names[group])
    db = store.open_for_writing(path)
    begun = time.perf_counter()
    with db:
        db.execute("BEGIN")
        for number in range(count):
            store.put(db, episode(number, rng, names, sentences), "made up")
    db.close()
    print(f"made in {time.perf_counter() - begun:.0f} s: {count} episodes, {count * sentences} moments, {path.stat().st_size / 1e6:.0f} MB")


def measure(name: str, job, runs: int = 5) -> None:
    job()
    times, work = [], []
    for _ in range(runs):
        begun, worked = time.perf_counter(), time.process_time()
        result = job()
        times.append((time.perf_counter() - begun) * 1000)
        work.append((time.process_time() - worked) * 1000)
    print(f"{name:44}{min(times):9.1f}{max(times):9.1f}{min(work):11.1f}   {len(result)} found")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--episodes", type=int, default=10_000)
    parser.add_argument("--sentences", type=int, default=200)
    parser.add_argument("--keep", type=Path)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        root = args.keep or Path(scratch)
        root.mkdir(parents=True, exist_ok=True)
        path = root / "shop.db"
        if not path.exists():
            build(path, args.episodes, args.sentences)
        db = store.connect(path)
        part = db.execute("SELECT names FROM moment WHERE names <> '' GROUP BY names ORDER BY count(*) DESC LIMIT 1").fetchone()[0].split("; ")[0]
        model = db.execute("SELECT maker || ' ' || model FROM reel LIMIT 1").fetchone()[0]
        print(f"{'':44}{'best ms':>9}{'worst ms':>9}{'processor':>11}")
        measure("find: a word said everywhere", lambda: search.find(db, "comes out next"))
        measure(f"find: the commonest part ({part})", lambda: search.find(db, part))
        measure("find: three rare words", lambda: search.find(db, "spring behind tweezers"))
        measure("find --part --step", lambda: search.find(db, part=part, step="lubricate"))
        measure("find --reel with words", lambda: search.find(db, "comes out", reel=model))
        measure("reels", lambda: reels(db))
        measure("questions", lambda: questions(db, limit=50)[0])


if __name__ == "__main__":
    main()
