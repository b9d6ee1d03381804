"""Every number the JavaScript core makes is the Python core's, to the last bit."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_up_sessions import ODD_NUMBERS, ODD_TEXTS
from phone_core import Core, bits, exactly, share

from lowside.core.handbook import saturation
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.psychrometrics import atmosphere_pressure, wet_bulb
from lowside.core.handbook.saturation import PropertyTable
from lowside.core.numbers import arithmetic, units
from lowside.core.pages import running, wording
from lowside.core.session import events
from lowside.core.session.events import Event, Moment

PRESSURES = 10_000
BATCH = 500

AT_PRESSURE = (
    saturation.dew_temperature,
    saturation.bubble_temperature,
    saturation.liquid_density,
    saturation.vapor_density,
)
AT_TEMPERATURE = (saturation.dew_pressure, saturation.bubble_pressure)


def calls(core: Core, file: str, name: str, batch: list[list[Any]]) -> Any:
    return core.ask("core", {"ask": "calls", "file": file, "name": name, "calls": batch})


def spread(lowest: float, highest: float, count: int) -> list[float]:
    """`count` values from a little below to a little above, no two grid points among them."""
    margin = (highest - lowest) * 0.001
    step = (highest - lowest + 2.0 * margin) / (count - 1)
    return [lowest, highest, *(lowest - margin + step * i for i in range(count - 2))]


def test_every_table_at_many_pressures(core: Core, handbook: Handbook) -> None:
    assert len(handbook.tables) >= 29
    for name, table in handbook.tables.items():
        pressures = spread(table.lowest_pa, table.highest_pa, share(core, PRESSURES))
        for i, function in enumerate(AT_PRESSURE):
            # Dew and bubble decide verdicts; the others share their code, so a tenth will do.
            some = pressures if i < 2 else pressures[i::10]
            _same(core, name, table, function, some)
        dew = table.columns["dew_k"].values
        for function in AT_TEMPERATURE:
            _same(core, name, table, function, spread(dew[0], dew[-1], BATCH))


def _same(core: Core, name: str, table: PropertyTable, function: Any, at: list[float]) -> None:
    asked = {"ask": "evaluate", "table": name, "name": function.__name__}
    answers = core.ask("core", asked | {"bits": [bits(value) for value in at]})
    assert answers == exactly([function(table, value) for value in at]), (name, function)


TYPED = st.text(alphabet="0123456789.,+-−  \u202fex", max_size=18) | st.text(max_size=8)
TYPED |= st.sampled_from((*ODD_NUMBERS, *ODD_TEXTS))
TYPED |= st.decimals(-9999, 9999, places=3).map(str)


@given(batch=st.lists(TYPED, max_size=BATCH))
def test_numbers_are_read_alike(batch: list[str], core: Core) -> None:
    answers = calls(core, "numbers/arithmetic", "parse_decimal", [[text] for text in batch])
    assert answers == exactly([arithmetic.parse_decimal(text) for text in batch])


@given(batch=st.lists(st.tuples(st.floats(-9e6, 9e6), st.integers(0, 6)), max_size=BATCH))
def test_numbers_are_written_alike(batch: list[tuple[float, int]], core: Core) -> None:
    asked = [[{"bits": bits(value)}, decimals] for value, decimals in batch]
    answers = calls(core, "numbers/arithmetic", "format_decimal", asked)
    assert answers == exactly([arithmetic.format_decimal(v, d) for v, d in batch])


@given(data=st.data())
def test_halves_and_edges_are_written_alike(data: st.DataObject, core: Core) -> None:
    decimals = data.draw(st.integers(0, 6))
    whole = data.draw(st.lists(st.integers(-(10**7), 10**7), max_size=50))
    values = [(2 * n + 1) / (2 * 10**decimals) for n in whole] + [0.0, -0.0]
    asked = [[{"bits": bits(value)}, decimals] for value in values]
    answers = calls(core, "numbers/arithmetic", "format_decimal", asked)
    assert answers == exactly([arithmetic.format_decimal(value, decimals) for value in values])


QUANTITY_AND_UNIT = [
    (quantity, unit) for quantity, scales in units.QUANTITIES.items() for unit in scales
]


@given(
    batch=st.lists(
        st.tuples(st.sampled_from([*QUANTITY_AND_UNIT, ("mass", "stone")]), TYPED, TYPED),
        max_size=100,
    )
)
def test_quantities_are_read_alike(
    batch: list[tuple[tuple[str, str], str, str]], core: Core
) -> None:
    rows = [[quantity, text, unit, ounces] for (quantity, unit), text, ounces in batch]
    answers = calls(core, "numbers/units", "parse", rows)
    assert answers == exactly([units.parse(*row) for row in rows])


@given(
    batch=st.lists(
        st.tuples(st.sampled_from(QUANTITY_AND_UNIT), st.floats(-1e7, 1e7)), max_size=100
    )
)
def test_quantities_are_written_alike(
    batch: list[tuple[tuple[str, str], float]], core: Core
) -> None:
    asked = [[quantity, {"bits": bits(si)}, unit] for (quantity, unit), si in batch]
    answers = calls(core, "numbers/units", "label", asked)
    assert answers == exactly([units.label(quantity, si, unit) for (quantity, unit), si in batch])


def test_the_atmosphere_is_the_same(core: Core) -> None:
    elevations = spread(-500.0, 4500.0, PRESSURES)
    asked = [[{"bits": bits(value)}] for value in elevations]
    answers = calls(core, "handbook/psychrometrics", "atmosphere_pressure", asked)
    assert answers == exactly([atmosphere_pressure(value) for value in elevations])


@given(
    batch=st.lists(
        st.tuples(st.floats(270.0, 340.0), st.floats(-0.1, 1.1), st.floats(50e3, 115e3)),
        max_size=50,
    )
)
def test_the_wet_bulb_is_the_same(
    batch: list[tuple[float, float, float]], core: Core, handbook: Handbook
) -> None:
    asked = [
        [{"handbook": "psychrometrics"}, *({"bits": bits(value)} for value in row)] for row in batch
    ]
    answers = calls(core, "handbook/psychrometrics", "wet_bulb", asked)
    assert answers == exactly([wet_bulb(handbook.psychrometrics, *row) for row in batch])


MOMENTS = st.tuples(
    st.sampled_from(("a", "b", "")),
    st.integers(0, 10**12),
    st.integers(-(10**13), 10**14),
    st.integers(-840, 840),
)


@pytest.mark.parametrize("name", ["clock_time", "clock_seconds", "day", "day_and_time"])
@given(batch=st.lists(MOMENTS, max_size=50))
def test_times_are_written_alike(
    name: str, batch: list[tuple[str, int, int, int]], core: Core
) -> None:
    answers = calls(core, "pages/wording", name, [[{"moment": list(row)}] for row in batch])
    function = getattr(wording, name)
    assert answers == exactly([function(Moment(*row)) for row in batch])


@given(batch=st.lists(st.floats(-1e6, 1e9), max_size=50))
def test_running_clocks_are_written_alike(batch: list[float], core: Core) -> None:
    at = [[{"bits": bits(value)}] for value in batch]
    assert calls(core, "pages/running", "timer", at) == exactly(list(map(running.timer, batch)))


@pytest.mark.parametrize("name", ["clock_face", "is_over"])
@given(batch=st.lists(st.tuples(st.floats(0, 1e5), st.floats(0, 1e5)), max_size=50))
def test_countdowns_are_alike(name: str, batch: list[tuple[float, float]], core: Core) -> None:
    pairs = [*batch, (0.0, 0.0), (300.0, 300.0), (299.5, 300.0)]
    asked = [[{"bits": bits(one)}, {"bits": bits(other)}] for one, other in pairs]
    function = getattr(running, name)
    assert calls(core, "pages/running", name, asked) == exactly([function(*row) for row in pairs])


@given(batch=st.lists(st.floats(-1e6, 1e9), max_size=50))
def test_durations_are_written_alike(batch: list[float], core: Core) -> None:
    at = [[{"bits": bits(value)}] for value in batch]
    assert calls(core, "pages/wording", "duration", at) == exactly(
        list(map(wording.duration, batch))
    )


@given(first=MOMENTS, second=MOMENTS, gained=st.sampled_from((0, -5000, 1999, 5000, 3_600_000)))
def test_elapsed_time_is_the_same(
    first: tuple[str, int, int, int], second: tuple[str, int, int, int], gained: int, core: Core
) -> None:
    asked = [[{"moment": [*first, 0, 0, gained]}, {"moment": list(second)}]]
    answers = calls(core, "session/events", "elapsed", asked)
    start = Moment(*first, gained=gained)
    assert answers == exactly([events.elapsed(start, Moment(*second))])


@given(
    last_ms=st.integers(0, 10**14),
    count=st.integers(0, 999_999) | st.just(999_999),
    at=st.integers(0, 10**14),
)
def test_the_next_clock_value_is_the_same(last_ms: int, count: int, at: int, core: Core) -> None:
    last = events.hlc(last_ms, count)
    answers = calls(core, "session/events", "next_hlc", [[last, at], ["", at]])
    assert answers == exactly([events.next_hlc(last, at), events.next_hlc("", at)])


DEVICE_NAMES = st.text(alphabet="ab\ue000\uff5e\U0001f527", max_size=3)
"""The wrench comes last by code point and before the two ahead of it by UTF-16 unit."""


@given(
    names=st.lists(
        st.tuples(st.sampled_from(("1", "2", "10")), DEVICE_NAMES, st.integers(1, 3)),
        max_size=12,
    )
)
def test_the_order_of_events_is_the_same(names: list[tuple[str, str, int]], core: Core) -> None:
    made = [
        Event("s", dev, seq, f"e{i}", hlc, 0, 0, 0, "", "k")
        for i, (hlc, dev, seq) in enumerate(names)
    ]
    sent_events = [{**vars(event), "data": []} for event in made]
    answers = core.ask("core", {"ask": "order", "events": sent_events})
    assert answers == [event.eid for event in events.in_order(made)]
