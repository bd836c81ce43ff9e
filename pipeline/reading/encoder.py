"""The text encoder (MPNet, twelve layers, 8-bit weights, Apache 2.0) that the reader and the answering of questions share."""

from collections import deque
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from ..cores import cores

if TYPE_CHECKING:
    import numpy as np

START, STOP = 0, 2    # its marks for a beginning and the end of a sentence
LONGEST = 60          # word pieces of a text that is read alone
_BATCH = 8
_MOST = 4             # cores at work
_SLOWER = ("SkipLayerNormFusion", "BiasGeluFusion")  # steps in one that take longer than the two that they are made of
_HERE = Path(__file__).resolve().parent


@cache
def encoder():
    """The session (ids, mask -> a vector for each word piece) and the tokenizer."""
    import onnxruntime
    from tokenizers import Tokenizer

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1  # texts are read side by side instead (side_by_side): no core waits for another in every layer
    session = onnxruntime.InferenceSession(str(_HERE / "reader.onnx"), options, providers=["CPUExecutionProvider"], disabled_optimizers=list(_SLOWER))
    tokenizer = Tokenizer.from_file(str(_HERE / "reader.json"))
    tokenizer.no_truncation()
    tokenizer.no_padding()
    return session, tokenizer


def encode(rows: list[list[int]]) -> "np.ndarray":
    """Rows of word pieces, read side by side: a vector for each (rows x longest x 768), zero beyond a row's end."""
    import numpy as np

    ids = np.zeros((len(rows), max(map(len, rows))), np.int64)
    mask = np.zeros_like(ids)
    for r, row in enumerate(rows):
        ids[r, :len(row)], mask[r, :len(row)] = row, 1
    return encoder()[0].run(None, {"ids": ids, "mask": mask})[0] * mask[..., None]


def side_by_side(batches: list[list[list[int]]], lead: int = 8) -> Iterator["np.ndarray"]:
    """The same for many batches, in order. A core reads one at a time, and they begin at once: up to `lead` are read before they are asked for."""
    pool = ThreadPoolExecutor(min(cores(), _MOST))
    ahead = deque(pool.submit(encode, rows) for rows in batches[:lead])

    def each() -> Iterator["np.ndarray"]:
        with pool:
            for n in range(len(batches)):
                read = ahead.popleft().result()
                ahead.extend(pool.submit(encode, rows) for rows in batches[n + lead:n + lead + 1])
                yield read

    return each()


def vectors(texts: list[str]) -> "np.ndarray":
    """One vector for each text, read alone: the mean over its word pieces (texts x 768)."""
    import numpy as np

    tokenizer = encoder()[1]
    rows = [[START, *tokenizer.encode(text, add_special_tokens=False).ids[:LONGEST], STOP] for text in texts]
    out = np.zeros((len(rows), 768), np.float32)
    order = sorted(range(len(rows)), key=lambda i: len(rows[i]))  # alike in length, little is padded
    batches = [order[first:first + _BATCH] for first in range(0, len(order), _BATCH)]
    for batch, read in zip(batches, side_by_side([[rows[i] for i in batch] for batch in batches])):
        out[batch] = read.sum(1) / np.array([[len(rows[i])] for i in batch])
    return out
