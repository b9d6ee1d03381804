"""A unit of 3 tons and 6 lb that was charged past its target, through the real forms."""

from expert import Bench
from strategies import PROCEDURE, READING, Book
from walked import cylinder, did

from lowside.core.handbook.handbook import Handbook
from lowside.practice.technician import CHECKED

SHORT = READING
"""2.3 °F of subcooling where 10 °F is right."""
OVER = SHORT | {"liquid_line": "91.5 °F", "suction_line": "52 °F"}
"""14.8 °F of it, and 9.6 °F of superheat."""
RIGHT = SHORT | {"liquid_line": "96 °F", "suction_line": "55 °F"}


def measured(
    handbook: Handbook, baseline: dict[str, str], gross: str = "27 lb", on_scale: str = "27.5 lb"
) -> Bench:
    """All done up to the decision."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    did(bench, "job", site="S", unit_label="U", technician="T", elevation="0 ft")
    did(
        bench,
        "unit",
        refrigerant="R-410A",
        metering="txv",
        coil="tube_fin",
        receiver="no",
        capacity="3 ton",
        nameplate_charge="6 lb",
        line_length="15 ft",
        line_included="15 ft",
        line_adder="0.6 oz/ft",
    )
    did(bench, "machine", mode="cooling", compressor="full", kind="split")
    did(bench, "target", method="subcooling", maker_subcooling="10 °F")
    did(bench, "preconditions", **CHECKED)
    cylinder(bench, "C", "R-410A", gross)
    for step in handbook.procedures[PROCEDURE].steps:
        if step.stage == "Connect":
            step_done(bench.book, step.id)
    did(bench, "tare", scale_mode="gross", scale_reading=on_scale, scale_resolution="0.25 oz")
    bench.book.wait(900)
    did(bench, "reading", **baseline)
    return bench


def charging(handbook: Handbook, gross: str = "27 lb", on_scale: str = "27.5 lb") -> Bench:
    """Read short, and to be charged."""
    bench = measured(handbook, SHORT, gross, on_scale)
    did(bench, "decide", decision="add")
    return bench


def step_done(book: Book, step: str) -> None:
    book.wait(60)
    book.write("step.done", {"step": step})


def shot(bench: Bench, seconds: float, after: str) -> None:
    did(bench, "shot_open")
    bench.book.wait(seconds)
    did(bench, "shot_close")
    did(bench, "shot_weigh", scale_after=after)


def read_twice(bench: Bench, seen: dict[str, str]) -> None:
    bench.book.wait(1000)
    did(bench, "reading", **seen)
    bench.book.wait(240)
    did(bench, "reading", **seen)


def overcharged(handbook: Handbook) -> Bench:
    """An ounce went in, and two settled readings show too much."""
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    read_twice(bench, OVER)
    return bench
