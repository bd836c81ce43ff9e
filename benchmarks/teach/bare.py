#!/usr/bin/env python3
"""Fit what a bare word is short for ("the screw": the clutch screw) over the encoder as it is, and write it into pipeline/reading/reader.npz.

    python bare.py lesson.json.gz

For when there is no graphics card: the encoder's vectors stay, only the weights of this choice are fitted, on two cores in some ten
minutes. A teaching with learn.py replaces them. Every ninth talk is left out and tells how it does. Needs PyTorch and tokenizers.
"""

import gzip
import json
import random
import sys
from pathlib import Path

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).resolve().parent)]

import learn  # noqa: E402
from pipeline.reading import reader  # noqa: E402
from pipeline.reading.steps import NAMED  # noqa: E402

PASSES, RATE, DROP, BATCH, LEFT_OUT = 8, 1e-3, 0.3, 64, 9
NPZ = ROOT / "pipeline" / "reading" / "reader.npz"


class Choice(nn.Module):
    def __init__(self, query: int, thing: int, signs: int) -> None:
        super().__init__()
        self.of_q, self.of_k, self.of_none = nn.Linear(query, 64), nn.Linear(thing, 64), nn.Linear(query, 1)
        self.of_mix = nn.Sequential(nn.Linear(64 + signs, 48), nn.GELU(), nn.Dropout(0.1), nn.Linear(48, 1))

    def forward(self, query, things, signs, there):
        both = self.of_q(query).unsqueeze(1) * self.of_k(things)
        scores = both.sum(2) / 8 + self.of_mix(torch.cat([both, signs], 2)).squeeze(2)
        return torch.cat([scores.masked_fill(~there, -1e4), self.of_none(query)], 1).log_softmax(1)


def rows_of(episode, session, weights: dict) -> list[tuple]:
    """One row a bare word: its vector, those of what is offered with their signs, which are right."""
    offers, count, ids = episode.offers["of"], len(episode.ids), episode.ids
    windows = reader._windows([len(i) for i in ids])
    home = [max(range(len(windows)), key=lambda w: reader._middle(windows[w], i, count)) for i in range(count)]
    rows = []
    for w, (a, b) in enumerate(windows):
        first, last = np.searchsorted(episode.of, (a, b))
        pieces = np.array([[reader.START, *(p for i in range(a, b) for p in (*ids[i], reader.STOP))]])
        hidden = session.run(None, {"ids": pieces, "mask": np.ones_like(pieces)})[0][0]
        starts = np.cumsum([1, *(len(ids[i]) + 1 for i in range(a, b))])
        mean = lambda span, i: hidden[starts[i - a] + span[0]:starts[i - a] + span[1] + 1].mean(0)  # noqa: E731, B023
        said = np.array([mean(episode.sp[j], episode.of[j]) for j in range(first, last)])
        for j in range(first, last):
            found = slice(offers.first[j], offers.first[j + 1])
            things, right = offers.thing[found], offers.right[found]
            seen = (things >= first) & (things < last)
            if home[episode.of[j]] != w or not seen.any() or not (right.any() or offers.none[j]):
                continue
            here = np.concatenate([said[j - first], mean(episode.cl[j], episode.of[j])])
            inner = reader._gelu(reader._linear(np.concatenate([here, episode.fr[j]]), "slot.0", weights))
            rows.append((np.concatenate([here, inner]), said[things[seen] - first], offers.signs[found][seen], right[seen]))
    return rows


def batch(rows: list[tuple]):
    most = max(len(r[1]) for r in rows)
    things = torch.zeros(len(rows), most, rows[0][1].shape[1])
    signs, there = torch.zeros(len(rows), most, rows[0][2].shape[1]), torch.zeros(len(rows), most, dtype=torch.bool)
    right = torch.zeros(len(rows), most + 1, dtype=torch.bool)
    for n, (_, its, told, good) in enumerate(rows):
        things[n, :len(its)], signs[n, :len(its)], there[n, :len(its)] = torch.from_numpy(its), torch.from_numpy(told), True
        right[n, :len(its)], right[n, -1] = torch.from_numpy(good), not good.any()
    return torch.from_numpy(np.stack([r[0] for r in rows])).float(), things, signs, there, right


def fit(rows: list[tuple], weights: dict) -> Choice:
    """It begins as the choice what a pronoun means, which looks at the same vectors."""
    torch.manual_seed(0)
    random.seed(0)
    net = Choice(len(rows[0][0]), rows[0][1].shape[1], rows[0][2].shape[1])
    net.load_state_dict({f"of_{k}": torch.from_numpy(weights[f"meant_{k}"]) for k in ("q.weight", "q.bias", "k.weight", "k.bias")}, strict=False)
    best, total = torch.optim.AdamW(net.parameters(), lr=RATE, weight_decay=0.03), PASSES * -(-len(rows) // BATCH)
    pace = torch.optim.lr_scheduler.LambdaLR(best, lambda t: min(1, (t + 1) / 50) * max(0.02, 1 - t / total))
    for n in range(PASSES):
        random.shuffle(rows)
        for i in range(0, len(rows), BATCH):
            query, things, signs, there, right = batch(rows[i:i + BATCH])
            loss = -torch.logsumexp(net(F.dropout(query, DROP), F.dropout(things, DROP), signs, there).masked_fill(~right, -1e4), 1).mean()
            best.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            best.step()
            pace.step()
        print(f"pass {n}: {loss.item():.3f}", flush=True)
    return net.eval()


@torch.no_grad()
def told(net: Choice, rows: list[tuple]) -> str:
    """How often the likeliest is right, none among it; and what is named as surely as the program asks for."""
    hits, sure = [], []
    for i in range(0, len(rows), BATCH):
        *asked, right = batch(rows[i:i + BATCH])
        chances, which = net(*asked).exp(), torch.arange(len(right))
        hits += right[which, chances.argmax(1)].tolist()
        chance, first = chances[:, :-1].max(1)
        sure += right[which, first][chance >= NAMED].tolist()
    return f"{len(hits)} bare words left out: {sum(hits) / max(1, len(hits)):.3f} right; {len(sure)} named: {sum(sure) / max(1, len(sure)):.3f} right"


def main() -> None:
    session, tokenizer, weights = reader._model()
    lesson = [e for e in json.loads(gzip.decompress(Path(sys.argv[1]).read_bytes())) if e["hearing"] != "standins"]
    rows = {}
    for e in lesson:
        rows.setdefault(e["name"], []).extend(rows_of(learn.prep(e, tokenizer), session, weights))
    names = sorted(rows)
    out = set(names[::LEFT_OUT])
    print(told(fit([r for n in names if n not in out for r in rows[n]], weights), [r for n in out for r in rows[n]]), flush=True)
    net = fit([r for n in names for r in rows[n]], weights)
    kept = dict(np.load(NPZ))
    np.savez_compressed(NPZ, **kept | {k: v.numpy().astype(np.float16) for k, v in net.state_dict().items()})


if __name__ == "__main__":
    main()
