import re

import pytest

from pipeline.errors import BenchError
from pipeline.glossary import TEMPLATE, read_glossary
from pipeline.trade import Glossary, Term

FULL = """
[[maker]]
name = "Quillstone"
also = ["Quill Stone"]

[[model]]
maker = "Brackwater"
name = "Dabchick 20"
also = ["the little Dabchick"]

[[part]]
name = "Click Tongue"
also = ["clacker"]

[[supply]]
name = "blue grease"

[hear_as]
"bevel washer" = "belleville washer"
"""


def test_the_channels_words_come_through(tmp_path):
    (tmp_path / "glossary.toml").write_text(FULL)
    assert read_glossary(tmp_path / "glossary.toml") == Glossary(
        makers=("Quillstone", "Brackwater"), models=(("Brackwater", "Dabchick 20"),),
        terms=(Term("click tongue", "part", ("clacker",)), Term("blue grease", "supply")),
        hear_as={"Quill Stone": "Quillstone", "the little Dabchick": "Dabchick 20", "bevel washer": "belleville washer"})


def test_the_fresh_file_is_empty_and_its_examples_are_right(tmp_path):
    path = tmp_path / "glossary.toml"
    path.write_text(TEMPLATE)
    assert read_glossary(path) == Glossary()
    path.write_text(re.sub(r"^# (?=\[\[|\w+ = |\")", "", TEMPLATE, flags=re.M))
    filled = read_glossary(path)
    assert filled.models and len(filled.terms) == 3 and "bevel washer" in filled.hear_as


@pytest.mark.parametrize("text, says", [
    ('[[part]]\nnam = "x"', 'did you mean "name"?'),
    ('[[part]]\nname = ""', '"part 1.name"'),
    ('[[part]]\nname = "a\\u0007b"', '"part 1.name"'),
    ('[[tool]]\nname = "' + "x" * 81 + '"', '"tool 1.name"'),
    ('[[prat]]\nname = "x"', 'did you mean "part"?'),
    ("[hear_as]\nx = 3", '"hear_as.x"'),
    ('[[supply]]\nname = "x"\n' * 2001, '"supply"'),
])
def test_a_mistake_is_one_line_that_names_it(tmp_path, text, says):
    path = tmp_path / "glossary.toml"
    path.write_text(text)
    with pytest.raises(BenchError) as error:
        read_glossary(path)
    assert says in str(error.value) and "\n" not in str(error.value)
