"""Bench noise made from sums of decaying sines and shaped hiss, at the moments that the scenes give."""

import numpy as np

SHAPES = {  # kind: (partials in Hz, decay in seconds, hiss share, loudness)
    "clink": ((2310, 3870, 5210, 6940), 0.09, 0.05, 0.10),
    "tick": ((3400, 5150), 0.006, 0.5, 0.05),
    "drip": ((1450, 2100), 0.03, 0.0, 0.05),
    "thud": ((62, 95, 140), 0.12, 0.1, 0.35),
    "splash": ((480, 760), 0.10, 1.5, 0.05),
    "scrub": ((900,), 0.07, 6.0, 0.012),
}


def effects(length, rate, moments, seed=21):
    """All moments (seconds, kind, strength) as float32 samples."""
    rng = np.random.default_rng(seed)
    out = np.zeros(length, np.float32)
    for at, kind, strength in sorted(moments):
        partials, decay, hiss, loudness = SHAPES[kind]
        begin = int(at * rate)
        t = np.arange(min(int(decay * 6 * rate), length - begin)) / rate
        if begin < 0 or not len(t):
            continue
        tone = sum(np.sin(2 * np.pi * f * rng.uniform(0.94, 1.06) * t + rng.uniform(0, 6)) / (k + 1) for k, f in enumerate(partials))
        tone = tone + hiss * rng.standard_normal(len(t))
        rise = np.minimum(1, t / 0.002)
        out[begin : begin + len(t)] += (loudness * strength * rise * np.exp(-t / decay) * tone).astype(np.float32)
    return out
