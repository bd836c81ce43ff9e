#!/usr/bin/env python3
"""Weights from learn.py to what the program reads: reader.onnx (the encoder, 8-bit) and reader.npz (the rest). Needs the package onnx.

python benchmarks/teach/pack.py weights.npz
"""

import sys
from pathlib import Path

import numpy as np
import onnx
from onnx import helper as H, TensorProto as T, numpy_helper as NH


def weights(path):
    with np.load(path) as kept:
        every = {k: kept[k] for k in kept.files}
    return {k.removeprefix("enc."): v.astype(np.float32) for k, v in every.items() if k.startswith("enc.")}, {
        k: v for k, v in every.items() if not k.startswith("enc.")
    }


def build(w, layers=6, heads=12, d=384, eps=1e-12):
    nodes, init = [], []

    def const(name, a):
        init.append(NH.from_array(np.ascontiguousarray(a), name))
        return name

    def node(op, ins, out, **k):
        nodes.append(H.make_node(op, ins, [out], **k))
        return out

    node("Gather", [const("words", w["embeddings.word_embeddings.weight"]), "ids"], "e0")
    node("Shape", ["ids"], "len", start=1, end=2)
    node(
        "Slice",
        [
            const("positions", w["embeddings.position_embeddings.weight"] + w["embeddings.token_type_embeddings.weight"][0]),
            const("z", np.array([0], np.int64)),
            "len",
            const("zx", np.array([0], np.int64)),
        ],
        "p0",
    )
    node("Add", ["e0", "p0"], "x0")

    def norm(x, p, out):
        return node("LayerNormalization", [x, const(p + ".g", w[p + ".weight"]), const(p + ".b", w[p + ".bias"])], out, axis=-1, epsilon=eps)

    x = norm("x0", "embeddings.LayerNorm", "h0")
    node("Cast", ["mask"], "mf", to=T.FLOAT)
    node("Sub", [const("o", np.array(1, np.float32)), "mf"], "inv")
    node("Mul", ["inv", const("big", np.array(-1e9, np.float32))], "neg")
    node("Unsqueeze", ["neg", const("ax", np.array([1, 2], np.int64))], "bias")

    def lin(x, p, out):
        node("MatMul", [x, const(p + ".w", w[p + ".weight"].T)], out + "m")
        return node("Add", [out + "m", const(p + ".b", w[p + ".bias"])], out)

    sh = const("split", np.array([0, 0, heads, d // heads], np.int64))
    jn = const("join", np.array([0, 0, d], np.int64))
    sc = const("scale", np.array((d // heads) ** -0.5, np.float32))
    for l in range(layers):
        p = f"encoder.layer.{l}."
        n = f"l{l}"
        r = {}
        for q in ("query", "key", "value"):
            y = lin(x, p + f"attention.self.{q}", n + q)
            node("Reshape", [y, sh], n + q + "r")
            r[q] = node("Transpose", [n + q + "r"], n + q + "t", perm=[0, 2, 3, 1] if q == "key" else [0, 2, 1, 3])
        node("MatMul", [r["query"], r["key"]], n + "a")
        node("Mul", [n + "a", sc], n + "as")
        node("Add", [n + "as", "bias"], n + "ab")
        node("Softmax", [n + "ab"], n + "p", axis=-1)
        node("MatMul", [n + "p", r["value"]], n + "c")
        node("Transpose", [n + "c"], n + "ct", perm=[0, 2, 1, 3])
        node("Reshape", [n + "ct", jn], n + "cj")
        y = lin(n + "cj", p + "attention.output.dense", n + "o")
        node("Add", [y, x], n + "r1")
        x = norm(n + "r1", p + "attention.output.LayerNorm", n + "h1")
        y = lin(x, p + "intermediate.dense", n + "i")
        node("Div", [y, const(n + "s2", np.array(2**0.5, np.float32))], n + "g1")
        node("Erf", [n + "g1"], n + "g2")
        node("Add", [n + "g2", "o"], n + "g3")
        node("Mul", [y, n + "g3"], n + "g4")
        node("Mul", [n + "g4", const(n + "hf", np.array(0.5, np.float32))], n + "g5")
        y = lin(n + "g5", p + "output.dense", n + "f")
        node("Add", [y, x], n + "r2")
        x = norm(n + "r2", p + "output.LayerNorm", n + "h2")
    node("Identity", [x], "hidden")
    g = H.make_graph(
        nodes,
        "reader",
        [H.make_tensor_value_info("ids", T.INT64, ["b", "t"]), H.make_tensor_value_info("mask", T.INT64, ["b", "t"])],
        [H.make_tensor_value_info("hidden", T.FLOAT, ["b", "t", d])],
        init,
    )
    return H.make_model(g, opset_imports=[H.make_opsetid("", 17)], ir_version=8)


if __name__ == "__main__":
    from onnxruntime.quantization import QuantType, quantize_dynamic
    from tempfile import TemporaryDirectory

    encoder, rest = weights(sys.argv[1])
    model = build(encoder)
    onnx.checker.check_model(model)
    into = Path(__file__).resolve().parents[2] / "pipeline" / "reading"
    with TemporaryDirectory() as scratch:
        onnx.save(model, scratch + "/full.onnx")
        quantize_dynamic(
            scratch + "/full.onnx", into / "reader.onnx", weight_type=QuantType.QInt8, per_channel=True, extra_options={"DefaultTensorType": 1}
        )
    np.savez_compressed(into / "reader.npz", **rest)
