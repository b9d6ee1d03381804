"""The time to judge one reading, as a share of one CoolProp call, and the time of the advice.

The measure of judging is one saturation call (pressure and quality) for R-410A as a mixture.
Without property tables a reading would cost at least two such calls. The figures are medians of
many runs.

The measure of the advice is the fold that every page needs before it: of the same session, with
each reading in it judged. A ratio over its limit is marked and makes the command fail.
"""

import sys
from collections.abc import Callable, Iterator
from statistics import median
from time import perf_counter, process_time

from CoolProp import PQ_INPUTS, AbstractState

from lowside.core.advice.advice import advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA
from lowside.core.handbook.system import BY_CHART, BY_SUBCOOLING, FIXED, TXV, Reading, System
from lowside.core.judging.charge import assess
from lowside.core.numbers.units import PSI_PA
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import State
from lowside.demo import play, scenarios
from lowside.library import load_handbook

PRESSURE_PA = 130.0 * PSI_PA + SEA_LEVEL_PA
RUNS = 2000
YARDSTICK_RUNS = 200
ADVICE_RUNS = 25

ADVICE_BY_FOLD = 2.25
"""What this ratio was on 2026-11-30, when rules were last added to the advice."""
SLOWER = 1.2
"""So many times as long it may take without anybody having decided so."""


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) * 5.0 / 9.0


def seconds(work: Callable[[], object], runs: int) -> float:
    """Median time of one run [s]."""
    times = []
    for _ in range(runs):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return median(times)


def advised(handbook: Handbook) -> Iterator[tuple[list[Event], State]]:
    """The demo sessions after each entry at which the advice works out what is missing."""
    for scenario in scenarios():
        events = play(scenario, handbook)
        for count in range(1, len(events) + 1):
            state = fold(events[:count], handbook)
            now = state.entries[-1].moment
            if state.readings and advise(state, now).remaining_kg is not None:
                yield events[:count], state


def advice_by_fold(handbook: Handbook) -> float:
    """Time of the advice as a share of the fold's. In turns, the shortest of many runs of each, by
    the processor's clock: a busy machine slows single runs."""
    advice = folding = 0.0
    for events, state in advised(handbook):
        times: list[tuple[float, float]] = []
        for _ in range(ADVICE_RUNS):
            start = process_time()
            advise(state, state.entries[-1].moment)
            between = process_time()
            fold(events, handbook)
            times.append((between - start, process_time() - between))
        advice += min(one for one, _ in times)
        folding += min(other for _, other in times)
    return advice / folding


def main() -> int:
    handbook = load_handbook()
    mixture = AbstractState("HEOS", "R32&R125")
    mixture.set_mass_fractions([0.5, 0.5])
    yardstick = seconds(lambda: mixture.update(PQ_INPUTS, PRESSURE_PA, 1.0), YARDSTICK_RUNS)
    whole = Reading(
        suction_pressure_pa=PRESSURE_PA,
        suction_line_k=kelvin(57.0),
        liquid_pressure_pa=370.0 * PSI_PA + SEA_LEVEL_PA,
        liquid_line_k=kelvin(102.0),
        outdoor_dry_bulb_k=kelvin(95.0),
        return_dry_bulb_k=kelvin(78.0),
        return_wet_bulb_k=kelvin(66.0),
        supply_dry_bulb_k=kelvin(60.0),
    )
    by_humidity = Reading(
        suction_pressure_pa=whole.suction_pressure_pa,
        suction_line_k=whole.suction_line_k,
        outdoor_dry_bulb_k=whole.outdoor_dry_bulb_k,
        return_dry_bulb_k=whole.return_dry_bulb_k,
        return_humidity=0.5,
    )
    valve = System("R-410A", TXV, BY_SUBCOOLING, SEA_LEVEL_PA, maker_subcooling_k=5.0)
    fixed = System("R-410A", FIXED, BY_CHART, SEA_LEVEL_PA)
    print("judging one reading, as a share of one CoolProp PQ call for R-410A (R-32 with R-125):")
    for name, system, reading in (
        ("by subcooling, everything read", valve, whole),
        ("by chart, wet bulb measured", fixed, whole),
        ("by chart, wet bulb from humidity", fixed, by_humidity),
    ):
        took = seconds(lambda s=system, r=reading: assess(s, r, handbook), RUNS)  # type: ignore[misc]
        print(f"  {name:34} {took / yardstick:.4f}")
    ratio = advice_by_fold(handbook)
    most = SLOWER * ADVICE_BY_FOLD
    print("advising, as a share of folding and judging the same session:")
    mark = "" if ratio <= most else "   OVER BUDGET"
    print(f"  {'demo sessions':34} {ratio:.2f} of {most:.2f}{mark}")
    return 0 if ratio <= most else 1


if __name__ == "__main__":
    sys.exit(main())
