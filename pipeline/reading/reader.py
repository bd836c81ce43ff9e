"""The trained reader: what is done at each slot, what each sentence tells, from the words around them.

A text encoder (MPNet, twelve layers, Apache 2.0) was taught on annotated bench talks (sample_media/talks, the practice and
the unseen episodes) by benchmarks/teach. Its weights are data: `reader.onnx` (8-bit) and `reader.npz` (what turns its vectors
into answers). It knows nothing of one episode beyond the dozen lines around a place, and draws nothing at random.
"""

from dataclasses import dataclass
from functools import cache
from math import sqrt
from pathlib import Path

import numpy as np

from .offers import Offers
from .signs import ACTIONS as DONE, KINDS, Signs
from .slots import Slot
from .windows import Windows

ACTIONS = ("none", *DONE)
PHASES = ("introduction", "identification", "disassembly", "inspection", "cleaning", "lubrication", "repair", "reassembly", "adjustment", "testing", "aside", "closing")
PAIRS = ("meant", "of", "tool", "supply")   # the first two are offered parts, the others aids
_HERE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Reading:
    """What the reader makes of a talk: chances, one row a slot or a sentence."""

    actions: np.ndarray                       # slots × ACTIONS, rows sum to 1
    kinds: np.ndarray                         # sentences × KINDS, each 0 to 1: the sentence tells such a fact
    phases: np.ndarray                        # sentences × PHASES, rows sum to 1
    opens: np.ndarray                         # sentences, 0 to 1: a chapter opens here
    meant: dict[int, list[tuple[int, float]]]  # slot that may mean a part named elsewhere (Slot.points): slots of what it may mean, with chances
    of: dict[int, list[tuple[int, float]]]     # slot with a bare word (Slot.is_bare): slots of such a piece or of what it belongs to, with chances; what is left to 1 is none
    tool: dict[int, list[tuple[int, float]]]   # slot: aids (Signs.aids) that it may be done with, with chances; what is left to 1 is none
    supply: dict[int, list[tuple[int, float]]]
    exchanged: np.ndarray                     # slots, 0 to 1: should a piece come off or go on there, it is an old one that stays off or a new one


@cache
def _weights() -> dict[str, np.ndarray]:
    with np.load(_HERE / "reader.npz") as kept:
        return {k: kept[k].astype(np.float32) for k in kept.files}


def read_talk(seen: Signs, slots: list[Slot], windows: Windows | None = None) -> Reading:
    """Chances for every slot and every sentence of a talk. `windows`: the talk's own, where the encoder has begun to read them."""
    talk, told, weights = seen.talk, seen.told, _weights()
    windows = windows or Windows([d.text for d in talk.docs])
    ids, count = windows.ids, len(windows.ids)
    spans = [windows.place(told[s.told].sentence, *s.place) for s in slots]
    clauses = [windows.place(told[s.told].sentence, *s.clause) for s in slots]
    signs = np.array([seen.slot(s) for s in slots], np.float32)
    sentence = np.array([seen.sentence(i) for i in range(count)], np.float32)
    aids = seen.aids
    aid_spans = [windows.place(told[a.told].sentence, *a.place) for a in aids]
    parts = [j for j, s in enumerate(slots) if s.is_named]
    meant, helps = Offers(seen, [slots[j] for j in parts]), Offers(seen, aids)
    of: dict[int, list[int]] = {}
    for j, s in enumerate(slots):
        of.setdefault(told[s.told].sentence, []).append(j)
    slot_out = np.zeros((len(slots), len(ACTIONS) + 1), np.float32)
    sentence_out = np.zeros((count, len(KINDS) + len(PHASES) + 1), np.float32)
    chosen: dict[str, dict[int, list[tuple[int, float]]]] = {pair: {} for pair in PAIRS}
    for w, a, b, vectors in windows:
        starts = np.cumsum([1] + [len(ids[i]) + 1 for i in range(a, b)])[:-1]
        sums = np.concatenate([np.zeros((1, vectors.shape[1]), np.float32), vectors.cumsum(0)])

        def mean(sentence_at: int, span: tuple[int, int]) -> np.ndarray:
            lo, hi = starts[sentence_at - a] + span[0], starts[sentence_at - a] + span[1] + 1
            return (sums[hi] - sums[lo]) / max(1, hi - lo)

        whole = np.array([mean(i, (0, max(0, len(ids[i]) - 1))) for i in range(a, b)])
        share = np.array(windows.share(w), np.float32)[:, None]
        around = np.pad(whole, ((1, 1), (0, 0)))  # a sentence with the one before and the one after
        sentence_out[a:b] += share * _two_layers(np.concatenate([whole, around[:-2], around[2:], sentence[a:b]], 1), "sent", weights)
        rows_of = [(i, j) for i in range(a, b) for j in of.get(i, ())]
        if not rows_of:
            continue
        here = np.array([np.concatenate([mean(i, spans[j]), mean(i, clauses[j])]) for i, j in rows_of])
        slots_here = [j for _, j in rows_of]
        inner = _gelu(_linear(np.concatenate([here, signs[slots_here]], 1), "slot.0", weights))
        slot_out[slots_here] += share[[i - a for i, _ in rows_of]] * _linear(inner, "slot.3", weights)
        keys = _keys({n: mean(at, spans[parts[n]]) for n, at in enumerate(meant.at) if a <= at < b}, PAIRS[:2], weights)
        keys |= _keys({n: mean(at, aid_spans[n]) for n, at in enumerate(helps.at) if a <= at < b}, PAIRS[2:], weights)
        asked: dict[str, list[tuple[int, list[int], list[list[float]]]]] = {pair: [] for pair in PAIRS}  # row of `here`, what is offered, its signs
        for row, (i, j) in enumerate(rows_of):
            if windows.home[i] != w:
                continue
            if slots[j].points and (offered := meant.to(slots[j], first=a)):
                asked["meant"].append((row, offered, meant.signs(slots[j], offered)))
            if slots[j].is_bare and (offered := meant.owners(slots[j], a, b)):
                asked["of"].append((row, offered, meant.signs(slots[j], offered)))
            offered = helps.to(slots[j], first=a)
            told_by = helps.signs(slots[j], offered)
            for pair in PAIRS[2:]:
                if near := [(n, its) for n, its in zip(offered, told_by) if aids[n].unit.group == pair]:
                    asked[pair].append((row, [n for n, _ in near], [its for _, its in near]))
        queries = np.concatenate([here, inner], 1)
        for pair, questions in asked.items():
            for (row, offered, _), chances in zip(questions, _chosen(pair, queries, questions, keys, weights)):
                chosen[pair][slots_here[row]] = [(parts[n] if pair in PAIRS[:2] else n, c) for n, c in zip(offered, chances)]
    k, p = len(KINDS), len(PHASES)
    return Reading(_softmax(slot_out[:, :-1]), _sigmoid(sentence_out[:, :k]), _softmax(sentence_out[:, k:k + p]), _sigmoid(sentence_out[:, -1]), exchanged=_sigmoid(slot_out[:, -1]), **chosen)


def _two_layers(x: np.ndarray, name: str, weights: dict) -> np.ndarray:
    return _linear(_gelu(_linear(x, f"{name}.0", weights)), f"{name}.3", weights)


def _linear(x: np.ndarray, name: str, weights: dict) -> np.ndarray:
    return x @ weights[name + ".weight"].T + weights[name + ".bias"]


def _gelu(x: np.ndarray) -> np.ndarray:
    """The smooth gate x·Φ(x), with the normal distribution's Φ after Abramowitz and Stegun 7.1.26 (error below 2e-7)."""
    z = np.abs(x) / sqrt(2)
    t = 1 / (1 + 0.3275911 * z)
    erf = 1 - ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t * np.exp(-z * z)
    return x * 0.5 * (1 + np.sign(x) * erf)


def _softmax(x: np.ndarray) -> np.ndarray:
    e = np.exp(x - x.max(1, keepdims=True))
    return e / e.sum(1, keepdims=True)


def _sigmoid(x: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-x))


def _keys(means: dict[int, np.ndarray], pairs: tuple[str, ...], weights: dict) -> dict[tuple[str, int], np.ndarray]:
    """What each thing offered is compared by, for each kind of pair."""
    return {(pair, n): row for pair in pairs if means for n, row in zip(means, _linear(np.array(list(means.values())), pair + "_k", weights))}


def _chosen(pair: str, queries: np.ndarray, questions: list[tuple[int, list[int], list[list[float]]]], keys: dict[tuple[str, int], np.ndarray], weights: dict) -> list[list[float]]:
    """Chances of what is offered to each slot asked about: how alike slot and offer are, with the signs of the offer. But for what a pronoun means, it may also be none of them."""
    if not questions:
        return []
    rows = [row for row, _, _ in questions]
    counts = [len(offered) for _, offered, _ in questions]
    both = np.repeat(_linear(queries[rows], pair + "_q", weights), counts, 0) * np.array([keys[pair, n] for _, offered, _ in questions for n in offered])
    signs = np.array([its for _, _, told in questions for its in told], np.float32)
    scores = both.sum(1) / sqrt(both.shape[1]) + _two_layers(np.concatenate([both, signs], 1), pair + "_mix", weights)[:, 0]
    none = _linear(queries[rows], pair + "_none", weights) if pair != "meant" else np.zeros((len(rows), 0), np.float32)
    chances = (_softmax(np.append(own, rest)[None])[0] for own, rest in zip(np.split(scores, np.cumsum(counts)[:-1]), none))
    return [[float(c) for c in row[:count]] for row, count in zip(chances, counts)]
