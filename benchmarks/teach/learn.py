#!/usr/bin/env python3
"""Teach the reader from a lesson: a small text encoder, and what turns its vectors into answers.

    python learn.py lesson.json.gz --encoder DIR --folds 7 --out crossed.json.gz   each episode judged by a reader not taught it
    python learn.py lesson.json.gz --encoder DIR --keep DIR                taught on all

Needs PyTorch with a graphics card, transformers, safetensors and tokenizers. See README.md beside this file.
"""

import argparse
import gzip
import json
import math
import os
import random
import re
import time
from collections import Counter
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "2")  # else runs side by side get in each other's way, and a pass takes six times as long

import numpy as np  # noqa: E402
import torch  # noqa: E402
import torch.nn as nn  # noqa: E402
import torch.nn.functional as F  # noqa: E402
from tokenizers import Tokenizer  # noqa: E402

ACTIONS = [
    "none",
    *"remove install loosen tighten clean degrease dry lubricate inspect measure adjust align test mark repair replace".split(),
    "set aside",
]
KINDS = "obsolete interchange upgrade dating orientation fastener setting caution condition unsure part_number measure".split()
PHASES = "introduction identification disassembly inspection cleaning lubrication repair reassembly adjustment testing aside closing".split()
PAIRS = ("meant", "of", "tool", "supply")
MADE = ("standins", "slips")  # hearings made from the script (lesson.py): each pass takes half of them, and what is said of them is for --softened alone
THINGS = {"meant", "of"}  # pairs whose offers are slots; the others' are aids
WEIGHTS = {"a": 2.0, "new": 0.3, "f": 0.4, "p": 0.4, "o": 1.4, "meant": 0.6, "of": 0.3, "tool": 0.2, "supply": 0.2}
WINDOW, STRIDE, SENTENCE, BATCH = 288, 144, 90, 32  # as in pipeline/reading/windows.py, but for the stride: there windows lie further apart, which reads as well and faster (benchmarks/chain.md)
PLAIN = 27  # signs of a slot that say only how it is worded; the rest are the rules' opinion
REASSIGN = (2, 5)  # after these passes, which slot a step belongs to is worked out again
HELPERS = 4  # processes that make batches
PIECE = 15_000_000  # bytes of a file of kept weights, about
SOFT = 0.5  # share of what is taught that readers said of the episode that were not taught it (--softened)
RULES_LEFT_OUT = 0.15  # share of slots taught without it, so that the reader does not lean on the rules


def singular(w):
    if w.endswith("ies") and len(w) > 4:
        return w[:-3] + "y"
    if re.search(r"(sh|ch|ss|x)es$", w):
        return w[:-2]
    if w.endswith("s") and not w.endswith("ss") and len(w) > 3:
        return w[:-1]
    return w


def plain(n):
    ws = re.sub(r"[^a-z0-9#/. ]+", " ", str(n).lower()).split()
    return " ".join(singular(w) for w in ws if w not in ("the", "a", "an"))


def accepted(ns):
    ns = [ns] if isinstance(ns, str) else ns or []
    return {plain(n) for n in ns}


def assign(ep, logp=None):
    """What is done at each slot, as shares of actions, and the steps told there: which words stand for a step's part is known (`anchor`), which slot they are is worked out."""
    y = np.zeros((len(ep["slots"]), len(ACTIONS)), np.float32)
    tol = 0.8 if ep["hearing"] == "truth" else 1.6
    pairs = []
    for gi, g in enumerate(ep["steps"]):
        acc = accepted(g["part"])
        heads = {a.split()[-1] for a in acc if a}
        anchor = g.get("anchor")
        for i, s in enumerate(ep["slots"]):
            if not g["start"] - tol <= s["time"] <= g["end"] + tol / 2:
                continue
            named = s["kind"] in ("thing", "noun") and (2 if acc & set(s["names"]) else 1 if s["head"] in heads else -1)
            if anchor is None:  # nobody said which words: by the names
                score = -1.5 if named == -1 else 1.5 * named if named else 0.3
            else:
                at, words, out = anchor
                here = set(s["words"].lower().split())
                since, till = s["span"] if out else (s["spot"], s["spot"])
                score = -0.9 * min(3.0, max(0.0, since - at, at - till))
                score += (1.5 if s["kind"] == "none" else 0.0 if s["kind"] == "pro" else -1.5 if named == -1 else 0.0) if out else (
                    2.0 if here & set(words.lower().split()) else 0.0) + (0.5 * named if named > 0 else -0.5 if named == -1 else 0.0)
            if logp is not None:
                score += 0.4 * max(-6.0, float(logp[i, ACTIONS.index(g["do"])]))
            if score > (-2.0 if logp is None else -3.5):
                pairs.append((score, gi, i))
    pairs.sort(key=lambda p: -p[0])
    used, link = set(), {}
    for score, gi, i in pairs:
        g = ep["steps"][gi]
        if gi in used or i in link and (len(link[i]) > 1 or accepted(ep["steps"][link[i][0]]["part"]) != accepted(g["part"]) or ep["steps"][link[i][0]]["do"] == g["do"]):
            continue  # two actions at one place only where both are done to one part
        used.add(gi)
        link.setdefault(i, []).append(gi)
    for i, told in link.items():
        for gi in told:
            y[i, ACTIONS.index(ep["steps"][gi]["do"])] += 1 / len(told)
    y[:, 0] += 1 - y.sum(1)
    return y, {i: told[0] for i, told in link.items()}


def sent_labels(ep):
    S = ep["sentences"]
    n = len(S)
    F = np.zeros((n, len(KINDS)), np.float32)
    ph = np.zeros((n, len(PHASES)), np.float32)
    op = np.zeros(n, np.float32)

    def at(t0, t1):  # sentence that overlaps a line the most
        return max(range(n), key=lambda i: min(S[i]["end"], t1) - max(S[i]["start"], t0))

    for g in ep["facts"]:
        F[at(g["start"], g["end"]), KINDS.index(g["kind"])] = 1
    ch = ep["chapters"]
    for k, c in enumerate(ch):
        j = min(range(n), key=lambda i: abs(S[i]["start"] - c["start"]))
        op[j] = 1
        e = ch[k + 1]["start"] if k + 1 < len(ch) else 1e9
        for i in range(n):
            if c["start"] - 0.5 <= (S[i]["start"] + S[i]["end"]) / 2 < e:
                ph[i] = np.eye(len(PHASES))[PHASES.index(c["phase"])]
    return F, ph, op


def encoder(folder):
    import transformers
    from safetensors.torch import load_file

    kept = json.loads((folder / "config.json").read_text())
    kind = {"bert": "Bert", "mpnet": "MPNet"}[kept["model_type"]]
    config = getattr(transformers, kind + "Config")(
        **{k: v for k, v in kept.items() if k not in ("_name_or_path", "architectures", "transformers_version", "gradient_checkpointing", "model_type")}
    )
    model = getattr(transformers, kind + "Model")(config, add_pooling_layer=False)
    missing = model.load_state_dict({k: v.float() if v.dtype.is_floating_point else v for k, v in load_file(folder / "model.safetensors").items()}, strict=False).missing_keys
    assert not [k for k in missing if "position_ids" not in k], missing
    return model


class Net(nn.Module):
    def __init__(s, folder, nf, nr, ns, np_):
        super().__init__()
        s.enc = encoder(folder)
        d = s.enc.config.hidden_size
        s.slot = nn.Sequential(nn.Linear(2 * d + nf + nr, 256), nn.GELU(), nn.Dropout(0.2), nn.Linear(256, len(ACTIONS) + 1))  # the last: a new piece for an old one
        s.sent = nn.Sequential(nn.Linear(3 * d + ns, 192), nn.GELU(), nn.Dropout(0.2), nn.Linear(192, len(KINDS) + len(PHASES) + 1))
        for pair in PAIRS:  # a slot and what it may mean or be done with: likeness of both, and the signs of the offer
            setattr(s, pair + "_q", nn.Linear(2 * d + 256, 64))
            setattr(s, pair + "_k", nn.Linear(d, 64))
            setattr(s, pair + "_mix", nn.Sequential(nn.Linear(64 + np_, 48), nn.GELU(), nn.Dropout(0.1), nn.Linear(48, 1)))
            if pair != "meant":
                setattr(s, pair + "_none", nn.Linear(2 * d + 256, 1))
        s.drop = nn.Dropout(0.1)


class Episode:
    pass


class Offered:
    """What is offered to the slots of an episode for one kind of pair: slot j's offers are rows first[j] to first[j + 1]."""

    def __init__(self, first, thing, signs, names):
        self.first, self.thing, self.signs, self.names = first, thing, signs, names
        self.soft = np.full(len(thing), np.nan, np.float32)  # the chance that other readers gave each offer; unknown


def teach(E, logp=None):
    """Work out what is told at each slot, and which offers are right there."""
    E.y, link = assign(E.d, logp)
    if E.soft is not None:
        E.y = (1 - SOFT) * E.y + SOFT * E.soft
    E.linked = np.zeros(len(E.y), bool)
    E.linked[list(link)] = True
    steps = E.d["steps"]
    E.new = np.full(len(E.y), np.nan, np.float32)  # unknown
    for j, g in link.items():
        if steps[g].get("exchanged") is not None:
            E.new[j] = steps[g]["exchanged"]
    owners(E, link)
    for pair, part in (("meant", "part"), ("tool", "tool"), ("supply", "supply")):
        o = E.offers[pair]
        o.right, o.none = np.zeros(len(o.thing), bool), np.zeros(len(E.y), bool)
        for j, g in link.items():
            wanted = accepted(steps[g].get(part))
            o.none[j] = pair != "meant" and not wanted
            for k in range(o.first[j], o.first[j + 1]):
                o.right[k] = bool(wanted & o.names[k])


def said_of(files):
    """(episode, hearing): actions, sentences and for each kind of pair the chances of the offers of each slot, means of what the files (as --out writes them) say of it."""
    each = {}
    for file in files:
        for e in json.loads(gzip.decompress(file.read_bytes())):
            each.setdefault((e["name"], e["hearing"]), []).append(e)
    out = {}
    for key, some in each.items():
        chosen = {pair: {} for pair in PAIRS}
        for pair in PAIRS:
            for slot in {j for e in some for j in e[pair]}:
                rows = [dict(e[pair][slot]) for e in some if slot in e[pair]]
                chosen[pair][int(slot)] = {o: sum(r.get(o, 0.0) for r in rows) / len(rows) for o in {o for r in rows for o in r}}
        out[key] = *(np.mean([e[k] for e in some], 0) for k in ("actions", "sentences")), chosen
    return out


def soften(E, actions, sentences, chosen):
    """What readers made of the episode that were not taught it (said_of) becomes a part of what is taught: which places are hard to tell, and for what else they may be taken."""
    E.soft, sentences = np.asarray(actions, np.float32)[:, : len(ACTIONS)], np.asarray(sentences, np.float32)
    E.F, E.ph, E.op = ((1 - SOFT) * own + SOFT * said for own, said in zip((E.F, E.ph, E.op), (sentences[:, :12], sentences[:, 12:24], sentences[:, 24])))
    for pair in PAIRS:
        o = E.offers[pair]
        for j, offered in chosen[pair].items():
            for k in range(o.first[j], o.first[j + 1]):
                o.soft[k] = offered.get(int(o.thing[k]), 0.0)


def owners(E, link):
    """Which offers give a bare word one of its right names, by being such a piece ("clutch screw") or by having it ("clutch"); else none."""
    o = E.offers["of"]
    o.right, o.none = np.zeros(len(o.thing), bool), np.zeros(len(E.y), bool)
    for j, slot in enumerate(E.d["slots"]):
        if "of" not in slot:
            continue
        kind = plain(slot["head"])
        wanted = accepted(slot["named"])
        if j in link and any(n.split()[-1:] == [kind] for n in accepted(E.d["steps"][link[j]]["part"])):
            wanted = accepted(E.d["steps"][link[j]]["part"])
        full = {n for n in wanted if " " in n}
        for k in range(o.first[j], o.first[j + 1]):
            its = o.names[k]
            o.right[k] = bool(full & (its | {f"{n} {kind}" for n in its} | {f"{n.split()[-1]} {kind}" for n in its if n}))
        o.none[j] = bool(wanted) and not o.right[o.first[j] : o.first[j + 1]].any()


def prep(ep, tok):
    E = Episode()
    E.d, E.soft = ep, None
    S = ep["sentences"]
    E.ids = []
    E.off = []
    for s in S:
        e = tok.encode(s["text"], add_special_tokens=False)
        E.ids.append(e.ids[:SENTENCE])
        E.off.append(e.offsets[:SENTENCE])
    for s in ep["slots"]:
        s["sent"] = s["sentence"]

    def span(i, a, b):
        o = E.off[i]
        inside = [j for j, (x, y) in enumerate(o) if y > a and x < b]
        return (inside[0], inside[-1]) if inside else (0, max(0, len(o) - 1))

    spans = lambda rows: np.array(rows, int).reshape(-1, 2)  # noqa: E731
    E.sp = spans([span(s["sent"], *s["place"]) for s in ep["slots"]])
    E.cl = spans([span(s["sent"], *s["clause"]) for s in ep["slots"]])
    E.asp = spans([span(a["sentence"], *a["place"]) for a in ep["aids"]])
    E.of, E.aid_of = np.array([s["sent"] for s in ep["slots"]], int), np.array([a["sentence"] for a in ep["aids"]], int)
    E.fr = np.array([s["signs"] for s in ep["slots"]], np.float32)
    E.sf = np.array([s["signs"] for s in S], np.float32)
    E.F, E.ph, E.op = sent_labels(ep)
    names = {"meant": [set(x["names"]) for x in ep["slots"]], "tool": [set(x["names"]) for x in ep["aids"]]}
    names |= {"of": names["meant"], "supply": names["tool"]}
    E.offers = {}
    for pair in PAIRS:
        rows = [x.get(pair, ()) if pair in THINGS else [o for o in x["aids"] if ep["aids"][o[0]]["group"] == pair] for x in ep["slots"]]
        flat = [o for offered in rows for o in offered]
        E.offers[pair] = Offered(np.cumsum([0, *map(len, rows)]), np.array([o[0] for o in flat], int), np.array([o[1:] for o in flat], np.float32), [names[pair][o[0]] for o in flat])
    teach(E)
    return E


def windows(E, skip, stride):
    """First sentence of each window and the one after its last, from `skip` word pieces on; what stands before is a window, too."""
    starts = np.cumsum([0, *(len(i) + 1 for i in E.ids)])
    n = len(E.ids)
    a = max(0, int(np.searchsorted(starts, skip, "right")) - 1)
    out = [(0, a)] if a else []
    while a < n:
        b = max(a + 1, int(np.searchsorted(starts, starts[a] + WINDOW, "right")) - 1)
        out.append((a, b))
        if b == n:
            break
        a = max(a + 1, int(np.searchsorted(starts, starts[a] + stride, "right")) - 1)
    return out


MARKS = {}  # word pieces that stand for the beginning, the end of a sentence, filling and a masked piece


class Batch:
    """Windows of talks as arrays. place, clause, sentence, aid: window, first and last word piece of each."""

    def each(self, change):
        """Every tensor changed, those of the pairs too."""
        for k, v in vars(self).items():
            if torch.is_tensor(v):
                setattr(self, k, change(v))
        self.pairs = {pair: rows and tuple(change(x) if torch.is_tensor(x) else x for x in rows) for pair, rows in self.pairs.items()}
        return self

    def pin_memory(self):
        return self.each(torch.Tensor.pin_memory)

    def to(self, dev):
        return self.each(lambda x: x.to(dev, non_blocking=True))


class Batches(torch.utils.data.Dataset):
    """The windows of one pass in batches, made by other processes while the card is at work."""

    def __init__(self, items, noise):
        self.items, self.noise = items, noise

    def __len__(self):
        return math.ceil(len(self.items) / BATCH)

    def __getitem__(self, n):
        return collate(self.items[n * BATCH : (n + 1) * BATCH], self.noise, taught=True)


def batches(items, noise):
    return torch.utils.data.DataLoader(Batches(items, noise), batch_size=None, num_workers=HELPERS, pin_memory=HELPERS > 0)


def collate(items, noise=0.0, taught=False, choices=True):
    """items: list of (E,a,b); noise: share of pieces masked, and a third as many swapped, as words heard wrong; choices: with what is offered to the slots"""
    B, ids, rows = Batch(), [], {k: [] for k in ("place", "clause", "sentence", "aid", "fr", "y", "new", "sf", "F", "ph", "op")}
    B.slots, B.sents = [], []
    offered = {pair: [] for pair in PAIRS}
    n_slots = n_aids = 0
    for w, (E, a, b) in enumerate(items):
        starts = np.cumsum([1, *(len(E.ids[i]) + 1 for i in range(a, b))])
        ids.append([MARKS["start"], *(p for i in range(a, b) for p in (*E.ids[i], MARKS["stop"]))])
        s0, s1 = np.searchsorted(E.of, (a, b))
        a0, a1 = np.searchsorted(E.aid_of, (a, b))
        where = lambda spans, of: np.column_stack([np.full(len(spans), w), spans + starts[of - a][:, None]])  # noqa: E731, B023
        rows["place"].append(where(E.sp[s0:s1], E.of[s0:s1]))
        rows["clause"].append(where(E.cl[s0:s1], E.of[s0:s1]))
        rows["aid"].append(where(E.asp[a0:a1], E.aid_of[a0:a1]))
        rows["sentence"].append(np.column_stack([np.full(b - a, w), starts[:-1], np.maximum(starts[:-1], starts[1:] - 2)]))
        for k in ("fr", "y", "new"):
            rows[k].append(getattr(E, k)[s0:s1])
        for k in ("sf", "F", "ph", "op"):
            rows[k].append(getattr(E, k)[a:b])
        B.slots += [(w, j) for j in range(s0, s1)]
        B.sents += [(w, i) for i in range(a, b)]
        for pair in PAIRS if choices else ():
            o = E.offers[pair]
            f0, f1 = o.first[s0], o.first[s1]
            owner, thing = np.repeat(np.arange(s0, s1), np.diff(o.first[s0 : s1 + 1])), o.thing[f0:f1]
            low, high, base = (s0, s1, n_slots) if pair in THINGS else (a0, a1, n_aids)
            keep = (thing >= low) & (thing < high)
            if taught and pair != "of":
                keep &= E.linked[owner]
            offered[pair].append((owner[keep] - s0 + n_slots, thing[keep] - low + base, o.signs[f0:f1][keep] if len(o.signs) else np.zeros((0, 0), np.float32),
                                  o.right[f0:f1][keep], o.none[owner[keep]], thing[keep], o.soft[f0:f1][keep]))
        n_slots, n_aids = n_slots + s1 - s0, n_aids + a1 - a0
    T = max(map(len, ids))
    X = torch.full((len(ids), T), MARKS["fill"], dtype=torch.long)
    M = torch.zeros(len(ids), T, dtype=torch.long)
    for w, r in enumerate(ids):
        X[w, : len(r)] = torch.tensor(r)
        M[w, : len(r)] = 1
    if noise:
        said = (M > 0) & (X != MARKS["start"]) & (X != MARKS["stop"])
        X = torch.where((torch.rand(X.shape) < noise) & said, torch.full_like(X, MARKS["mask"]), X)
        X = torch.where((torch.rand(X.shape) < noise / 3) & said, torch.randint(1000, 29000, X.shape), X)
    B.X, B.M = X, M
    for k, v in rows.items():
        setattr(B, k, torch.from_numpy(np.concatenate(v)))
    B.pairs = {pair: _padded(offered[pair], pair != "meant") if choices else None for pair in PAIRS}
    return B


def _padded(parts, allows_none):
    """Offers of a batch, one row a slot: slots, things (padded), their signs, which are there, which are right (last: none), which rows were taught, offers by their own number, whether any row was taught, what other readers said (last: none), in which rows."""
    owner, thing, _, right, none, number = (np.concatenate([p[k] for p in parts]) for k in range(6))
    if not len(owner):
        return None
    signs = np.concatenate([p[2] for p in parts if len(p[2])])
    slots, first, count = np.unique(owner, return_index=True, return_counts=True)
    row = np.repeat(np.arange(len(slots)), count)
    col = np.arange(len(owner)) - first[row]
    C = count.max()
    I, K, G = np.zeros((len(slots), C), int), np.zeros((len(slots), C), bool), np.zeros((len(slots), C + 1), bool)
    P = np.zeros((len(slots), C, signs.shape[1]), np.float32)
    I[row, col], K[row, col], G[row, col], P[row, col] = thing, True, right, signs
    G[:, C] = none[first]
    soft = np.concatenate([p[6] for p in parts])
    S = np.zeros((len(slots), C + 1), np.float32)
    S[row, col] = soft
    known = np.isfinite(S).all(1)
    S[:, C] = np.clip(1 - S.sum(1), 0, 1) * allows_none
    known &= S.sum(1) > 0.05  # else what they chose lies outside of the window
    S = np.where(known[:, None], S / np.maximum(S.sum(1, keepdims=True), 1e-6), 0)
    T = torch.from_numpy
    return T(slots), T(I), T(P), T(K), T(G), T(G.any(1)), [(int(s), number[f : f + c]) for s, f, c in zip(slots, first, count)], bool(G.any()), T(S.astype(np.float32)), T(known)


def pool(h, at):
    # mean over tokens per item, via cumulative sums
    c = torch.cat([torch.zeros_like(h[:, :1]), h.cumsum(1)], 1)
    r, a, b = at[:, 0], at[:, 1], at[:, 2] + 1
    return (c[r, b] - c[r, a]) / (b - a).unsqueeze(1)


def forward(net, B, rdrop=0.0):
    """Scores of actions (the last: of an exchange), of sentences, and for each kind of pair what pairs() needs."""
    with torch.autocast("cuda", dtype=torch.bfloat16):
        h = net.enc(input_ids=B.X, attention_mask=B.M).last_hidden_state
    h = h.float() * B.M.unsqueeze(-1)
    hs = net.drop(h)
    sp, cl = pool(hs, B.place), pool(hs, B.clause)
    f, r = B.fr[:, :PLAIN], B.fr[:, PLAIN:]
    if rdrop:
        r = r * (torch.rand(len(r), 1, device=r.device) > rdrop)
    here = torch.cat([sp, cl], 1)
    mid = net.slot[1](net.slot[0](torch.cat([here, f, r], 1)))
    z = net.slot[3](net.slot[2](mid))
    se, w = pool(hs, B.sentence), B.sentence[:, 0]
    same = (w[1:] == w[:-1]).float().unsqueeze(1)
    zero = torch.zeros_like(se[:1])
    prev = torch.cat([zero, se[:-1] * same])
    nxt = torch.cat([se[1:] * same, zero])
    y = net.sent(torch.cat([se, prev, nxt, B.sf], 1))
    ai = pool(hs, B.aid) if len(B.aid) else sp[:0]
    return z, y, torch.cat([here, mid], 1), {"meant": sp, "of": sp, "tool": ai, "supply": ai}


def pairs(net, pair, B, query, things):
    """Log chances of what is offered to each slot of a batch, the last column of none: rows as in B.pairs."""
    N, I, P, K = B.pairs[pair][:4]
    q, k = getattr(net, pair + "_q")(query[N]), getattr(net, pair + "_k")(things)
    both = q.unsqueeze(1) * k[I]
    s = both.sum(2) / 8 + getattr(net, pair + "_mix")(torch.cat([both, P], 2)).squeeze(2)
    s = s.masked_fill(~K, -1e4)
    none = getattr(net, pair + "_none")(query[N]) if pair != "meant" else torch.full((len(N), 1), -1e4, device=s.device)
    return torch.cat([s, none], 1).log_softmax(1)


class Mean:
    """The mean of the weights over the last passes, newer ones counting more."""

    def __init__(self, net, keep=0.997):
        self.net, self.keep, self.n = net, keep, 0
        self.mean = {k: v.detach().clone() for k, v in net.state_dict().items() if v.dtype.is_floating_point}

    def step(self):
        self.n += 1
        keep = min(self.keep, (1 + self.n) / (10 + self.n))
        now = self.net.state_dict()
        with torch.no_grad():
            kept = list(self.mean.values())
            torch._foreach_mul_(kept, keep)
            torch._foreach_add_(kept, [now[k] for k in self.mean], alpha=1 - keep)

    def put(self):
        """Puts the mean into the net."""
        self.net.load_state_dict(self.mean, strict=False)


def losses(net, B, rules_left_out):
    """The loss of one batch, and its parts."""
    z, y, query, things = forward(net, B, rules_left_out)
    parts = {
        "a": F.cross_entropy(z[:, :-1], B.y, label_smoothing=0.02),
        "f": F.binary_cross_entropy_with_logits(y[:, :12], B.F, reduction="sum") / len(y),
        "p": F.cross_entropy(y[:, 12:24], B.ph),
        "o": F.binary_cross_entropy_with_logits(y[:, 24], B.op),
    }
    told = ~B.new.isnan()
    parts["new"] = F.binary_cross_entropy_with_logits(z[:, -1][told], B.new[told], reduction="sum") / told.sum().clamp(min=1)
    for pair in PAIRS:
        if B.pairs[pair] is not None and B.pairs[pair][7]:
            right, told, soft, known = (B.pairs[pair][k] for k in (4, 5, 8, 9))
            chances = pairs(net, pair, B, query, things[pair])
            own, said = -torch.logsumexp(chances.masked_fill(~right, -1e4), 1), -(soft * chances.clamp(min=-20)).sum(1)
            parts[pair] = torch.where(known, (1 - SOFT) * own + SOFT * said, own)[told].mean()
    return sum(WEIGHTS[k] * v for k, v in parts.items()), parts


def train(eps, folder, epochs, dev, seed=0, seconds=None, noise=0.05, mean=True, push=0.0, lr=1.3e-4):
    """push: how far the word vectors are pushed against the reader in a second look at each batch (0: no second look)"""
    torch.manual_seed(seed)
    random.seed(seed)
    np.random.seed(seed)
    signs = next(E.offers["meant"].signs for E in eps if len(E.offers["meant"].signs))
    net = Net(folder, PLAIN, eps[0].fr.shape[1] - PLAIN, eps[0].sf.shape[1], signs.shape[1]).to(dev)
    net.train()
    for E in eps:
        teach(E)
    enc = list(net.enc.parameters())
    words = net.enc.embeddings.word_embeddings.weight
    rest = [p for n, p in net.named_parameters() if not n.startswith("enc.")]
    opt = torch.optim.AdamW([{"params": enc, "lr": lr}, {"params": rest, "lr": 1.2e-3}], weight_decay=0.01)
    ema = Mean(net)
    total, started, ep = None, time.time(), -1
    while (ep := ep + 1) < epochs:
        items = []
        for E in eps:
            if E.d["hearing"] in MADE and random.random() < 0.5:
                continue
            items += [(E, a, b) for a, b in windows(E, random.randrange(0, WINDOW), WINDOW - 48)]
        random.shuffle(items)
        if total is None:
            total = epochs * math.ceil(len(items) / BATCH)
            sched = torch.optim.lr_scheduler.LambdaLR(opt, lambda t: min(1, (t + 1) / 60) * max(0.02, 1 - t / total))
        tl = Counter()
        for i, batch in enumerate(batches(items, noise)):
            batch = batch.to(dev)
            loss, parts = losses(net, batch, RULES_LEFT_OUT)
            opt.zero_grad()
            loss.backward()
            if push and ep > 0:
                seen = torch.unique(batch.X)
                with torch.no_grad():
                    g = words.grad[seen]
                    away = push * g / (g.norm() + 1e-9) * math.sqrt(len(seen))
                    kept = words[seen].clone()
                    words[seen] += away
                losses(net, batch, RULES_LEFT_OUT)[0].backward()
                with torch.no_grad():
                    words[seen] = kept
            nn.utils.clip_grad_norm_(net.parameters(), 1.0 if not push else 2.0)
            opt.step()
            sched.step()
            ema.step()
            if i % 8 == 0:  # asking the card for a number waits for it
                tl.update(n=1, **{k: v.item() for k, v in parts.items()})
        if ep == 0 and seconds:  # as many passes as fit the time lent
            epochs = max(4, min(epochs, int(seconds / (2.3 if push else 1.3) / (time.time() - started))))
            total = epochs * math.ceil(len(items) / BATCH)
        if ep in REASSIGN and ep < epochs - 1:
            for E in eps:
                teach(E, np.log(predict(net, E, dev, False)[0] + 1e-9))
            net.train()
        print(ep, epochs, round(time.time() - started), {k: round(v / tl["n"], 3) for k, v in tl.items() if k != "n"}, flush=True)
    if mean:
        ema.put()
    return net


def middle(window, i, count):
    """How much of the talk a window shows around sentence i; what went before counts more (as in pipeline/reading/windows.py)."""
    a, b = window
    return min(i - a + (99 if a == 0 else 0), 3 * (b - 1 - i) + (99 if b == count else 0)) if a <= i < b else -1


@torch.no_grad()
def predict(net, E, dev, ref=True):
    net.eval()
    n = len(E.ids)
    ws = windows(E, 0, STRIDE)
    best = {i: max(range(len(ws)), key=lambda w: middle(ws[w], i, n)) for i in range(n)}
    shows = {i: {w: min(middle(ws[w], i, n), 5) + 1 for w in range(len(ws)) if ws[w][0] <= i < ws[w][1]} for i in range(n)}
    share = lambda i, w: shows[i][w] / sum(shows[i].values())  # noqa: E731
    P = np.zeros((len(E.of), len(ACTIONS) + 1), np.float32)
    Q = np.zeros((n, 25), np.float32)
    R = {pair: {} for pair in PAIRS}
    for i in range(0, len(ws), 32):
        items = [(E, a, b) for a, b in ws[i : i + 32]]
        B = collate(items, choices=ref).to(dev)
        z, y, query, things = forward(net, B)
        z, y = z.cpu().numpy(), y.cpu().numpy()
        for m, (w, j) in enumerate(B.slots):
            P[j] += share(E.of[j], i + w) * z[m]
        for m, (w, n_) in enumerate(B.sents):
            Q[n_] += share(n_, i + w) * y[m]
        for pair in PAIRS if ref else ():
            if B.pairs[pair] is not None:
                for (m, offers), chances in zip(B.pairs[pair][6], pairs(net, pair, B, query, things[pair]).exp().cpu().numpy()):
                    w, j = B.slots[m]
                    if best[E.of[j]] == i + w:
                        R[pair][j] = [(int(o), round(float(p), 4)) for o, p in zip(offers, chances)]
    chances = lambda x: np.exp(x - x.max(1, keepdims=True)) / np.exp(x - x.max(1, keepdims=True)).sum(1, keepdims=True)  # noqa: E731
    P = np.concatenate([chances(P[:, :-1]), 1 / (1 + np.exp(-P[:, -1:]))], 1)
    Q = np.concatenate([1 / (1 + np.exp(-Q[:, :12])), chances(Q[:, 12:24]), 1 / (1 + np.exp(-Q[:, 24:]))], 1)
    return P, Q, R


def keep(net, folder):
    """Weights in pieces small enough to carry: big tables as whole numbers of 8 bits with a scale a row."""
    folder.mkdir(parents=True, exist_ok=True)
    rows = {}
    for name, v in net.state_dict().items():
        if not v.dtype.is_floating_point:
            continue
        v = v.detach().cpu().float().numpy()
        if name.startswith("enc.") and v.ndim == 2 and v.size > 10_000:
            scale = np.abs(v).max(1) / 127 + 1e-12
            whole = np.round(v / scale[:, None]).astype(np.int8)
            rows |= {f"{name}|q{n}": part for n, part in enumerate(np.array_split(whole, math.ceil(whole.nbytes / PIECE)))}
            rows[name + "|s"] = scale.astype(np.float32)
        else:
            rows[name] = v.astype(np.float16)
    pieces, size = [{}], 0
    for name, v in rows.items():
        if size + v.nbytes > PIECE and pieces[-1]:
            pieces, size = [*pieces, {}], 0
        pieces[-1][name] = v
        size += v.nbytes
    for n, piece in enumerate(pieces):
        np.savez(folder / f"weights{n:02}.npz", **piece)


def main():
    global SOFT
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("lesson", type=Path)
    parser.add_argument("--encoder", type=Path, required=True)
    parser.add_argument("--noise", type=float, default=0.05)
    parser.add_argument("--lr", type=float, default=8e-5, help="of the encoder (MiniLM of six layers: 1.3e-4)")
    parser.add_argument("--push", type=float, default=0.0)
    parser.add_argument("--no-mean", action="store_true", help="the last weights instead of their mean over the last passes")
    parser.add_argument("--soft", type=float, default=SOFT, help="with --softened: share of what is taught that those readers said")
    parser.add_argument("--without", nargs="*", default=(), choices=MADE, help="leave out the talks in which names became pronouns, or that were heard with slips")
    parser.add_argument("--epochs", type=int, default=25)
    parser.add_argument("--seconds", type=float, help="fewer passes where these would take longer")
    parser.add_argument("--folds", type=int, default=0)
    parser.add_argument("--fold", type=int, help="this one alone, so that several can run side by side")
    parser.add_argument("--softened", type=Path, nargs="*", default=(), help="files of --out: what readers said of the episodes that were not taught them becomes half of what is taught")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--keep", type=Path)
    args = parser.parse_args()
    dev = "cuda"
    tok = Tokenizer.from_file(str(args.encoder / "tokenizer.json"))
    tok.no_truncation()
    tok.no_padding()
    bert = tok.token_to_id("[CLS]") is not None and tok.token_to_id("<s>") is None
    MARKS.update({k: tok.token_to_id(w) for k, w in zip(("start", "stop", "fill", "mask"), ("[CLS]", "[SEP]", "[PAD]", "[MASK]") if bert else ("<s>", "</s>", "<pad>", "<mask>"))})
    eps = [prep(e, tok) for e in json.loads(gzip.decompress(args.lesson.read_bytes()))]
    eps = [E for E in eps if E.d["hearing"] not in args.without]
    SOFT = args.soft
    said = said_of(args.softened)
    for E in eps:
        if told := said.get((E.d["name"], E.d["hearing"])):
            soften(E, *told)
    names = sorted({E.d["name"] for E in eps})
    how = {"seconds": args.seconds, "noise": args.noise, "mean": not args.no_mean, "push": args.push, "lr": args.lr}
    random.Random(3).shuffle(names)
    out = []
    for fold in range(args.folds) if args.fold is None else [args.fold]:
        held = set(names[fold :: args.folds])
        net = train([E for E in eps if E.d["name"] not in held], args.encoder, args.epochs, dev, **how)
        for E in eps:
            if E.d["name"] in held:
                P, Q, R = predict(net, E, dev)
                out.append(
                    {"name": E.d["name"], "hearing": E.d["hearing"], "actions": P.round(4).tolist(), "sentences": Q.round(4).tolist(), **R}
                )
    if args.out:
        args.out.write_bytes(gzip.compress(json.dumps(out).encode()))
    if args.keep:
        net = train(eps, args.encoder, args.epochs, dev, **how)
        keep(net, args.keep)


if __name__ == "__main__":
    main()
