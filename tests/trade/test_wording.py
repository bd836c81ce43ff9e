import pytest

from pipeline.trade.wording import imperative


@pytest.mark.parametrize("frame, said", [
    (("remove", "side plate screw", 6, "#1 Phillips screwdriver", None), "Back out the six side plate screws with a #1 Phillips screwdriver."),
    (("install", "bolt", 13, None, None), "Run in the 13 bolts."),
    (("remove", "e-clip", 1, "tweezers", None), "Remove the e-clip with tweezers."),
    (("install", "spool", None, None, None), "Fit the spool."),
    (("lubricate", "worm shaft", None, None, "oil"), "Oil the worm shaft."),
    (("lubricate", "pinion bearing", None, None, "reel oil"), "Put reel oil on the pinion bearing."),
    (("lubricate", "main gear", None, "brush", "marine grease"), "Put marine grease on the main gear with a brush."),
    (("clean", "frame", None, None, "rag"), "Clean the frame with a rag."),
    (("clean", "frame", None, "toothbrush", "warm soapy water"), "Clean the frame with warm soapy water and a toothbrush."),
    (("degrease", "bearing", 2, None, "white vinegar"), "Degrease the two bearings with white vinegar."),
    (("tighten", "handle nut", None, "8 mm wrench", None), "Tighten the handle nut with an 8 mm wrench."),
    (("loosen", "drag knob", None, "dry hands", None), "Loosen the drag knob with dry hands."),
    (("set aside", "bail spring", None, None, None), "Set the bail spring aside."),
    (("align", "pinion gear", None, None, None), "Line up the pinion gear."),
    (("remove", "brass", 3, None, None), "Remove the three brasses."),
    (("remove", "", None, None, None), "Remove it."),
])
def test_a_frame_is_said_as_one_instruction(frame, said):
    do, part, qty, tool, supply = frame
    assert imperative(do, part, qty, tool, supply) == said


def test_several_of_which_nobody_said_how_many_are_not_one():
    assert imperative("remove", "drag washer", many=True) == "Remove the drag washers."


def test_a_new_piece_is_said_to_be_new():
    assert imperative("install", "line roller bearing", new=True) == "Fit the new line roller bearing."
    assert imperative("install", "drag washer", qty=3, new=True) == "Fit the three new drag washers."
