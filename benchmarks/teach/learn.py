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
WINDOW, LONGEST, SENTENCE, BATCH = 9, 320, 90, 16  # as in pipeline/reading/reader.py
PLAIN = 27  # signs of a slot that say only how it is worded; the rest are the rules' opinion
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
    def __init__(s, folder, nf, nr, ns):
        super().__init__()
        s.enc = encoder(folder)
        d = 384
        s.slot = nn.Sequential(nn.Linear(2 * d + nf + nr, 256), nn.GELU(), nn.Dropout(0.2), nn.Linear(256, len(ACTIONS)))
        s.sent = nn.Sequential(nn.Linear(3 * d + ns, 192), nn.GELU(), nn.Dropout(0.2), nn.Linear(192, len(KINDS) + len(PHASES) + 1))
        s.q = nn.Linear(2 * d, 96)
        s.k = nn.Linear(d, 96)
        s.dist = nn.Parameter(torch.zeros(14))
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
    E.acc = [accepted(g["part"]) for g in ep["steps"]]
    E.nameset = [set(x["names"]) for x in ep["slots"]]
    E.refs = refs_of(ep)
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


def collate(items, dev, noise=False):
    """items: list of (E,a,b)"""
    ids = []
    slots = []
    sents = []
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
    T = max(map(len, ids))
    X = torch.zeros(len(ids), T, dtype=torch.long)
    M = torch.zeros(len(ids), T, dtype=torch.long)
    for w, r in enumerate(ids):
        X[w, : len(r)] = torch.tensor(r)
        M[w, : len(r)] = 1
    if noise:  # words heard wrong: some pieces masked or swapped
        p = torch.rand(X.shape)
        X = torch.where((p < 0.03) & (M > 0) & (X > 102), torch.full_like(X, 103), X)
        q = torch.rand(X.shape)
        X = torch.where((q < 0.01) & (M > 0) & (X > 102), torch.randint(1000, 29000, X.shape), X)
    return X.to(dev), M.to(dev), slots, sents


def pool(h, rows, a, b):
    # mean over tokens a..b per item, via cumulative sums
    c = torch.cat([torch.zeros_like(h[:, :1]), h.cumsum(1)], 1)
    r = torch.tensor(rows, device=h.device)
    A = torch.tensor(a, device=h.device)
    B = torch.tensor(b, device=h.device) + 1
    return (c[r, B] - c[r, A]) / (B - A).unsqueeze(1)


def forward(net, X, M, slots, sents, rdrop=0.0):
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
    z = net.slot(torch.cat([sp, cl, f, r], 1))
    se = pool(hs, [s[0] for s in sents], [s[1] for s in sents], [s[2] for s in sents])
    w = [s[0] for s in sents]
    W = torch.tensor(w, device=dev)
    same = (W[1:] == W[:-1]).float().unsqueeze(1)
    zero = torch.zeros_like(se[:1])
    prev = torch.cat([zero, se[:-1] * same])
    nxt = torch.cat([se[1:] * same, zero])
    sf = torch.tensor(np.array([s[3].sf[s[4]] for s in sents]), device=dev)
    y = net.sent(torch.cat([se, prev, nxt, sf], 1))
    q = net.q(torch.cat([sp, cl], 1))
    k = net.k(sp)
    return z, y, q, k


def refs_of(ep):
    """per pro/none slot: (candidate slots, distance bucket, number bucket)"""
    things = [(j, s["sent"]) for j, s in enumerate(ep["slots"]) if s["kind"] == "thing"]
    out = {}
    for n, x in enumerate(ep["slots"]):
        if x["kind"] not in ("pro", "none"):
            continue
        c = [j for j, t in things if x["sent"] - 6 <= t <= x["sent"]]
        if not c:
            continue
        db = []
        nb = []
        for m in c:
            y = ep["slots"][m]
            d = x["sent"] - y["sent"]
            db.append((0 if m < n else 1) if d == 0 else min(1 + d, 8))
            nb.append((9 if y["plural"] else 10) if x["plural"] is True else (11 if y["plural"] else 12) if x["plural"] is False else 13)
        out[n] = (c, db, nb)
    return out


def refpack(slots, dev):
    pos = {(s[0], s[6]): i for i, s in enumerate(slots)}
    rows = []
    for i, s in enumerate(slots):
        r = s[5].refs.get(s[6])
        if r:
            k = [(pos[s[0], m], d, n, m) for m, d, n in zip(*r) if (s[0], m) in pos]
            if k:
                rows.append((i, k))
    if not rows:
        return None
    C = max(len(k) for _, k in rows)
    N = np.zeros(len(rows), int)
    I = np.zeros((len(rows), C), int)
    D = np.zeros((len(rows), C), int)
    U = np.zeros((len(rows), C), int)
    K = np.zeros((len(rows), C), bool)
    G = np.zeros((len(rows), C), bool)
    who = []
    for t, (i, k) in enumerate(rows):
        N[t] = i
        E, j = slots[i][5], slots[i][6]
        acc = E.acc[E.link[j]] if j in E.link else None
        w = []
        for c, (p, d, n, m) in enumerate(k):
            I[t, c], D[t, c], U[t, c], K[t, c] = p, d, n, True
            w.append(m)
            if acc is not None and acc & E.nameset[m]:
                G[t, c] = True
        who.append((i, w))
    T = lambda x: torch.tensor(x, device=dev)
    return T(N), T(I), T(D), T(U), T(K), T(G), who


def refscores(net, pk, q, k):
    N, I, D, U, K, G, _ = pk
    s = (q[N].unsqueeze(1) * k[I]).sum(2) / math.sqrt(96) + net.dist[D] + net.dist[U]
    return s.masked_fill(~K, -1e4)


def train(eps, folder, epochs, dev, seed=0):
    torch.manual_seed(seed)
    random.seed(seed)
    np.random.seed(seed)
    net = Net(folder, PLAIN, eps[0].fr.shape[1] - PLAIN, eps[0].sf.shape[1]).to(dev)
    net.train()
    for E in eps:
        E.y, E.link = assign(E.d)
    enc = list(net.enc.parameters())
    rest = [p for n, p in net.named_parameters() if not n.startswith("enc.")]
    opt = torch.optim.AdamW([{"params": enc, "lr": 1e-4}, {"params": rest, "lr": 1e-3}], weight_decay=0.01)
    total = None
    for ep in range(epochs):
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
            X, M, slots, sents = collate(items[i : i + B], dev, True)
            z, y, q, k = forward(net, X, M, slots, sents, RULES_LEFT_OUT)
            t = torch.tensor([s[5].y[s[6]] for s in slots], device=dev)
            la = F.cross_entropy(z, t, label_smoothing=0.02)
            Ft = torch.tensor(np.array([s[3].F[s[4]] for s in sents]), device=dev)
            pt = torch.tensor([int(s[3].ph[s[4]]) for s in sents], device=dev)
            ot = torch.tensor([float(s[3].op[s[4]]) for s in sents], device=dev)
            lf = F.binary_cross_entropy_with_logits(y[:, :12], Ft, reduction="sum") / len(sents)
            lp = F.cross_entropy(y[:, 12:24], pt)
            lo = 2 * F.binary_cross_entropy_with_logits(y[:, 24], ot)
            pk = refpack(slots, dev)
            lrr = torch.zeros((), device=dev)
            if pk is not None:
                sc = refscores(net, pk, q, k)
                G, K = pk[5], pk[4]
                use = G.any(1) & (G != K).any(1)
                if use.any():
                    lrr = (torch.logsumexp(sc, 1) - torch.logsumexp(sc.masked_fill(~G, -1e4), 1))[use].mean()
            loss = 2 * la + 0.4 * lf + 0.4 * lp + 0.7 * lo + 0.3 * lrr
            opt.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            opt.step()
            sched.step()
            tl.update(a=la.item(), f=lf.item(), p=lp.item(), o=lo.item(), r=lrr.item(), n=1)
        if ep >= 2 and ep % 2 == 0 and ep < epochs - 1:
            for E in eps:
                P = predict(net, E, dev, False)[0]
                E.y, E.link = assign(E.d, np.log(P + 1e-9))
            net.train()
        print(ep, {k: round(v / tl["n"], 3) for k, v in tl.items() if k != "n"}, flush=True)
    return net


@torch.no_grad()
def predict(net, E, dev, ref=True):
    net.eval()
    n = len(E.ids)
    best = {}
    ws = windows(E, 0, 5)
    for i in range(n):
        best[i] = max(
            range(len(ws)),
            key=lambda w: (
                min(i - ws[w][0] + (99 if ws[w][0] == 0 else 0), ws[w][1] - 1 - i + (99 if ws[w][1] == n else 0)) if ws[w][0] <= i < ws[w][1] else -1
            ),
        )
    P = np.zeros((len(E.sp), len(ACTIONS)), np.float32)
    Q = np.zeros((n, 25), np.float32)
    R = {}
    for i in range(0, len(ws), 32):
        items = [(E, a, b) for a, b in ws[i : i + 32]]
        X, M, slots, sents = collate(items, dev)
        z, y, q, k = forward(net, X, M, slots, sents)
        z = z.softmax(1).cpu().numpy()
        y = torch.cat([y[:, :12].sigmoid(), y[:, 12:24].softmax(1), y[:, 24:].sigmoid()], 1).cpu().numpy()
        pk = refpack(slots, dev) if ref else None
        for m, s in enumerate(slots):
            if best[E.d["slots"][s[6]]["sent"]] == i + s[0]:
                P[s[6]] = z[m]
        if pk is not None:
            sc = refscores(net, pk, q, k).softmax(1).cpu().numpy()
            for t, (m, w) in enumerate(pk[6]):
                s = slots[m]
                if best[E.d["slots"][s[6]]["sent"]] == i + s[0]:
                    R[s[6]] = [(x, round(float(p), 4)) for x, p in zip(w, sc[t])]
        for m, s in enumerate(sents):
            if best[s[4]] == i + s[0]:
                Q[s[4]] = y[m]
    return P, Q, R


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("lesson", type=Path)
    parser.add_argument("--encoder", type=Path, required=True)
    parser.add_argument("--epochs", type=int, default=25)
    parser.add_argument("--folds", type=int, default=0)
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
    for fold in range(args.folds):
        held = set(names[fold :: args.folds])
        net = train([E for E in eps if E.d["name"] not in held], args.encoder, args.epochs, dev)
        for E in eps:
            if E.d["name"] in held:
                P, Q, R = predict(net, E, dev)
                out.append(
                    {"name": E.d["name"], "hearing": E.d["hearing"], "actions": P.round(4).tolist(), "sentences": Q.round(4).tolist(), "meant": R}
                )
    if args.out:
        args.out.write_bytes(gzip.compress(json.dumps(out).encode()))
    if args.keep:
        net = train(eps, args.encoder, args.epochs, dev)
        np.savez(args.keep, **{k: v.detach().cpu().half().numpy() for k, v in net.state_dict().items() if v.dtype.is_floating_point})


if __name__ == "__main__":
    main()
