"""The order known in the trade, where the guide can promise it. Common practice, no published source."""

import pytest

from pipeline.record import Episode, LedgerLine, Part
from pipeline.writing import WritingSettings
from pipeline.writing.guide import build_guide

from .test_guide import step

# told in this order by a host who announces; done in the other by anybody
ANNOUNCED = [("handle", "handle nut"), ("handle", "handle lock screw"), ("rotor", "rotor nut"), ("side plate", "side plate screw"), ("bridge", "bridge screw"),
             ("line roller", "line roller screw"), ("bail arm", "bail arm screw"), ("handle nut", "handle nut cap"), ("star", "handle"), ("tension washer", "star"),
             ("yoke", "bridge"), ("yoke spring", "bridge"), ("one-way clutch", "rotor")]


def parts_in_order(steps, **more) -> list[str]:
    guide = build_guide(Episode(id="x", title="", duration=900, steps=steps, **more), WritingSettings())
    parts = {s.start: s.part for s in steps}
    return [parts[s.moments[0].seconds] for p in guide.procedures for s in p.steps]


@pytest.mark.parametrize("held, holder", ANNOUNCED)
def test_what_holds_a_piece_comes_off_before_it_however_it_is_announced(held, holder):
    """Common practice, no published source."""
    assert parts_in_order([step(10, "remove", held), step(14, "remove", holder), step(60, "remove", "spool shaft")]) == [holder, held, "spool shaft"]


@pytest.mark.parametrize("held, holder", ANNOUNCED)
def test_and_goes_back_after_it(held, holder):
    """Common practice, no published source."""
    steps = [step(5, "remove", "spool shaft"), step(60, "install", "spool shaft"), step(70, "install", holder), step(74, "install", held), step(99, "test", "drag")]
    assert parts_in_order(steps) == ["spool shaft", "spool shaft", held, holder, "drag"]


def test_a_bare_word_is_known_by_the_one_part_that_goes_by_it():
    steps = [step(10, "remove", "handle"), step(12, "remove", "lock screw"), step(14, "remove", "nut"), step(40, "remove", "spool")]
    parts = [Part(name="handle"), Part(name="handle lock screw", names=["lock screw"]), Part(name="handle nut", names=["nut"]), Part(name="rotor nut")]
    assert parts_in_order(steps, parts=parts) == ["lock screw", "nut", "handle", "spool"]
    parts[-1].names = ["nut"]  # two go by it: it is open which one is meant
    assert parts_in_order(steps, parts=parts) == ["lock screw", "handle", "nut", "spool"]


def test_the_screws_of_the_other_side_hold_nothing_that_is_off_already():
    told = ["side plate screw", "side plate", "side plate screw", "spool"]
    assert parts_in_order([step(10 * i, "remove", part) for i, part in enumerate(told)]) == told


@pytest.mark.parametrize("held, other", [("handle", "handle knob"), ("handle", "handle knob screw"), ("spool", "spool shaft"), ("side plate", "bridge screw"), ("gear", "gear post nut")])
def test_a_name_in_a_name_is_no_fastener_of_it(held, other):
    assert parts_in_order([step(10, "remove", held), step(14, "remove", other)]) == [held, other]


def test_a_fastener_told_much_later_is_another_matter():
    assert parts_in_order([step(10, "remove", "handle"), step(200, "remove", "handle nut")]) == ["handle", "handle nut"]


def test_the_tray_is_laid_out_in_the_order_in_which_the_guide_takes_apart():
    """Common practice, no published source."""
    episode = Episode(id="x", title="", duration=900, steps=[step(10, "remove", "handle"), step(14, "remove", "handle nut"), step(40, "remove", "spool")],
                      ledger=[LedgerLine(part=p, off=t, on=500, status="back on") for p, t in (("handle", 10), ("handle nut", 14), ("spool", 40))])
    assert [line.part for line in build_guide(episode, WritingSettings()).tray] == ["handle nut", "handle", "spool"]
