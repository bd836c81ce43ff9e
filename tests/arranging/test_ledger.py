"""The ledger from steps: what came off and what went back. Steps are invented."""

from hypothesis import given
from hypothesis import strategies as st

from pipeline.arranging.ledger import keep_ledger
from pipeline.record import Step
from pipeline.trade import load_trade

TRADE = load_trade()
PARTS = ["spool", "bridge", "handle nut", "line roller", "drum", "preset knob", "side plate screw"]


def steps(*rows) -> list[Step]:
    made = []
    for n, (do, part, *rest) in enumerate(rows):
        made.append(Step(id=f"st{n}", start=n * 10.0, end=n * 10.0 + 3, do=do, part=part, qty=rest[0] if rest else None, text=f"{do} {part}",
                         sentences=[f"s{n}"], confidence=0.9))
    return made


def ledger(*rows):
    return [(line.part, line.qty_off, line.qty_on, line.status) for line in keep_ledger(steps(*rows), TRADE)]


def test_off_and_back_on():
    assert ledger(("remove", "spool"), ("install", "spool")) == [("spool", None, None, "back on")]


def test_what_never_went_back_is_shown():
    assert ledger(("remove", "spacer"), ("remove", "spool"), ("install", "spool"))[0] == ("spacer", None, None, "not shown going back")


def test_what_never_came_off_is_shown_where_it_is_sure_that_it_went_on():
    unsure = steps(("install", "handle"))[0].model_copy(update={"confidence": 0.85})
    assert keep_ledger([unsure], TRADE) == []
    assert ledger(("install", "handle"))[0][3] == "not shown coming off"


def test_counts_that_differ():
    assert ledger(("remove", "tension washer", 3), ("install", "tension washer", 2)) == [("tension washer", 3, 2, "count differs")]


def test_a_longer_name_and_a_shorter_are_one_part():
    assert ledger(("remove", "right side plate"), ("install", "side plate")) == [("right side plate", None, None, "back on")]


def test_one_name_in_the_other_is_one_part():
    assert ledger(("remove", "spacer"), ("install", "spacer sleeve")) == [("spacer sleeve", None, None, "back on")]


def test_undone_steps_count_for_nothing():
    rows = steps(("remove", "spool"), ("install", "spool"))
    rows[1].undone = True
    assert keep_ledger(rows, TRADE)[0].status == "not shown going back"


def test_new_for_old_told_as_one_is_one_line():
    assert ledger(("replace", "pinion bearing")) == [("pinion bearing", None, None, "back on")]


def fitted_new(*rows, sure=0.9):
    made = steps(*rows)
    for step in made:
        if step.part.startswith("new "):
            step.part, step.new, step.confidence = step.part.removeprefix("new "), True, sure
    return [(line.part, line.off, line.on, line.status) for line in keep_ledger(made, TRADE)]


def test_a_new_piece_stands_beside_the_old_one():
    assert fitted_new(("remove", "pawl"), ("install", "new pawl")) == [("pawl", 0, None, "replaced"), ("pawl", None, 10, "new")]


def test_a_new_piece_that_comes_off_again_has_its_own_way_back():
    assert fitted_new(("remove", "pawl"), ("install", "new pawl"), ("remove", "pawl"), ("install", "pawl")) == [
        ("pawl", 0, None, "replaced"), ("pawl", None, 10, "new"), ("pawl", 20, 30, "back on")]


def test_a_new_piece_under_a_shorter_name_replaces_the_one_that_came_off():
    assert fitted_new(("remove", "line roller bearing"), ("install", "new bearing"))[0] == ("line roller bearing", 0, None, "replaced")


def test_where_new_is_a_guess_old_and_new_stay_one():
    assert fitted_new(("remove", "pawl"), ("install", "new pawl"), sure=0.5) == [("pawl", 0, 10, "back on")]


def test_a_part_tried_later_must_be_in():
    line, = keep_ledger(steps(("remove", "handle"), ("test", "handle")), TRADE)
    assert line.status == "back on" and line.confidence < 0.9


def test_a_reel_that_is_tried_together_again_has_in_it_what_it_does_not_turn_without():
    """Common practice, no published source: nobody tries a reel without its handle; a small spring may well lie in the tray."""
    rows = steps(("remove", "handle"), ("remove", "spring"), ("remove", "spool"), ("remove", "bridge"), ("install", "bridge"), ("install", "spool"), ("test", "drag"))
    told = {line.part: line for line in keep_ledger(rows, TRADE)}
    assert told["handle"].status == "back on" and told["handle"].on == rows[-1].start and told["handle"].sentences == ["s0", "s6"]
    assert told["handle"].confidence < told["spool"].confidence
    assert told["spring"].status == "not shown going back"


def test_what_is_tried_while_most_of_the_reel_is_apart_says_nothing():
    assert [line[3] for line in ledger(("remove", "handle"), ("remove", "bridge"), ("remove", "spool"), ("install", "spool"), ("test", "spool bearing"))].count("not shown going back") == 2


@given(st.permutations(PARTS), st.permutations(PARTS), st.lists(st.integers(1, 8), min_size=len(PARTS), max_size=len(PARTS)))
def test_what_comes_off_and_goes_back_in_like_counts_never_shows_as_missing(off, on, counts):
    count = dict(zip(PARTS, counts))
    rows = [("remove", p, count[p]) for p in off] + [("install", p, count[p]) for p in on]
    lines = ledger(*rows)
    assert {status for *_, status in lines} == {"back on"} and [part for part, *_ in lines] == list(off)


@given(st.lists(st.tuples(st.sampled_from(["remove", "install", "test", "clean"]), st.sampled_from(PARTS)), max_size=20), st.data())
def test_how_the_talk_is_cut_into_sentences_does_not_matter(rows, data):
    apart = steps(*rows)
    together = [s.model_copy(update={"sentences": [f"s{data.draw(st.integers(0, 2))}"]}) for s in apart]

    def plain(lines):
        return [(x.part, x.off, x.on, x.status, x.qty_off, x.qty_on) for x in lines]

    assert plain(keep_ledger(apart, TRADE)) == plain(keep_ledger(together, TRADE))


@given(st.lists(st.tuples(st.sampled_from(["remove", "install"]), st.sampled_from(PARTS)), max_size=20))
def test_every_part_that_moved_has_a_line(rows):
    assert {line.part for line in keep_ledger(steps(*rows), TRADE)} == {part for _, part in rows}


def test_one_piece_under_two_names_is_one_line():
    assert [line.status for line in keep_ledger(steps(("remove", "palm screw"), ("install", "plate screw")), TRADE)] == ["back on"]


def test_a_part_washed_and_fitted_was_off():
    (line,) = keep_ledger(steps(("degrease", "drive gear"), ("install", "drive gear")), TRADE)
    assert (line.off, line.on, line.status) == (0.0, 10.0, "back on")
