#!/usr/bin/env python3
"""Weights from learn.py --keep to what the program reads: reader.onnx (the encoder, 8-bit), reader.npz (the rest). Needs the package onnx.

    python benchmarks/teach/pack.py weights0.npz weights1.npz …
    python benchmarks/teach/pack.py                 whole numbers of the reader that stands, made to fit its processors (`paired`)
"""

import sys
from math import log
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import onnx
from onnx import TensorProto as T
from onnx import helper as H
from onnx import numpy_helper as NH

INTO = Path(__file__).resolve().parents[2] / "pipeline" / "reading"
LAYERS, HEADS, WIDTH, EPS = 12, 12, 768, 1e-5
LOW = 0.17                  # x·Φ(x) is nowhere below -0.17
LONGEST, NEAREST = 512, 2   # word pieces; the position table's rows before the first piece's
MOST = 128                  # of two neighbours' whole numbers together: 255 times that is the most that 16 bits hold
BUCKETS, FAR = 32, 128      # kinds of distance between two pieces, and from where on all are one


def weights(files: list[str]) -> tuple[dict, dict]:
    """The encoder's and the rest. Big tables come in pieces of whole numbers with a scale a row (`name|q0`, …, `name|s`), as learn.py keeps them."""
    every = {}
    for file in files:
        with np.load(file) as kept:
            every |= {k: kept[k] for k in kept.files}
    for name in [k.removesuffix("0") for k in every if k.endswith("|q0")]:
        every[name] = np.concatenate([every.pop(f"{name}{n}") for n in range(sum(k.startswith(name) for k in every))])
    encoder = {k.removeprefix("enc."): v for k, v in every.items() if k.startswith("enc.")}
    return encoder, {k: v for k, v in every.items() if not k.startswith("enc.")}


def full(w: dict, name: str) -> np.ndarray:
    return w[name].astype(np.float32) if name in w else w[name + "|q"].astype(np.float32) * w[name + "|s"][:, None]


def bucket(distance: int) -> int:
    """Which kind of distance it is: near ones each their own, far ones by powers, each way (as in the T5 and MPNet papers)."""
    half, n = BUCKETS // 2, -distance
    start, n, exact = (half if n < 0 else 0), abs(n), half // 2
    return start + (n if n < exact else min(half - 1, exact + int(log(n / exact) / log(FAR / exact) * (half - exact))))


def build(w: dict) -> onnx.ModelProto:
    nodes, init = [], []

    def const(name, a):
        init.append(NH.from_array(np.ascontiguousarray(a), name))
        return name

    def node(op, ins, out, **k):
        nodes.append(H.make_node(op, ins, [out], **k))
        return out

    def norm(x, p, out):
        return node("LayerNormalization", [x, const(p + ".g", full(w, p + ".weight")), const(p + ".b", full(w, p + ".bias"))], out, axis=-1, epsilon=EPS)

    def lin(x, p, out):
        return node("Add", [times(x, p, out), const(p + ".b", full(w, p + ".bias"))], out)

    def lin_apart(x, p, out, gated=False):
        """The same with each piece's vector brought to one size before. A few pieces' numbers are twenty times the others', and whole numbers of 8 bits that reach so far leave little of the rest.

        Out of the gate come no numbers below -LOW: the largest tells the size.
        """
        size = node("ReduceMax", [x if gated else node("Abs", [x], out + "abs")], out + "most", axes=[-1], keepdims=1)
        if gated:
            size = node("Max", [size, "low"], out + "size")
        node("Mul", [times(node("Div", [x, size], out + "even"), p, out), size], out + "whole")
        return node("Add", [out + "whole", const(p + ".b", full(w, p + ".bias"))], out)

    def times(x, p, out):
        return node("MatMul", [x, const(p + ".w", full(w, p + ".weight").T)], out + "m")

    table = "embeddings.word_embeddings.weight"
    node("Gather", [const("words", w[table + "|q"]), "ids"], "wq")
    node("Cast", ["wq"], "wf", to=T.FLOAT)
    node("Gather", [const("scales", w[table + "|s"].astype(np.float32)[:, None]), "ids"], "ws")
    node("Mul", ["wf", "ws"], "e0")
    node("Shape", ["ids"], "len", start=1, end=2)
    node("Slice", [const("positions", full(w, "embeddings.position_embeddings.weight")[NEAREST:]), const("z", np.array([0], np.int64)), "len", const("zx", np.array([0], np.int64))], "p0")
    node("Add", ["e0", "p0"], "x0")
    x = norm("x0", "embeddings.LayerNorm", "h0")
    node("Cast", ["mask"], "mf", to=T.FLOAT)
    node("Sub", [const("o", np.array(1, np.float32)), "mf"], "inv")
    node("Mul", ["inv", const("big", np.array(-1e9, np.float32))], "neg")
    node("Unsqueeze", ["neg", const("ax", np.array([1, 2], np.int64))], "unseen")
    node("Squeeze", ["len"], "n")
    node("Range", [const("r0", np.array(0, np.int64)), "n", const("r1", np.array(1, np.int64))], "at")
    node("Unsqueeze", ["at", const("a0", np.array([0], np.int64))], "key")
    node("Unsqueeze", ["at", const("a1", np.array([1], np.int64))], "query")
    node("Sub", ["key", "query"], "far")
    node("Add", ["far", const("mid", np.array(LONGEST - 1, np.int64))], "which")
    kinds = [bucket(d) for d in range(1 - LONGEST, LONGEST)]
    node("Gather", [const("distances", full(w, "encoder.relative_attention_bias.weight")[kinds].T), "which"], "by distance", axis=1)
    node("Add", ["by distance", "unseen"], "bias")
    sh, jn = const("split", np.array([0, 0, HEADS, WIDTH // HEADS], np.int64)), const("join", np.array([0, 0, WIDTH], np.int64))
    const("low", np.array(LOW, np.float32))
    sc = const("scale", np.array((WIDTH // HEADS) ** -0.5, np.float32))
    for layer in range(LAYERS):
        p, n, r = f"encoder.layer.{layer}.", f"l{layer}", {}
        for q in "qkv":
            y = lin(x, p + f"attention.attn.{q}", n + q)
            node("Reshape", [y, sh], n + q + "r")
            r[q] = node("Transpose", [n + q + "r"], n + q + "t", perm=[0, 2, 3, 1] if q == "k" else [0, 2, 1, 3])
        node("MatMul", [r["q"], r["k"]], n + "a")
        node("Mul", [n + "a", sc], n + "as")
        node("Add", [n + "as", "bias"], n + "ab")
        node("Softmax", [n + "ab"], n + "p", axis=-1)
        node("MatMul", [n + "p", r["v"]], n + "c")
        node("Transpose", [n + "c"], n + "ct", perm=[0, 2, 1, 3])
        node("Reshape", [n + "ct", jn], n + "cj")
        y = lin(n + "cj", p + "attention.attn.o", n + "o")
        node("Add", [y, x], n + "r1")
        x = norm(n + "r1", p + "attention.LayerNorm", n + "h1")
        y = lin_apart(x, p + "intermediate.dense", n + "i")
        node("Div", [y, const(n + "s2", np.array(2**0.5, np.float32))], n + "g1")
        node("Erf", [n + "g1"], n + "g2")
        node("Add", [n + "g2", "o"], n + "g3")
        node("Mul", [y, n + "g3"], n + "g4")
        node("Mul", [n + "g4", const(n + "hf", np.array(0.5, np.float32))], n + "g5")
        y = lin_apart(n + "g5", p + "output.dense", n + "f", gated=True)
        node("Add", [y, x], n + "r2")
        x = norm(n + "r2", p + "output.LayerNorm", n + "h2")
    node("Identity", [x], "hidden")
    inputs = [H.make_tensor_value_info(k, T.INT64, ["b", "t"]) for k in ("ids", "mask")]
    graph = H.make_graph(nodes, "reader", inputs, [H.make_tensor_value_info("hidden", T.FLOAT, ["b", "t", WIDTH])], init)
    return H.make_model(graph, opset_imports=[H.make_opsetid("", 17)], ir_version=8)


def paired(numbers: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whole numbers (inputs x outputs, -127 to 127) of which no two neighbours in a column are beyond MOST together, and what each column's scale grew by.

    A processor with AVX2 alone multiplies 8-bit numbers two by two and adds each two products in 16 bits (PMADDUBSW: the first with the second input, the third with the fourth, …); what is too large
    is cut off without a word, and nearly every reading was wrong. Of all scales up to twice as wide the one that loses least; pairs that are still too large are lessened, both alike.
    """
    numbers = numbers.astype(np.float32)
    best, wider = numbers.copy(), np.ones(numbers.shape[1], np.float32)
    least = np.full(numbers.shape[1], np.inf, np.float32)
    for by in np.linspace(1, 2, 41, dtype=np.float32):
        whole = np.rint(numbers / by)
        together = whole[0::2] + whole[1::2]
        over = together - together.clip(-MOST, MOST)
        whole[0::2] -= np.trunc(over / 2)
        whole[1::2] -= over - np.trunc(over / 2)
        lost = ((numbers - by * whole) ** 2).sum(0)
        better = lost < least
        best[:, better], wider[better], least[better] = whole[:, better], by, lost[better]
    return best.astype(np.int8), wider


def main() -> None:
    from onnxruntime.quantization import QuantType, quantize_dynamic

    file = INTO / "reader.onnx"
    if sys.argv[1:]:
        encoder, rest = weights(sys.argv[1:])
        model = build(encoder)
        onnx.checker.check_model(model)
        with TemporaryDirectory() as scratch:
            onnx.save(model, scratch + "/full.onnx")
            quantize_dynamic(scratch + "/full.onnx", file, weight_type=QuantType.QInt8, per_channel=True, op_types_to_quantize=["MatMul"], extra_options={"DefaultTensorType": 1})
        np.savez_compressed(INTO / "reader.npz", **{k: full(rest, k.removesuffix("|q")).astype(np.float16) for k in rest if not k.endswith("|s")})
    model = onnx.load(file)
    tables = {table.name: table for table in model.graph.initializer}
    for name in [n for n in tables if n.endswith("_quantized")]:
        scale = name.removesuffix("_quantized") + "_scale"
        whole, wider = paired(NH.to_array(tables[name]))
        tables[name].CopyFrom(NH.from_array(whole, name))
        tables[scale].CopyFrom(NH.from_array(NH.to_array(tables[scale]) * wider, scale))
    onnx.save(model, file)


if __name__ == "__main__":
    main()
