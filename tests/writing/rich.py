"""A rich record, made by hand: an invented lever drag reel, every kind of finding in it."""

from pipeline.hearing.words import Word
from pipeline.mending import Mended
from pipeline.record import Episode

URL = "https://video.example/watch?v=petrel25"

# start, do, part, qty, tool, supply, text, phase, confidence
STEPS = [
    (41, "test", "drag", None, "spring scale", None, "Test the drag with a spring scale.", "identification", .9),
    (62, "remove", "rod clamp nut", 2, "10 mm wrench", None, "Remove the two rod clamp nuts with a 10 mm wrench.", "disassembly", .92),
    (80, "remove", "handle screw", 1, "#2 Phillips screwdriver", None, "", "disassembly", .9),
    (92, "remove", "handle", 1, None, None, "Remove the handle.", "disassembly", .95),
    (118, "loosen", "preset knob", None, "dry hands", None, "Loosen the preset knob with dry hands.", "disassembly", .7),
    (131, "remove", "drag lever", 1, None, None, "Remove the drag lever.", "disassembly", .9),
    (150, "remove", "click spring", 1, "tweezers", None, "Remove the click spring with tweezers.", "disassembly", .84),
    (171, "remove", "side plate screw", 5, "#1 Phillips screwdriver", None, "Back out the five side plate screws with a #1 Phillips screwdriver.", "disassembly", .93),
    (178, "remove", "side plate screw", None, None, None, "Back out the side plate screws.", "disassembly", .6),
    (196, "remove", "right side plate", 1, None, None, "Remove the right side plate.", "disassembly", .9),
    (222, "remove", "spool", 1, None, None, "Remove the spool.", "disassembly", .9),
    (240, "remove", "e-clip", 1, "e-clip tool", None, "Remove the e-clip with an e-clip tool.", "disassembly", .82),
    (262, "remove", "spacer", 1, None, None, "Remove the spacer.", "disassembly", .7),
    (280, "remove", "belleville washer", 4, None, None, "Remove the four belleville washers.", "disassembly", .9),
    (301, "remove", "drag washer", 1, None, None, "Remove the drag washer.", "disassembly", .9),
    (330, "remove", "ball bearing", 2, "bearing press", None, "Remove the two ball bearings with a bearing press.", "disassembly", .8),
    (371, "inspect", "drag washer", None, None, None, "Inspect the drag washer.", "inspection", .88),
    (395, "inspect", "pinion gear", None, "magnifier", None, "Inspect the pinion gear with a magnifier.", "inspection", .45),
    (430, "degrease", "main gear", 1, "brush", "isopropyl alcohol", "Degrease the main gear with isopropyl alcohol and a brush.", "cleaning", .9),
    (455, "clean", "frame", 1, "toothbrush", "warm soapy water", "Clean the frame with warm soapy water and a toothbrush.", "cleaning", .9),
    (470, "dry", "frame", 1, None, "paper towel", "Dry the frame with paper towel.", "cleaning", .86),
    (505, "replace", "ball bearing", 2, None, None, "Replace the two ball bearings.", "repair", .9),
    (548, "lubricate", "ball bearing", 2, "needle oiler", "light oil", "Oil the two ball bearings with light oil and a needle oiler.", "lubrication", .91),
    (570, "lubricate", "main gear", 1, "brush", "marine grease", "Grease the main gear with marine grease and a brush.", "lubrication", .9),
    (602, "install", "ball bearing", 2, "bearing press", None, "Fit the two ball bearings with a bearing press.", "reassembly", .9),
    (620, "install", "drag washer", 1, None, None, "Fit the drag washer.", "reassembly", .9),
    (633, "install", "belleville washer", 4, None, None, "Fit the four belleville washers.", "reassembly", .92),
    (661, "install", "left side plate", 1, None, None, "Fit the left side plate.", "reassembly", .5),
    (669, "remove", "left side plate", 1, None, None, "Remove the left side plate.", "reassembly", .5),
    (702, "install", "right side plate", 1, None, None, "Fit the right side plate.", "reassembly", .9),
    (715, "install", "side plate screw", 5, "#1 Phillips screwdriver", None, "Run in the five side plate screws with a #1 Phillips screwdriver.", "reassembly", .93),
    (728, "tighten", "side plate screw", 5, None, None, "Tighten the five side plate screws.", "reassembly", .9),
    (745, "install", "drag lever", 1, None, None, "Fit the drag lever.", "reassembly", .9),
    (758, "install", "handle", 1, None, None, "Fit the handle.", "reassembly", .93),
    (790, "adjust", "preset knob", None, "spring scale", None, "Adjust the preset knob with a spring scale.", "adjustment", .9),
    (820, "test", "anti-reverse", None, None, None, "Test the anti-reverse.", "testing", .8),
]
UNDONE = (661, 669)

# start, kind, part, text, value, confidence
FACTS = [
    (20, "interchange", None, "The Petrel 40 takes the same service, only the spool is wider", None, .8),
    (28, "dating", None, "A riveted badge means it left the works before the printed ones", None, .7),
    (33, "measure", None, "Gear ratio", "4.2:1", .9),
    (64, "fastener", "rod clamp nut", "Two rod clamp nuts, 10 mm across the flats", None, .9),
    (120, "caution", "preset knob", "Never take the preset knob off with the lever at full, the stack is under load and it can shoot at your eye", None, .9),
    (152, "caution", "click spring", "Keep a finger on the click spring or it flies across the room", None, .9),
    (172, "fastener", "side plate screw", "Five side plate screws, the short one sits by the foot", None, .92),
    (174, "measure", "side plate screw", "The short side plate screw", "8 mm", .9),
    (282, "orientation", "belleville washer", "The four belleville washers sit in two facing pairs, cup to cup", None, .93),
    (303, "caution", "drag washer", "No grease on this drag washer, it stays dry", None, .9),
    (375, "condition", "drag washer", "Drag washer glazed on one face", None, .85),
    (397, "unsure", "pinion gear", "Not certain whether the pinion is brass or bronze", None, .7),
    (410, "obsolete", "click spring", "The click spring can't be bought any more", None, .9),
    (432, "caution", "main gear", "No flame near the alcohol, the fumes catch", None, .9),
    (508, "part_number", "ball bearing", "Spool bearing", "HB-3107", .9),
    (512, "upgrade", "ball bearing", "Stainless bearings are the better buy near salt", None, .8),
    (572, "setting", "main gear", "A film you can just see, no lumps", None, .8),
    (730, "setting", "side plate screw", "Snug and then an eighth of a turn", None, .9),
    (792, "setting", "preset knob", "Four kilos at strike", "4 kg", .9),
    (840, "caution", None, "Don't leave the lever at full in the cupboard", None, .6),
]

CHAPTERS = [
    (0, "Welcome", "introduction"), (25, "Which Petrel this is", "identification"), (58, "Handle, lever and preset off", "disassembly"),
    (165, "Side plate and drag stack out", "disassembly"), (365, "What is worn", "inspection"), (425, "Washing and degreasing", "cleaning"),
    (500, "New spool bearings", "repair"), (540, "Oil and grease", "lubrication"), (598, "Drag stack and plate back on", "reassembly"),
    (785, "Setting the drag", "adjustment"), (815, "On the bench test", "testing"), (850, "What comes next week", "closing"),
]

LEDGER = [
    ("rod clamp nut", 2, 62, None, None, "not shown going back"), ("handle screw", 1, 80, None, None, "not shown going back"),
    ("handle", 1, 92, 1, 758, "back on"), ("drag lever", 1, 131, 1, 745, "back on"), ("click spring", 1, 150, None, None, "not shown going back"),
    ("side plate screw", 5, 171, 5, 715, "back on"), ("right side plate", 1, 196, 1, 702, "back on"), ("spool", 1, 222, None, None, "not shown going back"),
    ("spacer", 1, 262, None, None, "not shown going back"), ("belleville washer", 4, 280, 3, 633, "count differs"),
    ("drag washer", 1, 301, 1, 620, "back on"), ("retaining ring", None, None, 1, 640, "not shown coming off"),
]

SENTENCES = [
    (2, 5, "Welcome to the bench, this is the Holmquay Petrel twenty five.", []),
    (171, 176, "Back out the five side plate screws with a number one driver.", []),
    (280, 285, "Four belleville washers, cup to cup, in two pairs.", [("bell of ill washers", "belleville washers", True)]),
    (303, 306, "No grease on this drag washer.", [("drug washer", "drag washer", True)]),
    (548, 552, "A drop of light oil on each bearing.", [("bearing", "bushing", False)]),
]


def at(*starts):
    return [[s, s + 2.0] for s in starts]


def rich_episode(url: str | None = URL) -> Episode:
    return Episode.model_validate({
        "schema": "sideplate/episode@1", "id": "petrel", "title": "Full service of a Holmquay Petrel 25", "url": url, "duration": 880.0,
        "reels": [{"maker": "Holmquay", "model": "Petrel 25", "role": "on_bench", "at": at(2)},
                  {"maker": "Holmquay", "model": "Petrel 40", "role": "same_service", "at": at(20)},
                  {"maker": None, "model": "Dunlin 6", "role": "mentioned", "at": at(24)}],
        "sentences": [{"id": f"s{i}", "start": a, "end": b, "text": text, "heard": text,
                       "mends": [{"from": f, "to": t, "why": "sounds alike, trade word", "confidence": .9, "applied": done} for f, t, done in mends]}
                      for i, (a, b, text, mends) in enumerate(SENTENCES, 1)],
        "chapters": [{"start": s, "title": t, "phase": p} for s, t, p in CHAPTERS],
        "parts": [{"name": "side plate screw", "names": ["side plate screw", "plate screw"], "qty": 5, "at": at(171, 715)},
                  {"name": "belleville washer", "names": ["belleville washer", "spring washer"], "qty": 4, "at": at(280, 633)},
                  {"name": "ball bearing", "names": ["ball bearing"], "qty": 2, "part_number": "HB-3107", "at": at(330, 505)}],
        "tools": [{"name": n, "names": [n], "at": at(s)} for n, s in
                  (("#1 Phillips screwdriver", 171), ("#2 Phillips screwdriver", 80), ("10 mm wrench", 62), ("tweezers", 150), ("e-clip tool", 240),
                   ("bearing press", 330), ("spring scale", 41), ("needle oiler", 548), ("toothbrush", 455))],
        "supplies": [{"name": n, "names": [n], "at": at(s), "confidence": c} for n, s, c in
                     (("isopropyl alcohol", 430, .9), ("warm soapy water", 455, .9), ("light oil", 548, .9), ("marine grease", 570, .9), ("paper towel", 470, .5))],
        "steps": [{"id": f"p{i}", "start": s, "end": s + 6.0, "do": do, "part": part, "qty": qty, "tool": tool, "supply": supply, "text": text,
                   "phase": phase, "confidence": c, "undone": s in UNDONE} for i, (s, do, part, qty, tool, supply, text, phase, c) in enumerate(STEPS, 1)],
        "facts": [{"start": s, "end": s + 3.0, "kind": k, "part": part, "text": text, "value": v, "confidence": c} for s, k, part, text, v, c in FACTS],
        "ledger": [dict(zip(("part", "qty_off", "off", "qty_on", "on", "status"), row)) for row in LEDGER],
        "questions": [
            {"comment_id": "c1", "is_question": True, "asks": ["Which way do the belleville washers go?"], "status": "answered",
             "answers": [{"episode": "petrel", "start": 282, "end": 285, "text": "In two facing pairs, cup to cup.", "confidence": .9}]},
            {"comment_id": "c2", "is_question": True, "asks": ["Where did the spacer end up?"], "status": "open"},
            {"comment_id": "c3", "is_question": True, "asks": ["What about that spacer?"], "same_as": "c2", "status": "open"},
            {"comment_id": "c4", "is_question": False}],
    })


def rich_words() -> Mended:
    words, spans, sentences = [], [], rich_episode().sentences
    for s in sentences:
        texts, first = s.text.split(), len(words)
        each = (s.end - s.start) / len(texts)
        words += [Word(text=t, start=s.start + i * each, end=s.start + (i + 1) * each) for i, t in enumerate(texts)]
        spans.append((first, len(words)))
    return Mended(sentences=sentences, words=words, spans=spans)
