#!/usr/bin/env python3
"""Look at the guide of the practice (or --set unseen) episodes, and measure it.

    python benchmarks/guide.py                     from the answers: what the guide is when reading makes no slip
    python benchmarks/guide.py --read              from what the program reads in heard.vtt
    python benchmarks/guide.py star-drag --out DIR keep the files, to look at them

placed: facts that stand at a step, of those that can (orientation, setting, fastener, measure, part number, caution);
turned: parts that the guide lets go on before it has taken them off; pages and seconds: of guide.pdf.
"""

import argparse
import json
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from pipeline.chain import record_of  # noqa: E402
from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.mending import mend  # noqa: E402
from pipeline.record import Episode  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402
from pipeline.trade.wording import worded  # noqa: E402
from pipeline.writing import WritingSettings, write_out  # noqa: E402
from pipeline.writing.guide import Guide, build_guide  # noqa: E402

MEDIA = HERE.parent / "sample_media"
URL = "https://video.example/watch?v="


def episode_of_answers(gold: dict) -> Episode:
    """The answers as a record: steps phrased from their frames, facts with the part that their line names."""
    def first(names):
        return names[0] if names else None

    def named(rows):
        return [{"name": r["names"][0], "names": r["names"], "at": r["at"]} for r in rows]

    def part_of(fact):
        here = [p["names"][0] for p in gold["parts"] if any(a <= fact["start"] + .01 and fact["end"] - .01 <= b for a, b in p["at"])]
        return here[0] if len(here) == 1 else None

    episode = Episode.model_validate({
        "id": gold["id"], "title": gold["title"], "url": URL + gold["id"], "duration": gold["duration"],
        "reels": [{k: r[k] for k in ("maker", "model", "role")} for r in gold["reels"]],
        "sentences": [{"id": f"s{i}", "start": l["start"], "end": l["end"], "text": l["say"], "heard": l["say"]} for i, l in enumerate(gold["lines"], 1)],
        "chapters": [{k: c[k] for k in ("start", "title", "phase")} for c in gold["chapters"]],
        "parts": named(gold["parts"]), "tools": named(gold["tools"]), "supplies": named(gold["supplies"]),
        "steps": [{"id": f"p{i}", "start": s["start"], "end": s["end"], "do": s["do"], "part": first(s["part"]), "qty": s.get("qty"),
                   "tool": first(s.get("tool")), "supply": first(s.get("supply")), "text": ""} for i, s in enumerate(gold["steps"], 1)],
        "facts": [{"start": f["start"], "end": f["end"], "kind": f["kind"], "part": part_of(f), "text": f["note"][:1].upper() + f["note"][1:],
                   "value": f.get("value")} for f in gold["facts"]],
        "ledger": [{"part": first(l["part"]), "qty_off": l.get("qty") if l["off"] is not None else None, "off": l["off"],
                    "qty_on": l.get("qty_on", l.get("qty")) if l["on"] is not None else None, "on": l["on"],
                    "status": "not shown going back" if l["on"] is None else "not shown coming off" if l["off"] is None else "back on"}
                   for l in gold["ledger"]],
    })
    for step in episode.steps:
        step.text = worded(step)
    return episode


def turned(guide: Guide, episode: Episode) -> list[str]:
    """Parts removed and installed in the talk, whose first fitting stands before their first removal in the guide."""
    place = {m.seconds: s.number for p in guide.procedures for s in p.steps for m in s.moments}
    first: dict[tuple[str, str], int] = {}
    for s in episode.steps:
        if s.do in ("remove", "install") and not s.undone:
            first[s.part, s.do] = min(first.get((s.part, s.do), 10**6), place[s.start])
    return [part for part, do in first if do == "install" and first.get((part, "remove"), 0) > first[part, do]]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("episodes", nargs="*")
    parser.add_argument("--read", action="store_true", help="from what the program reads, not from the answers")
    parser.add_argument("--set", choices=["practice", "unseen"], default="practice", help="which episodes")
    parser.add_argument("--paper", choices=["a4", "us-letter"], default="a4")
    parser.add_argument("--out", type=Path, help="keep the files in this folder")
    args = parser.parse_args()
    settings, episodes = WritingSettings(paper=args.paper), MEDIA / args.set
    print(f"{'episode':16}{'said':>6}{'steps':>7}{'placed':>14}{'cautions':>10}{'turned':>8}{'pages':>7}{'seconds':>9}")
    for name in args.episodes or sorted(p.parent.name for p in episodes.glob("*/gold.json")):
        heard = read_captions(episodes / name / "heard.vtt")
        gold = json.loads((episodes / name / "gold.json").read_text())
        trade = load_trade()
        episode = record_of(heard, trade, id=name, title=gold["title"], url=URL + name) if args.read else episode_of_answers(gold)
        guide = build_guide(episode, settings)
        placeable = sum(f.kind in ("orientation", "setting", "fastener", "measure", "part_number", "caution") for f in episode.facts)
        steps = [s for p in guide.procedures for s in p.steps]
        placed = len({(n.text, n.moment.seconds) for s in steps for n in s.notes if n.label != "Not certain"}
                     | {(l.text, l.moment.seconds) for s in steps for c in s.cautions for l in c.lines if l.moment})
        with tempfile.TemporaryDirectory() as folder:
            out = args.out / name if args.out else Path(folder)
            began = time.perf_counter()
            write_out(out, episode, mend(heard, trade), [], settings)
            seconds = time.perf_counter() - began
            pages = _pages(out / "guide.pdf")
        wrong = turned(guide, episode)
        print(f"{name:16}{len(episode.steps):6}{len(steps):7}{f'{placed} of {placeable}':>14}{sum(len(c.lines) for s in steps for c in s.cautions):10}"
              f"{len(wrong):8}{pages:7}{seconds:9.1f}" + (f"   {', '.join(wrong)}" if wrong else ""))


def _pages(path: Path) -> int:
    import pikepdf

    with pikepdf.open(path) as pdf:
        return len(pdf.pages)


if __name__ == "__main__":
    main()
