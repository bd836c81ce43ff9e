"""How near two texts are in meaning, by word vectors: the vectors are those of a package, read from its files alone."""

import hashlib
import importlib.util
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import BenchError
from .wording import commonness, plain

if TYPE_CHECKING:
    import numpy as np

MOST = 80       # words of a text that are compared
RARE = 1e-3     # a word this frequent tells half of what a rare one does
_WORD = re.compile(r"[a-z0-9]+(?:'[a-z]+)?")
_FILES = {
    "weights/l2_supercat_256.safetensors": "64b47a2dc493cb8e85944076601189739852d7b64e0e1eedcb1937a251cd9fd5",
    "tokenizers/l2_supercat_tokenizer_config.json": "93248f2a9ec36c7b35f700a033d5f36228aae48db61aee31007fa49062cdeb68",
}


@dataclass(frozen=True)
class Meaning:
    """The words of a text and its vector, of length one or, where it has no words, zero."""

    words: tuple[str, ...]
    vector: "np.ndarray"


@lru_cache(maxsize=1)
def _vectors():
    """The tokenizer and the table of vectors (tokens x 256)."""
    from safetensors.numpy import load
    from tokenizers import Tokenizer

    package = importlib.util.find_spec("wordllama")  # its own loader would go to the network
    read = []
    for name, sum_ in _FILES.items():
        path = Path(package.submodule_search_locations[0], name) if package else Path(name)
        try:
            read.append(path.read_bytes())
        except OSError:
            raise BenchError("the word vectors are missing", path, "install Sideplate anew, with what it needs") from None
        if hashlib.sha256(read[-1]).hexdigest() != sum_:
            raise BenchError("the word vectors are not those that Sideplate was measured with", path, "install Sideplate anew, with what it needs")
    return Tokenizer.from_buffer(read[1]), load(read[0])["embedding.weight"]


@lru_cache(maxsize=50_000)
def _word(word: str) -> "np.ndarray":
    tokenizer, table = _vectors()
    return table[tokenizer.encode(word, add_special_tokens=False).ids].astype("float32").mean(0)


@lru_cache(maxsize=50_000)
def _tells(word: str) -> float:
    return RARE / (RARE + 10 ** (commonness(word) - 9))


def _vector(words: tuple[str, ...]) -> "np.ndarray":
    import numpy as np

    return _unit(sum((_tells(w) * _word(w) for w in words), np.zeros(256, "float32")))


@lru_cache(maxsize=2_000)
def _rows(words: tuple[str, ...]) -> tuple["np.ndarray", "np.ndarray"]:
    """The words' vectors, a row each, and how much each word tells, in all 1."""
    import numpy as np

    tells = np.array([_tells(w) for w in words])
    return _unit(np.array([_word(w) for w in words])), tells / tells.sum()


def meaning(text: str) -> Meaning:
    """Reads the first MOST words. Rare words count for more."""
    words = tuple(_WORD.findall(plain(text))[:MOST])
    return Meaning(words, _vector(words))


def rest(a: Meaning, b: Meaning) -> float:
    """How near what only the one says is to what only the other says, -1 to 1; 0 where either has nothing of its own."""
    return float(_vector(tuple(w for w in a.words if w not in b.words)) @ _vector(tuple(w for w in b.words if w not in a.words)))


def covers(a: Meaning, b: Meaning) -> float:
    """How much of what `a` says is said in `b`: each word of `a` against the nearest of `b`, about 0 to 1."""
    if not a.words or not b.words:
        return 0.0
    rows, tells = _rows(a.words)
    return float((rows @ _rows(b.words)[0].T).max(1) @ tells)


class Spread:
    """Many texts ready to be compared with others at once."""

    def __init__(self, texts: list[str]) -> None:
        import numpy as np

        read = [meaning(text) for text in texts]
        self.vectors = np.array([m.vector for m in read])
        self._counts = np.array([len(m.words) for m in read])
        self._words = np.concatenate([_rows(m.words)[0] for m in read if m.words] or [np.zeros((0, 256), "float32")])

    def covering(self, a: Meaning) -> "np.ndarray":
        """`covers(a, each)`."""
        import numpy as np

        out = np.zeros(len(self._counts))
        some = self._counts > 0
        if a.words and some.any():
            rows, tells = _rows(a.words)
            first = np.concatenate([[0], np.cumsum(self._counts[some])[:-1]])
            out[some] = np.maximum.reduceat(rows @ self._words.T, first, axis=1).T @ tells
        return out


def nearness(whole_a: Meaning, whole_b: Meaning, a: Meaning, b: Meaning) -> float:
    """Two comments as a whole, and what each of them asks, word by word, both ways."""
    return (float(whole_a.vector @ whole_b.vector) + covers(a, b) + covers(b, a)) / 3


def _unit(rows: "np.ndarray") -> "np.ndarray":
    import numpy as np

    return rows / np.maximum(np.linalg.norm(rows, axis=-1, keepdims=True), 1e-9)
