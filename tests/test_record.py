import json

from tests.conftest import ROOT

from pipeline.record import Episode

# python -c "import json; from pipeline.record import Episode as E; print(json.dumps(E.model_json_schema(), indent=1))" > pipeline/episode.schema.json


def test_the_schema_that_is_shipped_is_that_of_the_types():
    shipped = json.loads((ROOT / "pipeline" / "episode.schema.json").read_text())
    assert shipped == Episode.model_json_schema()
