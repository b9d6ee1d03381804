"""Rows written and read by the quicker library say the same as by Python's own."""

import json
from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st

from lowside.store.quick_json import decoded, encoded

texts = st.text(st.characters(codec=None), max_size=8)
numbers = st.integers(-(2**63), 2**64 - 1) | st.floats(allow_nan=False, allow_infinity=False)
values = st.recursive(
    st.none() | st.booleans() | numbers | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=12,
)


@dataclass(frozen=True)
class Part:
    later: object
    earlier: object = ()


def by_python(value: object) -> str:
    return json.dumps(
        value, ensure_ascii=False, separators=(",", ":"), sort_keys=True, default=vars
    )


@given(values)
def test_a_value_is_kept_exactly(value: object) -> None:
    kept = encoded(value)
    assert repr(decoded(kept)) == repr(json.loads(kept)) == repr(json.loads(by_python(value)))


@given(values, values)
def test_records_within_records_have_their_names_sorted(one: object, other: object) -> None:
    kept = encoded((Part(one), [Part(other, Part(one, "é\u2028"))]))
    assert repr(json.loads(kept)) == repr(
        [
            {"earlier": [], "later": json.loads(by_python(one))},
            [
                {
                    "earlier": {"earlier": "é\u2028", "later": json.loads(by_python(one))},
                    "later": json.loads(by_python(other)),
                }
            ],
        ]
    )


@given(st.floats(0.0001, 1e15) | st.integers() | texts)
def test_figures_and_texts_of_a_session_have_the_same_letters(value: object) -> None:
    assert encoded(Part(value)) == by_python(Part(value))


def test_what_only_python_writes_is_read_too() -> None:
    assert repr(decoded('[NaN,-Infinity,"\\ud800"]')) == "[nan, -inf, '\\ud800']"
