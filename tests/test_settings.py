import tomllib

import pytest

from pipeline.errors import BenchError
from pipeline.settings import LARGEST_FILE, Settings, read_settings, template


def test_a_fresh_shop_toml_holds_every_default(tmp_path):
    (tmp_path / "shop.toml").write_text(template())
    assert tomllib.loads(template()) == Settings().model_dump()
    assert read_settings(tmp_path / "shop.toml") == Settings()


def test_every_key_has_a_comment_above_it():
    lines = template().splitlines()
    for above, line in zip(lines, lines[1:]):
        if " = " in line and not line.startswith("#"):
            assert above.startswith("# "), line


def test_what_is_left_out_keeps_its_default(tmp_path):
    (tmp_path / "shop.toml").write_text("[mending]\nthreshold = 0.9\n")
    settings = read_settings(tmp_path / "shop.toml")
    assert settings.mending.threshold == 0.9 and settings.hearing == Settings().hearing


def test_a_shop_of_an_earlier_version_still_opens(tmp_path):
    (tmp_path / "shop.toml").write_text(template().replace("[hearing]\n", "[hearing]\ncontext = false\n"))
    assert read_settings(tmp_path / "shop.toml") == Settings()


@pytest.mark.parametrize("text, says", [
    ("[hearing]\nmodle = 'base'", 'did you mean "model"?'),
    ("[writing.captions]\nline_lenght = 30", 'did you mean "line_length"?'),
    ("[herring]", 'did you mean "hearing"?'),
    ("[writing]\npaper = 'b5'", '"writing.paper"'),
    ("[mending]\nthreshold = 7", '"mending.threshold"'),
    ("[hearing", "not TOML"),
    ("mending = 3", '"mending"'),
    ("# " + "x" * LARGEST_FILE, "longer than"),
])
def test_a_mistake_is_one_line_that_names_it(tmp_path, text, says):
    path = tmp_path / "shop.toml"
    path.write_text(text)
    with pytest.raises(BenchError) as error:
        read_settings(path)
    assert says in str(error.value) and str(path) in str(error.value) and "\n" not in str(error.value)


def test_text_in_another_encoding_is_refused(tmp_path):
    (tmp_path / "shop.toml").write_bytes(b"# caf\xe9")
    with pytest.raises(BenchError, match="UTF-8"):
        read_settings(tmp_path / "shop.toml")
