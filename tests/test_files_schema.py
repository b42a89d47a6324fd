"""The published JSON Schemas accept what the models accept, short forms included."""

from __future__ import annotations

import copy
from typing import Any

import jsonschema
import pytest
from pydantic import BaseModel, TypeAdapter, ValidationError
from test_files_write import PLAIN, RICH

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.files.nodes import parse
from cablewalk.files.schema import schemas
from cablewalk.files.shorts import SHORTS
from cablewalk.files.write import baseline_text

PROCEDURE = """\
cablewalk: 1
procedure: PH1
start_pet: -0:30
gap_min: 5
roles: {lead: EV1}
minutes: {any: 2, mate: [1, 2, 3.5], walk: {best_min: 1, likely_min: 2, worst_min: 3}}
speed: {free_m_per_min: 6, loaded_m_per_min: 3, source: "common practice, no source"}
establishes: DATA
planned_outages: {HEAT: swap}
steps:
  - {id: s1, by: lead, do: {mate: {P1: J1}}}
  - id: s2
    by: [lead, EV2]
    cautions: sharp edge
    go: MCC
    lead_min: {s1: 2}
    do:
      - release: C1
      - {fasten: {C1: 3}, minutes: 4}
      - walk: BENCH
      - walk: {to: BENCH, carrying: true}
      - route: {W1.main: T1 T2}
      - verify: HEAT
      - verify: {J1: mated}
      - {found: {J1: bare}, reason: seen}
      - {wait: 3, by: EV2}
  - mark: get_aheads
get_aheads:
  - {id: g1, priority: 1, steps: [{id: s3}]}
"""


def _text(text: str) -> Any:
    data = parse(text.encode(), 0).data
    assert data is not None
    return data


def _native(text: str) -> Any:
    """Return what an editor's YAML 1.2 reader sees: numbers and truth values as such."""

    def typed(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: typed(entry) for key, entry in value.items()}
        if isinstance(value, list):
            return [typed(entry) for entry in value]
        if value in ("true", "false"):
            return value == "true"
        for kind in (int, float):
            try:
                return kind(value)
            except (TypeError, ValueError):
                continue
        return value

    return typed(_text(text))


def test_the_schemas_are_schemas_with_names() -> None:
    both = schemas()
    assert list(both) == ["baseline", "procedure"]
    for kind, schema in both.items():
        jsonschema.Draft202012Validator.check_schema(schema)
        assert schema["$id"] == f"urn:cablewalk:schema:{kind}:1"
        assert kind in schema["title"]
    assert schemas() == both


@pytest.mark.parametrize("read", [_text, _native])
@pytest.mark.parametrize(
    ("kind", "text"), [("baseline", RICH), ("baseline", PLAIN), ("procedure", PROCEDURE)]
)
def test_documents_pass(kind: str, text: str, read: Any) -> None:
    model: type[BaseModel] = Baseline if kind == "baseline" else Procedure
    made = model.model_validate(_text(text))
    validator = jsonschema.Draft202012Validator(schemas()[kind])
    data = read(text)
    assert [e.message for e in validator.iter_errors(data)] == []
    if isinstance(made, Baseline):
        long_form = made.model_dump(mode="json", exclude_defaults=True)
        assert [e.message for e in validator.iter_errors(long_form)] == []
        assert list(validator.iter_errors(_text(baseline_text(made)))) == []


FAULTS: list[tuple[str, tuple[str | int, ...], Any]] = [
    ("baseline", ("places", "HATCH", "lable"), "x"),
    ("baseline", ("places", "HATCH", "halves", "H0"), {"gender": "pin"}),
    ("baseline", ("places", "HATCH", "halves", "H0"), {"interface": "p", "gender": "pine"}),
    ("baseline", ("places", "HATCH", "covers", "C1", "fasteners"), "many"),
    ("baseline", ("paths", "T1", "length_m"), "x"),
    ("baseline", ("paths", "T1", "length_m"), -1),
    ("baseline", ("services", "TLM"), {"kind": "data"}),
    ("baseline", ("services", "TLM"), "data"),
    ("baseline", ("now", "on"), {"S1": "x"}),
    ("baseline", ("now", "mated"), ["P1"]),
    ("baseline", ("baseline",), "a b"),
    ("baseline", ("cablewalk",), 2),
    ("procedure", ("steps",), "s1"),
    ("procedure", ("steps", 0, "do", "matte"), "x"),
    ("procedure", ("minutes", "mate"), [1, 2]),
]


@pytest.mark.parametrize(("kind", "path", "value"), FAULTS)
def test_what_the_models_refuse_the_schema_refuses(
    kind: str, path: tuple[str | int, ...], value: Any
) -> None:
    text = RICH if kind == "baseline" else PROCEDURE
    data = copy.deepcopy(_text(text))
    place = data
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    model: type[BaseModel] = Baseline if kind == "baseline" else Procedure
    with pytest.raises(ValidationError):
        model.model_validate(data)
    assert list(jsonschema.Draft202012Validator(schemas()[kind]).iter_errors(data))


SAMPLES: dict[str, list[Any]] = {
    "Interface": [4, "4", ["A", "B"]],
    "Half": ["pwr4 pin A.b"],
    "Unit": ["load"],
    "Cap": ["H1"],
    "Person": ["outside"],
    "Switch": [None],
    "Bag": [None],
    "Harness": [["P1 a pin", "P2 a pin"]],
    "Leg": ["a pin"],
    "Line": ["A.x to B.y"],
    "Estimate": [3, "3", [1, 2, 3]],
    "Walk": ["BENCH"],
}


def test_every_short_form_in_the_table_is_one_the_model_takes() -> None:
    assert {model.__name__ for model in SHORTS} == set(SAMPLES)
    both = schemas()
    for model, short in SHORTS.items():
        for sample in SAMPLES[model.__name__]:
            assert any(
                jsonschema.Draft202012Validator(form).is_valid(sample) for form in short.schemas
            )
            if model.__name__ != "Walk":  # its reader stands at the field
                TypeAdapter(model).validate_python(sample)
            for schema in both.values():
                if model.__name__ in schema["$defs"]:
                    whole = {"$ref": f"#/$defs/{model.__name__}", "$defs": schema["$defs"]}
                    assert jsonschema.Draft202012Validator(whole).is_valid(sample)
