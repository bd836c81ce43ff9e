"""The text encoder (MPNet, twelve layers, 8-bit weights, Apache 2.0) that the reader and the answering of questions share."""

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

START, STOP = 0, 2    # its marks for a beginning and the end of a sentence
LONGEST = 60          # word pieces of a text that is read alone
_BATCH = 32
_HERE = Path(__file__).resolve().parent


@cache
def encoder():
    """The session (ids, mask -> a vector for each word piece) and the tokenizer."""
    import onnxruntime
    from tokenizers import Tokenizer

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 2
    session = onnxruntime.InferenceSession(str(_HERE / "reader.onnx"), options, providers=["CPUExecutionProvider"])
    tokenizer = Tokenizer.from_file(str(_HERE / "reader.json"))
    tokenizer.no_truncation()
    tokenizer.no_padding()
    return session, tokenizer


def vectors(texts: list[str]) -> "np.ndarray":
    """One vector for each text, read alone: the mean over its word pieces (texts x 768)."""
    import numpy as np

    session, tokenizer = encoder()
    rows = [[START, *tokenizer.encode(text, add_special_tokens=False).ids[:LONGEST], STOP] for text in texts]
    out = np.zeros((len(rows), 768), np.float32)
    order = sorted(range(len(rows)), key=lambda i: len(rows[i]))  # alike in length, little is padded
    for first in range(0, len(order), _BATCH):
        batch = order[first:first + _BATCH]
        ids = np.zeros((len(batch), max(len(rows[i]) for i in batch)), np.int64)
        mask = np.zeros_like(ids)
        for r, i in enumerate(batch):
            ids[r, :len(rows[i])], mask[r, :len(rows[i])] = rows[i], 1
        hidden = session.run(None, {"ids": ids, "mask": mask})[0] * mask[..., None]
        out[batch] = hidden.sum(1) / mask.sum(1, keepdims=True)
    return out
