"""The trade's words as data: no name stands for two things, and what needs other names has them."""

from collections import defaultdict
from itertools import combinations

import pytest

from pipeline.reading.terms import key
from pipeline.trade import Glossary, Term, data, load_trade

KINDS = {"conventional star drag", "lever drag", "low-profile baitcaster", "round baitcaster", "spinning", "spincast", "fly", "centrepin", "electric"}
PROPER = ("Phillips", "JIS")  # names that keep their capital


def test_no_name_stands_for_two_things_on_one_kind_of_reel():
    owners = defaultdict(list)
    for term in load_trade().terms:
        for name in dict.fromkeys(map(key, term.names)):
            owners[name].append(term)
    shared = {name: terms for name, terms in owners.items() if len(terms) > 1}
    assert {name: [t.name for t in terms] for name, terms in shared.items()
            if any(not (a.reels and b.reels) or set(a.reels) & set(b.reels) for a, b in combinations(terms, 2))} == {}


def test_no_name_is_given_twice():
    assert [t.name for t in load_trade().terms if len(set(map(str.lower, t.names))) < len(t.names)] == []


def test_names_are_plain_lower_case():
    for term in load_trade().terms:
        for name in term.names:
            for proper in PROPER:
                name = name.replace(proper, "")
            assert name == name.lower() and name.strip() == " ".join(name.split()) and len(name) <= 40, term


@pytest.mark.parametrize("group, least", [("part", 200), ("tool", 80), ("supply", 60)])
def test_how_much_the_trade_knows(group, least):
    assert len(load_trade().group(group)) >= least


def test_every_kind_of_reel_has_parts_of_its_own():
    named = {kind for term in load_trade().terms for kind in term.reels}
    assert named == KINDS == set(data("parts")["called"])


def test_parts_belong_to_an_assembly():
    assert [t.name for t in load_trade().group("part") if not t.assembly] == []


def test_plain_meanings_are_terms_of_that_kind_of_reel():
    terms = {t.name: t for t in load_trade().terms}
    for kind, heads in data("parts")["plain"].items():
        for head, name in heads.items():
            assert not terms[name].reels or kind in terms[name].reels, (kind, head, name)


@pytest.mark.parametrize("one, other", [
    ("side plate", "side cover"), ("main gear", "drive gear"), ("roller clutch", "one-way bearing"), ("anti-reverse dog", "anti-reverse pawl"),
    ("click tongue", "check pawl"), ("worm shaft", "level wind worm"), ("wrench", "spanner"), ("hex key", "allen key"), ("vise", "vice"),
    ("mineral spirits", "white spirit"), ("cotton swab", "cotton bud"), ("paper towel", "kitchen roll"), ("flashlight", "torch light"),
])
def test_both_sides_of_the_sea(one, other):
    assert any({one, other} <= set(t.names) for t in load_trade().terms)


def test_the_glossary_adds_terms():
    own = Term("belly ring", "part", ("tummy ring",))
    assert own in load_trade(Glossary(terms=(own,))).group("part")
