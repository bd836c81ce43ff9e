import csv
import io
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import BenchError
from pipeline.questions.comments import Comment, load_comments


def read(tmp_path, content: str | bytes) -> list[Comment]:
    path = tmp_path / "comments"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return load_comments(path)


def test_a_list_and_a_table_say_the_same(tmp_path):
    wanted = [Comment(id="1", text="Which grease,\nand how much?", author="Jo", likes=3, from_host=True), Comment(id="2", text="=1+1")]
    assert read(tmp_path, json.dumps([c.model_dump() for c in wanted])) == wanted
    assert read(tmp_path, '\ufeffID;Comment;Author;Likes;From host\n1;"Which grease,\nand how much?";Jo;3;true\n2;=1+1;;;\n') == wanted


def test_a_comment_without_an_id_gets_the_same_one_each_time(tmp_path):
    first, again = (read(tmp_path, text) for text in ("text,author\nWhy?,Jo\nWhy?,Jo\nWhy?,Al\n", '[{"text": "Why?", "author": "Jo"}, {"text": "Why?", "author": "Al"}]'))
    assert first == again and len({c.id for c in first}) == 2


@pytest.mark.parametrize("content, says", [
    ("[", "not JSON"), ("[" * 100_000, "not JSON"), ('{"a": 1}', "not a list"), ("[3]", "comment 1"), ('[{"id": "a", "text": "x"}, {"id": "b"}]', "comment 2: text"),
    ('[{"id": "a", "text": "x", "likes": "many"}]', "likes"), ("a,b\n1,2\n", "called text"), (b"\xff\xfe\x00", "UTF-8"), ('[{"id": "a", "text": "' + "x" * 20_001 + '"}]', "text"),
])
def test_a_mistake_is_one_line_that_names_it(tmp_path, content, says):
    with pytest.raises(BenchError) as error:
        read(tmp_path, content)
    assert says in str(error.value) and "\n" not in str(error.value)


letters = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(letters.filter(str.strip), letters), max_size=6, unique_by=lambda row: row[0].strip()))
def test_any_table_comes_through(tmp_path_factory, rows):
    out = io.StringIO()
    csv.writer(out).writerows([("id", "text"), *rows])
    assert [(c.id, c.text) for c in read(tmp_path_factory.mktemp("c"), out.getvalue())] == [(id.strip(), text) for id, text in rows]


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_in_one_line(tmp_path_factory, raw):
    try:
        read(tmp_path_factory.mktemp("c"), raw)
    except BenchError as error:
        assert "\n" not in str(error)
