"""The fields of the log."""

from __future__ import annotations

import pytest

from bubblegrade.errors import InputError
from bubblegrade.records.fields import BY_NAME, FIELDS, cells_of, every_column, field_named


def test_every_field_reads_its_own_example_and_has_columns_of_its_own() -> None:
    for field in FIELDS:
        example = field.kind.example.split("|")[0]
        assert field.cells(example)[field.name] == (example if not field.kind.choices else "open")
        assert field.words.endswith(".")
    columns = every_column()
    assert len(columns) == len(set(columns))


def test_a_quantity_keeps_the_text_as_typed_beside_its_number() -> None:
    assert cells_of({"Gauge gel": " 4 bar gauge "}) == {"gauge_gel": "4 bar gauge", "gauge_gel_kpa_gauge": 400.0}
    assert cells_of({"line": "OPEN", "remarks": "Tap it"}) == {"line": "open", "remarks": "Tap it"}


def test_nothing_typed_is_unknown() -> None:
    assert cells_of({"gauge_gel": " ", "resin": ""}) == {
        "gauge_gel": None, "gauge_gel_kpa_gauge": None, "resin": None,
    }  # fmt: skip


def test_a_name_or_value_that_is_not_known_is_said_with_the_nearest() -> None:
    with pytest.raises(InputError, match=r"gauge-gell is no field of the log: did you mean gauge_gel\?"):
        field_named("gauge-gell")
    with pytest.raises(InputError, match="line ajar is not known: write open or shut"):
        cells_of({"line": "ajar"})
    with pytest.raises(InputError, match="mould temperature 24 has no unit"):
        cells_of({"mould_temperature": "24"})
    assert BY_NAME["mould_temperature"].option == "--mould-temperature"
