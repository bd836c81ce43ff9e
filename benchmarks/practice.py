#!/usr/bin/env python3
"""Score the practice episodes.

    python benchmarks/practice.py                        every episode from heard.vtt, a table
    python benchmarks/practice.py --words heard.json     from the speech model's words with probabilities
    python benchmarks/practice.py --words heard-base.json   from what our own hearing makes of the footage
    python benchmarks/practice.py --truth                from the true words (what reading alone is worth)
    python benchmarks/practice.py --no-title             without the title that a host would give
    python benchmarks/practice.py --set unseen           other episodes (also talks: scripts without sound, from their true words)
    python benchmarks/practice.py --set blind            scripts that nothing was written or taught from: totals only
    python benchmarks/practice.py spinning --errors steps   what was missed and what was found too much
                                                (parts tools supplies steps facts ledger reels chapters questions)
"""

import argparse
import json
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "scoring"), str(HERE.parent / "sample_media" / "practice")]

import score as scoring  # noqa: E402

from pipeline.chain import record_of  # noqa: E402
from pipeline.hearing.captions import read_captions  # noqa: E402
from pipeline.hearing.words import Heard, Word  # noqa: E402
from pipeline.questions.comments import Comment  # noqa: E402
from pipeline.trade import load_trade  # noqa: E402

MEDIA = HERE.parent / "sample_media"
WORD, GAP = 0.34, 0.35  # seconds a word and between lines, where an episode has no sound


def words_of_json(path: Path) -> Heard:
    kept = json.loads(path.read_text())
    if isinstance(kept, dict):  # what our own hearing made of the footage, breaks and all
        return Heard.model_validate(kept)
    words = [Word(text=t.strip(), start=s, end=e, probability=p) for t, s, e, p in kept]
    return Heard(words=words, breaks=[0], duration=words[-1].end, source="speech")


def gold_of(folder: Path) -> dict:
    """The answers with times: measured where there is footage, else by a steady speaker's pace."""
    if (folder / "gold.json").exists():
        return json.loads((folder / "gold.json").read_text())
    import yaml
    from build_footage import answers

    script = yaml.safe_load((folder / "script.yaml").read_text())
    if (folder / "times.json").exists():  # spoken once by a voice of the registry; the sound itself is not kept
        return json.loads(json.dumps(answers(script, json.loads((folder / "times.json").read_text())), default=str))
    at, times = 0.5, []
    for line in script["lines"]:
        long = len(line["say"].split()) * WORD
        times.append((round(at, 2), round(at + long, 2)))
        at += long + GAP + float(line.get("pause", 0))
    return json.loads(json.dumps(answers(script, times), default=str))


def true_words(gold: dict) -> Heard:
    words, breaks = [], []
    for line in gold["lines"]:
        texts = line["say"].split()
        breaks.append(len(words))
        step = (line["end"] - line["start"]) / len(texts)
        words += [Word(text=t, start=line["start"] + i * step, end=line["start"] + (i + 1) * step) for i, t in enumerate(texts)]
    return Heard(words=words, breaks=breaks, duration=gold["duration"], source="captions")


def hearings(folder: Path, gold: dict) -> dict[str, Heard]:
    """What was heard of an episode: its true words, captions of the light model, our own hearing of the footage."""
    out = {"truth": true_words(gold)}
    if (folder / "heard.vtt").exists():
        out["heard"] = read_captions(folder / "heard.vtt")
    if (folder / "heard-base.json").exists():
        out["base"] = words_of_json(folder / "heard-base.json")
    return out


def make_record(folder: Path, args) -> tuple[dict, dict]:
    gold = gold_of(folder)
    if args.truth or not (folder / args.words).exists():
        heard = true_words(gold)
    elif args.words.endswith(".json"):
        heard = words_of_json(folder / args.words)
    else:
        heard = read_captions(folder / args.words)
    public = ("id", "author", "posted", "text", "likes", "reply_to", "from_host")
    comments = [Comment(**{k: c[k] for k in public if c.get(k) is not None}) for c in gold["comments"]]
    record = record_of(heard, load_trade(), id=folder.name, title="" if args.no_title else gold["title"], comments=comments)
    return gold, record.model_dump(by_alias=True, mode="json")


def show_errors(gold: dict, record: dict, group: str) -> None:
    plain, accepted, near = scoring.plain, scoring.accepted, scoring.near
    clock = lambda s: f"{int(s // 60)}:{int(s % 60):02d}"
    said = lambda t: " ".join(x["text"] for x in record["sentences"] if x["start"] - 1 <= t <= x["end"] + 0.5)[:150]
    wanted, found = gold["comments" if group == "questions" else group], record[group]
    if group in ("parts", "tools", "supplies"):
        used = set()
        for f in found:
            names = accepted([f["name"], *f["names"]])
            i = next((i for i, g in enumerate(wanted) if i not in used and names & accepted(g["names"])), None)
            used.add(i)
            if i is None:
                print(f"  too much  {f['name']}  {[clock(a[0]) for a in f['at']]}  {said(f['at'][0][0])}")
        for i, g in enumerate(wanted):
            if i not in used:
                print(f"  missed    {g['names'][:3]}  {clock(g['at'][0][0])}  {said(g['at'][0][0])}")
        return
    if group in ("steps", "facts"):
        if group == "steps":
            same = lambda g, f: f["do"] == g["do"] and plain(f["part"]) in accepted(g["part"]) and near(g, f, scoring.STEP_TOLERANCE)
            show = lambda x: f"{x['do']} {x['part'] if isinstance(x['part'], str) else x['part'][0]} x{x.get('qty')} tool={x.get('tool')} supply={x.get('supply')}"
        else:
            same = lambda g, f: g["kind"] == f["kind"] and near(g, f, scoring.STEP_TOLERANCE)
            show = lambda x: f"{x['kind']}: {x.get('note') or x.get('text')} = {x.get('value')}"
        pairs = scoring.pair_up(wanted, found, same)
        hit_g, hit_f = {i for i, _ in pairs}, {j for _, j in pairs}
        rows = [(g["start"], f"  missed    {clock(g['start'])} {show(g)}  | {said(g['start'])}") for i, g in enumerate(wanted) if i not in hit_g]
        rows += [(f["start"], f"  too much  {clock(f['start'])} {show(f)} ({f['confidence']:.2f})  | {said(f['start'])}") for j, f in enumerate(found) if j not in hit_f]
        for i, j in pairs:
            g, f = wanted[i], found[j]
            if group == "steps":
                for field in ("tool", "supply"):
                    if g.get(field) and plain(f.get(field) or "") not in accepted(g[field]):
                        rows.append((g["start"], f"  {field}      {clock(g['start'])} {show(f)}  wanted {g[field][0]} | {said(g['start'])}"))
                if g.get("qty") and (f.get("qty") or 1) != g["qty"]:
                    rows.append((g["start"], f"  qty       {clock(g['start'])} {show(f)}  wanted {g['qty']} | {said(g['start'])}"))
        if group == "facts":
            for g in wanted:
                if g.get("value") and not any(near(g, f, scoring.STEP_TOLERANCE) and plain(f.get("value") or "") == plain(g["value"]) for f in found):
                    rows.append((g["start"], f"  value     {clock(g['start'])} wanted {g['value']} ({g.get('note')}) | {said(g['start'])}"))
        print("\n".join(text for _, text in sorted(rows)))
        return
    print("  wanted"), [print("   ", g) for g in wanted]
    print("  found"), [print("   ", {k: v for k, v in f.items() if k not in ("at", "sentences")}) for f in found]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("episodes", nargs="*", default=None)
    parser.add_argument("--set", default="practice", metavar="NAME", help="the folder under sample_media (default: practice)")
    parser.add_argument("--words", default="heard.vtt")
    parser.add_argument("--truth", action="store_true")
    parser.add_argument("--no-title", action="store_true")
    parser.add_argument("--errors", metavar="GROUP")
    parser.add_argument("--json", type=Path, help="write the scores here")
    args = parser.parse_args()
    media = MEDIA / args.set
    folders = [media / e for e in args.episodes] if args.episodes else sorted(p.parent for p in media.glob("*/script.yaml"))
    results = {}
    for folder in folders:
        gold, record = make_record(folder, args)
        if args.errors:
            print(folder.name)
            show_errors(gold, record, args.errors)
        results[folder.name] = scoring.score(gold, record)
    if args.json:
        args.json.write_text(json.dumps(results, indent=1))
    value = lambda v: v["f1"] if isinstance(v, dict) else v
    measures = list(dict.fromkeys(m for r in results.values() for m in r))
    print(f"{'':44}" + "".join(f"{n[:13]:>14}" for n in results) + f"{'mean':>9}")
    for m in measures:
        row = [value(r.get(m)) for r in results.values()]
        known = [float(x) for x in row if x is not None]
        cells = "".join(f"{'-' if x is None else f'{float(x):.3f}':>14}" for x in row)
        print(f"{m:44}{cells}{sum(known) / len(known) if known else float('nan'):>9.3f}")


if __name__ == "__main__":
    main()
