import json

from tests.conftest import ROOT

from pipeline.record import Episode

# python -c "import json; from pipeline.record import Episode as E; print(json.dumps(E.model_json_schema(), indent=1))" > pipeline/episode.schema.json


def test_the_schema_that_is_shipped_is_that_of_the_types():
    shipped = json.loads((ROOT / "pipeline" / "episode.schema.json").read_text())
    assert shipped == Episode.model_json_schema()


def test_a_record_meets_the_shipped_schema_by_an_independent_validator():
    """Validated by jsonschema against JSON Schema draft 2020-12, the dialect that pydantic writes."""
    import jsonschema

    from pipeline.chain import record_of
    from pipeline.hearing.words import Heard, Word
    from pipeline.trade import load_trade

    said = "Hello and welcome. This is the Osmar Dunnock 30. The handle nut comes off with a ten millimetre wrench. Now one drop of oil on the bearing."
    words = [Word(text=w, start=i * 0.5, end=i * 0.5 + 0.4) for i, w in enumerate(said.split())]
    record = record_of(Heard(words=words, breaks=[0], duration=20, source="captions"), load_trade(), id="dunnock", title="Servicing an Osmar Dunnock 30")
    assert record.steps and record.parts
    jsonschema.Draft202012Validator(json.loads((ROOT / "pipeline" / "episode.schema.json").read_text())).validate(record.model_dump(by_alias=True, mode="json"))
