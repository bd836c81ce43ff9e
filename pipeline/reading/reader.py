"""The trained reader: what is done at each slot, what each sentence tells, from the words around them.

A small text encoder (MiniLM, six layers, Apache 2.0) was taught on annotated bench talks (sample_media/talks, the practice and
the unseen episodes) by benchmarks/teach. Its weights are data: `reader.onnx` (8-bit) and `reader.npz` (what turns its vectors
into answers). It knows nothing of one episode beyond the nine sentences around a place, and draws nothing at random.
"""

from dataclasses import dataclass
from functools import cache
from math import sqrt
from pathlib import Path

import numpy as np

from .signs import ACTIONS as DONE, KINDS, Signs
from .slots import Slot, Told

ACTIONS = ("none", *DONE)
PHASES = ("introduction", "identification", "disassembly", "inspection", "cleaning", "lubrication", "repair", "reassembly", "adjustment", "testing", "aside", "closing")
WINDOW, STRIDE = 9, 5        # sentences read together, and how far the window moves
LONGEST, SENTENCE = 320, 90  # word pieces of a window, of a sentence
START, STOP = 101, 102       # the encoder's marks for a beginning and the end of a sentence
BATCH = 8
_HERE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Reading:
    """What the reader makes of a talk: chances, one row a slot or a sentence."""

    actions: np.ndarray                       # slots × ACTIONS, rows sum to 1
    kinds: np.ndarray                         # sentences × KINDS, each 0 to 1: the sentence tells such a fact
    phases: np.ndarray                        # sentences × PHASES, rows sum to 1
    opens: np.ndarray                         # sentences, 0 to 1: a chapter opens here
    meant: dict[int, list[tuple[int, float]]]  # slot of a pronoun or of nothing said: slots of what it may mean, with chances


@cache
def _model():
    import onnxruntime
    from tokenizers import Tokenizer

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 2
    session = onnxruntime.InferenceSession(str(_HERE / "reader.onnx"), options, providers=["CPUExecutionProvider"])
    tokenizer = Tokenizer.from_file(str(_HERE / "reader.json"))
    tokenizer.no_truncation()
    tokenizer.no_padding()
    with np.load(_HERE / "reader.npz") as kept:
        weights = {k: kept[k].astype(np.float32) for k in kept.files}
    return session, tokenizer, weights


def read_talk(seen: Signs, slots: list[Slot]) -> Reading:
    """Chances for every slot and every sentence of a talk."""
    talk, told = seen.talk, seen.told
    session, tokenizer, weights = _model()
    pieces = [tokenizer.encode(d.text, add_special_tokens=False) for d in talk.docs]
    ids = [p.ids[:SENTENCE] for p in pieces]
    offsets = [p.offsets[:SENTENCE] for p in pieces]
    spans = [_span(offsets[told[s.told].sentence], *s.place) for s in slots]
    clauses = [_span(offsets[told[s.told].sentence], *s.clause) for s in slots]
    signs = np.array([seen.slot(s) for s in slots], np.float32)
    sentence = np.array([seen.sentence(i) for i in range(len(ids))], np.float32)
    windows = _windows([len(i) for i in ids])
    home = [max(range(len(windows)), key=lambda w: _middle(windows[w], i, len(ids))) for i in range(len(ids))]
    of = {}
    for j, s in enumerate(slots):
        of.setdefault(told[s.told].sentence, []).append(j)
    slot_out = np.zeros((len(slots), len(ACTIONS)), np.float32)
    sentence_out = np.zeros((len(ids), len(KINDS) + len(PHASES) + 1), np.float32)
    meant: dict[int, list[tuple[int, float]]] = {}
    for first in range(0, len(windows), BATCH):
        batch = windows[first:first + BATCH]
        rows = [[START, *(p for i in range(a, b) for p in (*ids[i], STOP))] for a, b in batch]
        longest = max(map(len, rows))
        tokens, mask = np.zeros((len(rows), longest), np.int64), np.zeros((len(rows), longest), np.int64)
        for r, row in enumerate(rows):
            tokens[r, :len(row)], mask[r, :len(row)] = row, 1
        hidden = session.run(None, {"ids": tokens, "mask": mask})[0] * mask[..., None]
        for r, (a, b) in enumerate(batch):
            starts = np.cumsum([1] + [len(ids[i]) + 1 for i in range(a, b)])[:-1]
            sums = np.concatenate([np.zeros((1, hidden.shape[2]), np.float32), hidden[r].cumsum(0)])

            def mean(sentence_at: int, span: tuple[int, int]) -> np.ndarray:
                lo, hi = starts[sentence_at - a] + span[0], starts[sentence_at - a] + span[1] + 1
                return (sums[hi] - sums[lo]) / max(1, hi - lo)

            whole = [mean(i, (0, max(0, len(ids[i]) - 1))) for i in range(a, b)]
            nothing = np.zeros_like(whole[0])
            inside = [j for i in range(a, b) for j in of.get(i, ())]
            said = {j: mean(told[slots[j].told].sentence, spans[j]) for j in inside}
            keys = {j: said[j] @ weights["k.weight"].T + weights["k.bias"] for j in inside if slots[j].kind == "thing"}
            for i in range(a, b):
                if home[i] != first + r:
                    continue
                before, after = whole[i - a - 1] if i > a else nothing, whole[i - a + 1] if i + 1 < b else nothing
                sentence_out[i] = _two_layers(np.concatenate([whole[i - a], before, after, sentence[i]]), "sent", weights)
                for j in of.get(i, ()):
                    here = np.concatenate([said[j], mean(i, clauses[j])])
                    slot_out[j] = _two_layers(np.concatenate([here, signs[j]]), "slot", weights)
                    if slots[j].kind in {"pro", "none"}:
                        meant[j] = _meant(j, slots, told, here @ weights["q.weight"].T + weights["q.bias"], keys, weights["dist"])
    k, p = len(KINDS), len(PHASES)
    return Reading(_softmax(slot_out), _sigmoid(sentence_out[:, :k]), _softmax(sentence_out[:, k:k + p]), _sigmoid(sentence_out[:, -1]), meant)


def _span(offsets: list[tuple[int, int]], start: int, end: int) -> tuple[int, int]:
    """First and last word piece of a stretch of characters."""
    inside = [n for n, (a, b) in enumerate(offsets) if b > start and a < end]
    return (inside[0], inside[-1]) if inside else (0, max(0, len(offsets) - 1))


def _windows(lengths: list[int]) -> list[tuple[int, int]]:
    out = []
    for a in range(0, len(lengths), STRIDE):
        b, pieces = a, 1
        while b < len(lengths) and b < a + WINDOW and pieces + lengths[b] + 1 <= LONGEST:
            pieces += lengths[b] + 1
            b += 1
        out.append((a, max(b, a + 1)))
    return out


def _middle(window: tuple[int, int], i: int, count: int) -> float:
    """How much of the talk on both sides of sentence i the window shows."""
    a, b = window
    return min(i - a + (99 if a == 0 else 0), b - 1 - i + (99 if b == count else 0)) if a <= i < b else -1


def _two_layers(x: np.ndarray, name: str, weights: dict) -> np.ndarray:
    h = x @ weights[f"{name}.0.weight"].T + weights[f"{name}.0.bias"]
    return _gelu(h) @ weights[f"{name}.3.weight"].T + weights[f"{name}.3.bias"]


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


def _meant(j: int, slots: list[Slot], told: list[Told], query: np.ndarray, keys: dict[int, np.ndarray], bias: np.ndarray) -> list[tuple[int, float]]:
    """What a pronoun may mean: things of its own sentence and of the six before, likeliest by sense, distance and number."""
    at = told[slots[j].told].sentence
    offered, scores = [], []
    for m, key in keys.items():
        back = at - told[slots[m].told].sentence
        if not 0 <= back <= 6:
            continue
        far = (0 if m < j else 1) if back == 0 else min(1 + back, 8)
        number, many = getattr(slots[j].unit, "plural", None), slots[m].unit.plural
        offered.append(m)
        scores.append(float(query @ key) / sqrt(len(key)) + bias[far] + bias[(9 if many else 10) if number is True else (11 if many else 12) if number is False else 13])
    if not offered:
        return []
    chances = _softmax(np.array([scores]))[0]
    return [(m, float(c)) for m, c in zip(offered, chances)]
