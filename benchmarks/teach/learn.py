#!/usr/bin/env python3
"""Teach the reader from a lesson: a small text encoder, and what turns its vectors into answers.

    python learn.py lesson.json.gz --encoder DIR --folds 7 --out crossed.json.gz   each episode judged by a reader not taught it
    python learn.py lesson.json.gz --encoder DIR --keep weights.npz                taught on all

Needs PyTorch with a graphics card, transformers, safetensors and tokenizers. See README.md beside this file.
"""

import argparse
import gzip
import json
import math
import random
import re
import time
from collections import Counter
from pathlib import Path

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F
from tokenizers import Tokenizer

ACTIONS = [
    "none",
    *"remove install loosen tighten clean degrease dry lubricate inspect measure adjust align test mark repair replace".split(),
    "set aside",
]
KINDS = "obsolete interchange upgrade dating orientation fastener setting caution condition unsure part_number measure".split()
PHASES = "introduction identification disassembly inspection cleaning lubrication repair reassembly adjustment testing aside closing".split()
PAIRS = ("meant", "tool", "supply")
PAIR_WEIGHT = {"meant": 0.6, "tool": 0.2, "supply": 0.2}
WINDOW, STRIDE, LONGEST, SENTENCE, BATCH = 12, 6, 420, 90, 20  # as in pipeline/reading/reader.py
PLAIN = 27  # signs of a slot that say only how it is worded; the rest are the rules' opinion
REASSIGN = (2, 4, 7, 11)  # after these passes, which slot a step belongs to is worked out again
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


def told_as(signs, do, way):
    """How far the rules read this action, or its way off or on, at a slot: 1, 0.3 for a motion without a way, 0."""
    acts = ACTIONS[1:] + ["on", "off", "way0"]
    block = signs[PLAIN + 1 : PLAIN + 1 + 4 * len(acts)]
    of = lambda name: max(block[r * len(acts) + acts.index(name)] for r in (0, 3))
    return max(of(do), of(way) if way else 0.0, 0.3 * of("way0"))


def assign(ep, logp=None):
    y = np.zeros(len(ep["slots"]), int)
    pairs = []
    tol = 0.8 if ep["hearing"] == "truth" else 1.6
    for gi, g in enumerate(ep["steps"]):
        acc = accepted(g["part"])
        heads = {a.split()[-1] for a in acc if a}
        way = {"remove": "off", "install": "on"}.get(g["do"])
        for i, s in enumerate(ep["slots"]):
            if not g["start"] - tol <= s["time"] <= g["end"] + tol / 2:
                continue
            if s["kind"] in ("thing", "noun"):
                if acc & set(s["names"]):
                    lvl = 0
                elif s["head"] in heads:
                    lvl = 1
                else:
                    continue
            else:
                lvl = 2 if s["kind"] == "pro" else 2.3
            if logp is None:
                m = told_as(s["signs"], g["do"], way)
                sc = -1.5 * lvl + 2 * m
            else:
                sc = -1.2 * lvl + 0.8 * max(-6.0, float(logp[i, ACTIONS.index(g["do"])]))
            pairs.append((sc, gi, i))
    pairs.sort(key=lambda p: -p[0])
    ug, us, link = set(), set(), {}
    for sc, gi, i in pairs:
        if gi in ug or i in us:
            continue
        ug.add(gi)
        us.add(i)
        y[i] = ACTIONS.index(ep["steps"][gi]["do"])
        link[i] = gi
    return y, link


def sent_labels(ep):
    S = ep["sentences"]
    n = len(S)
    F = np.zeros((n, len(KINDS)), np.float32)
    ph = np.zeros(n, int)
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
                ph[i] = PHASES.index(c["phase"])
    return F, ph, op


def encoder(folder):
    from safetensors.torch import load_file
    from transformers import BertConfig, BertModel

    kept = json.loads((folder / "config.json").read_text())
    model = BertModel(
        BertConfig(
            **{k: v for k, v in kept.items() if k not in ("_name_or_path", "architectures", "transformers_version", "gradient_checkpointing")}
        ),
        add_pooling_layer=False,
    )
    missing = model.load_state_dict(load_file(folder / "model.safetensors"), strict=False).missing_keys
    assert not [k for k in missing if "position_ids" not in k], missing
    return model


class Net(nn.Module):
    def __init__(s, folder, nf, nr, ns, np_):
        super().__init__()
        s.enc = encoder(folder)
        d = 384
        s.slot = nn.Sequential(nn.Linear(2 * d + nf + nr, 256), nn.GELU(), nn.Dropout(0.2), nn.Linear(256, len(ACTIONS)))
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


def prep(ep, tok):
    E = Episode()
    E.d = ep
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

    E.sp = [span(s["sent"], *s["place"]) for s in ep["slots"]]
    E.cl = [span(s["sent"], *s["clause"]) for s in ep["slots"]]
    E.fr = np.array([s["signs"] for s in ep["slots"]], np.float32)
    E.nf = PLAIN
    E.sf = np.array([s["signs"] for s in S], np.float32)
    E.F, E.ph, E.op = sent_labels(ep)
    E.y, E.link = assign(ep)
    E.bys = {}
    for j, s in enumerate(ep["slots"]):
        E.bys.setdefault(s["sent"], []).append(j)
    E.asp = [span(a["sentence"], *a["place"]) for a in ep["aids"]]
    E.byaid = {}
    for j, a in enumerate(ep["aids"]):
        E.byaid.setdefault(a["sentence"], []).append(j)
    E.acc = {
        "meant": [accepted(g["part"]) for g in ep["steps"]],
        "tool": [accepted(g.get("tool")) for g in ep["steps"]],
        "supply": [accepted(g.get("supply")) for g in ep["steps"]],
    }
    E.names = {"meant": [set(x["names"]) for x in ep["slots"]], "tool": [set(x["names"]) for x in ep["aids"]]}
    E.names["supply"] = E.names["tool"]
    E.offers = {pair: {} for pair in PAIRS}
    for j, x in enumerate(ep["slots"]):
        offered = {pair: [o for o in x["aids"] if ep["aids"][o[0]]["group"] == pair] for pair in ("tool", "supply")} | {"meant": x.get("meant", ())}
        for pair, rows in offered.items():
            if rows:
                E.offers[pair][j] = [o[0] for o in rows], np.array([o[1:] for o in rows], np.float32)
    return E


def windows(E, off, stride):
    n = len(E.ids)
    out = []
    i = -off
    while i < n:
        a = max(0, i)
        b = a
        t = 1
        while b < n and b < i + WINDOW and t + len(E.ids[b]) + 1 <= LONGEST:
            t += len(E.ids[b]) + 1
            b += 1
        b = max(b, a + 1)
        out.append((a, b))
        i += stride
    return out


def collate(items, dev, noise=0.0):
    """items: list of (E,a,b); noise: share of pieces masked, and a third as many swapped, as words heard wrong"""
    ids = []
    slots = []
    sents = []
    aids = []
    for w, (E, a, b) in enumerate(items):
        row = [101]
        st = []
        for i in range(a, b):
            st.append(len(row))
            x = E.ids[i]
            row += list(x) + [102]
        ids.append(row)
        for i in range(a, b):
            o = st[i - a]
            sents.append((w, o, o + max(0, len(E.ids[i]) - 1), E, i, a, b))
            for j in E.bys.get(i, ()):
                p, q = E.sp[j]
                c, d = E.cl[j]
                slots.append((w, o + p, o + q, o + c, o + d, E, j))
            for j in E.byaid.get(i, ()):
                p, q = E.asp[j]
                aids.append((w, o + p, o + q, E, j))
    T = max(map(len, ids))
    X = torch.zeros(len(ids), T, dtype=torch.long)
    M = torch.zeros(len(ids), T, dtype=torch.long)
    for w, r in enumerate(ids):
        X[w, : len(r)] = torch.tensor(r)
        M[w, : len(r)] = 1
    if noise:
        p = torch.rand(X.shape)
        X = torch.where((p < noise) & (M > 0) & (X > 102), torch.full_like(X, 103), X)
        q = torch.rand(X.shape)
        X = torch.where((q < noise / 3) & (M > 0) & (X > 102), torch.randint(1000, 29000, X.shape), X)
    return X.to(dev), M.to(dev), slots, sents, aids


def pool(h, rows, a, b):
    # mean over tokens a..b per item, via cumulative sums
    c = torch.cat([torch.zeros_like(h[:, :1]), h.cumsum(1)], 1)
    r = torch.tensor(rows, device=h.device)
    A = torch.tensor(a, device=h.device)
    B = torch.tensor(b, device=h.device) + 1
    return (c[r, B] - c[r, A]) / (B - A).unsqueeze(1)


def forward(net, X, M, slots, sents, aids, rdrop=0.0):
    """Scores of actions, of sentences, and for each kind of pair what pairs() needs."""
    with torch.autocast("cuda", dtype=torch.bfloat16):
        h = net.enc(input_ids=X, attention_mask=M).last_hidden_state
    h = h.float() * M.unsqueeze(-1)
    hs = net.drop(h)
    dev = h.device
    sp = pool(hs, [s[0] for s in slots], [s[1] for s in slots], [s[2] for s in slots])
    cl = pool(hs, [s[0] for s in slots], [s[3] for s in slots], [s[4] for s in slots])
    fr = torch.tensor(np.stack([s[5].fr[s[6]] for s in slots]), device=dev)
    f, r = fr[:, : slots[0][5].nf], fr[:, slots[0][5].nf :]
    if rdrop:
        r = r * (torch.rand(len(slots), 1, device=dev) > rdrop)
    here = torch.cat([sp, cl], 1)
    mid = net.slot[1](net.slot[0](torch.cat([here, f, r], 1)))
    z = net.slot[3](net.slot[2](mid))
    se = pool(hs, [s[0] for s in sents], [s[1] for s in sents], [s[2] for s in sents])
    w = [s[0] for s in sents]
    W = torch.tensor(w, device=dev)
    same = (W[1:] == W[:-1]).float().unsqueeze(1)
    zero = torch.zeros_like(se[:1])
    prev = torch.cat([zero, se[:-1] * same])
    nxt = torch.cat([se[1:] * same, zero])
    sf = torch.tensor(np.array([s[3].sf[s[4]] for s in sents]), device=dev)
    y = net.sent(torch.cat([se, prev, nxt, sf], 1))
    ai = pool(hs, [a[0] for a in aids], [a[1] for a in aids], [a[2] for a in aids]) if aids else sp[:0]
    return z, y, torch.cat([here, mid], 1), {"meant": sp, "tool": ai, "supply": ai}


def pairs(net, pair, slots, aids, query, things, taught=False):
    """Log chances of what is offered to each slot of a batch: rows, offers (-1: none), log chances, which offers are right, which slots were taught one."""
    dev = query.device
    where = {(s[0], s[6]): i for i, s in enumerate(slots)} if pair == "meant" else {(a[0], a[4]): i for i, a in enumerate(aids)}
    rows = []
    for i, s in enumerate(slots):
        E, j = s[5], s[6]
        if taught and j not in E.link or j not in E.offers[pair]:
            continue
        offers, signs = E.offers[pair][j]
        inside = [n for n, o in enumerate(offers) if (s[0], o) in where]
        if inside:
            rows.append((i, [offers[n] for n in inside], signs[inside]))
    if not rows:
        return None
    C = max(len(k) for _, k, _ in rows)
    N = np.zeros(len(rows), int)
    I = np.zeros((len(rows), C), int)
    P = np.zeros((len(rows), C, rows[0][2].shape[1]), np.float32)
    K = np.zeros((len(rows), C), bool)
    G = np.zeros((len(rows), C + 1), bool)
    use = np.zeros(len(rows), bool)
    for t, (i, offers, signs) in enumerate(rows):
        N[t] = i
        E, j = slots[i][5], slots[i][6]
        right = E.acc[pair][E.link[j]] if j in E.link else None
        P[t, : len(offers)] = signs
        for c, o in enumerate(offers):
            I[t, c], K[t, c] = where[slots[i][0], o], True
            G[t, c] = bool(right and right & E.names[pair][o])
        if pair != "meant" and right is not None and not right:
            G[t, C] = True
        use[t] = G[t].any()
    T = lambda x: torch.tensor(x, device=dev)
    q, k = getattr(net, pair + "_q")(query[T(N)]), getattr(net, pair + "_k")(things)
    both = q.unsqueeze(1) * k[T(I)]
    s = both.sum(2) / 8 + getattr(net, pair + "_mix")(torch.cat([both, T(P)], 2)).squeeze(2)
    s = s.masked_fill(~T(K), -1e4)
    none = getattr(net, pair + "_none")(query[T(N)]) if pair != "meant" else torch.full((len(rows), 1), -1e4, device=dev)
    s = torch.cat([s, none], 1).log_softmax(1)
    return [(i, offers) for i, offers, _ in rows], s, T(G), T(use)


def train(eps, folder, epochs, dev, seed=0, seconds=None, noise=0.05):
    torch.manual_seed(seed)
    random.seed(seed)
    np.random.seed(seed)
    signs = next(signs for E in eps for _, signs in E.offers["meant"].values())
    net = Net(folder, PLAIN, eps[0].fr.shape[1] - PLAIN, eps[0].sf.shape[1], signs.shape[1]).to(dev)
    net.train()
    for E in eps:
        E.y, E.link = assign(E.d)
    enc = list(net.enc.parameters())
    rest = [p for n, p in net.named_parameters() if not n.startswith("enc.")]
    opt = torch.optim.AdamW([{"params": enc, "lr": 1.3e-4}, {"params": rest, "lr": 1.2e-3}], weight_decay=0.01)
    total, started, ep = None, time.time(), -1
    while (ep := ep + 1) < epochs:
        items = []
        for E in eps:
            items += [(E, a, b) for a, b in windows(E, random.randrange(0, WINDOW), WINDOW - 2)]
        random.shuffle(items)
        B = BATCH
        if total is None:
            total = epochs * math.ceil(len(items) / B)
            sched = torch.optim.lr_scheduler.LambdaLR(opt, lambda t: min(1, (t + 1) / 60) * max(0.02, 1 - t / total))
        tl = Counter()
        for i in range(0, len(items), B):
            X, M, slots, sents, aids = collate(items[i : i + B], dev, noise)
            z, y, query, things = forward(net, X, M, slots, sents, aids, RULES_LEFT_OUT)
            t = torch.tensor([s[5].y[s[6]] for s in slots], device=dev)
            la = F.cross_entropy(z, t, label_smoothing=0.02)
            Ft = torch.tensor(np.array([s[3].F[s[4]] for s in sents]), device=dev)
            pt = torch.tensor([int(s[3].ph[s[4]]) for s in sents], device=dev)
            ot = torch.tensor([float(s[3].op[s[4]]) for s in sents], device=dev)
            lf = F.binary_cross_entropy_with_logits(y[:, :12], Ft, reduction="sum") / len(sents)
            lp = F.cross_entropy(y[:, 12:24], pt)
            lo = 2 * F.binary_cross_entropy_with_logits(y[:, 24], ot)
            lr = {}
            for pair in PAIRS:
                got = pairs(net, pair, slots, aids, query, things[pair], True)
                if got is not None and got[3].any():
                    lr[pair] = -torch.logsumexp(got[1].masked_fill(~got[2], -1e4), 1)[got[3]].mean()
            loss = 2 * la + 0.4 * lf + 0.4 * lp + 0.7 * lo + sum(PAIR_WEIGHT[p] * l for p, l in lr.items())
            opt.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            opt.step()
            sched.step()
            tl.update(a=la.item(), f=lf.item(), p=lp.item(), o=lo.item(), n=1, **{p: l.item() for p, l in lr.items()})
        if ep == 0 and seconds:  # as many passes as fit the time lent
            epochs = max(4, min(epochs, int(seconds / 1.3 / (time.time() - started))))
            total = epochs * math.ceil(len(items) / B)
        if ep in REASSIGN and ep < epochs - 1:
            for E in eps:
                P = predict(net, E, dev, False)[0]
                E.y, E.link = assign(E.d, np.log(P + 1e-9))
            net.train()
        print(ep, epochs, round(time.time() - started), {k: round(v / tl["n"], 3) for k, v in tl.items() if k != "n"}, flush=True)
    return net


def middle(window, i, count):
    """How much of the talk a window shows around sentence i; what went before counts more (as in pipeline/reading/reader.py)."""
    a, b = window
    return min(i - a + (99 if a == 0 else 0), 3 * (b - 1 - i) + (99 if b == count else 0)) if a <= i < b else -1


@torch.no_grad()
def predict(net, E, dev, ref=True):
    net.eval()
    n = len(E.ids)
    best = {}
    ws = windows(E, 0, STRIDE)
    for i in range(n):
        best[i] = max(range(len(ws)), key=lambda w: middle(ws[w], i, n))
    P = np.zeros((len(E.sp), len(ACTIONS)), np.float32)
    Q = np.zeros((n, 25), np.float32)
    R = {pair: {} for pair in PAIRS}
    for i in range(0, len(ws), 32):
        items = [(E, a, b) for a, b in ws[i : i + 32]]
        X, M, slots, sents, aids = collate(items, dev)
        z, y, query, things = forward(net, X, M, slots, sents, aids)
        z = z.softmax(1).cpu().numpy()
        y = torch.cat([y[:, :12].sigmoid(), y[:, 12:24].softmax(1), y[:, 24:].sigmoid()], 1).cpu().numpy()
        for m, s in enumerate(slots):
            if best[E.d["slots"][s[6]]["sent"]] == i + s[0]:
                P[s[6]] = z[m]
        for pair in PAIRS if ref else ():
            got = pairs(net, pair, slots, aids, query, things[pair])
            for (m, offers), chances in zip(got[0], got[1].exp().cpu().numpy()) if got else ():
                s = slots[m]
                if best[E.d["slots"][s[6]]["sent"]] == i + s[0]:
                    R[pair][s[6]] = [(o, round(float(p), 4)) for o, p in zip(offers, chances)]
        for m, s in enumerate(sents):
            if best[s[4]] == i + s[0]:
                Q[s[4]] = y[m]
    return P, Q, R


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("lesson", type=Path)
    parser.add_argument("--encoder", type=Path, required=True)
    parser.add_argument("--noise", type=float, default=0.05)
    parser.add_argument("--epochs", type=int, default=25)
    parser.add_argument("--seconds", type=float, help="fewer passes where these would take longer")
    parser.add_argument("--folds", type=int, default=0)
    parser.add_argument("--fold", type=int, help="this one alone, so that several can run side by side")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--keep", type=Path)
    args = parser.parse_args()
    dev = "cuda"
    tok = Tokenizer.from_file(str(args.encoder / "tokenizer.json"))
    tok.no_truncation()
    tok.no_padding()
    eps = [prep(e, tok) for e in json.loads(gzip.decompress(args.lesson.read_bytes()))]
    names = sorted({E.d["name"] for E in eps})
    random.Random(3).shuffle(names)
    out = []
    for fold in range(args.folds) if args.fold is None else [args.fold]:
        held = set(names[fold :: args.folds])
        net = train([E for E in eps if E.d["name"] not in held], args.encoder, args.epochs, dev, seconds=args.seconds, noise=args.noise)
        for E in eps:
            if E.d["name"] in held:
                P, Q, R = predict(net, E, dev)
                out.append(
                    {"name": E.d["name"], "hearing": E.d["hearing"], "actions": P.round(4).tolist(), "sentences": Q.round(4).tolist(), **R}
                )
    if args.out:
        args.out.write_bytes(gzip.compress(json.dumps(out).encode()))
    if args.keep:
        net = train(eps, args.encoder, args.epochs, dev, seconds=args.seconds, noise=args.noise)
        np.savez(args.keep, **{k: v.detach().cpu().half().numpy() for k, v in net.state_dict().items() if v.dtype.is_floating_point})


if __name__ == "__main__":
    main()
