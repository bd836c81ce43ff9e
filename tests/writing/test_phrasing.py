import pytest

from pipeline.record import Step
from pipeline.writing.phrasing import imperative


@pytest.mark.parametrize("frame, said", [
    (("remove", "side plate screw", 6, "#1 Phillips screwdriver", None), "Back out the six side plate screws with a #1 Phillips screwdriver."),
    (("install", "bolt", 13, None, None), "Run in the 13 bolts."),
    (("remove", "e-clip", 1, "tweezers", None), "Remove the e-clip with tweezers."),
    (("install", "spool", None, None, None), "Fit the spool."),
    (("lubricate", "worm shaft", None, None, "oil"), "Oil the worm shaft."),
    (("lubricate", "main gear", None, "brush", "marine grease"), "Grease the main gear with marine grease and a brush."),
    (("clean", "frame", None, None, "rag"), "Clean the frame with a rag."),
    (("degrease", "bearing", 2, None, "white vinegar"), "Degrease the two bearings with white vinegar."),
    (("tighten", "handle nut", None, "8 mm wrench", None), "Tighten the handle nut with an 8 mm wrench."),
    (("loosen", "drag knob", None, "dry hands", None), "Loosen the drag knob with dry hands."),
    (("set aside", "bail spring", None, None, None), "Set aside the bail spring."),
    (("remove", "brass", 3, None, None), "Remove the three brasses."),
])
def test_a_frame_is_said_as_one_instruction(frame, said):
    do, part, qty, tool, supply = frame
    assert imperative(Step(id="a", start=0, end=1, do=do, part=part, qty=qty, tool=tool, supply=supply, text="")) == said
