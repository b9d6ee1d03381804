"""What kind of machine this is and how it runs today: asked before any gauge goes on.

Published rules on adding differ by these answers, so nothing is added without them. An answer that
was not given is `""` and never counts as yes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Mode = Literal["cooling", "heating"]

COOLING: Mode = "cooling"
HEATING: Mode = "heating"

CompressorStage = Literal["full", "part", "inverter", "bypass"]
"""How the compressor runs now: at its only or its full stage, at a lower stage, at a speed that its
control chooses, or with its hot gas or liquid on another way."""

FULL_STAGE: CompressorStage = "full"
PART_STAGE: CompressorStage = "part"
INVERTER: CompressorStage = "inverter"
BYPASS: CompressorStage = "bypass"

MachineKind = Literal["package", "split", "ductless", "multi_split"]

PACKAGE: MachineKind = "package"
SPLIT: MachineKind = "split"
DUCTLESS: MachineKind = "ductless"
MULTI_SPLIT: MachineKind = "multi_split"

Held = Literal["yes", "no", "papers_low", ""]
"""Whether the manufacturer's charge or test mode holds it at full stage; or whether this unit's
instructions ask for charging at the low stage."""

IS_HELD: Held = "yes"
NOT_HELD: Held = "no"
PAPERS_LOW: Held = "papers_low"
HELD_UNANSWERED: Held = ""

Port = Literal["large_line", "suction_port", ""]
"""Where the blue hose goes on a heat pump in heating."""

LARGE_LINE: Port = "large_line"
SUCTION_PORT: Port = "suction_port"
PORT_UNANSWERED: Port = ""

HELD_LASTS_S = 3600.0
"""A manufacturer's charge mode ends by itself after at most 60 min. READ: NS22HM, 508311G01 p. 19
(another manufacturer's test mode also ends at 60 min)."""


@dataclass(frozen=True)
class Machine:
    """The answers. `held` is asked for a part stage, an inverter, a ductless or a multi-split unit;
    `port` in heating."""

    mode: Mode
    stage: CompressorStage
    kind: MachineKind
    held: Held = HELD_UNANSWERED
    port: Port = PORT_UNANSWERED


def machine_from(texts: Mapping[str, str]) -> Machine | None:
    """The machine a form or an event names; `None` while one of the three questions is open."""
    mode = _mode_from(texts.get("mode", ""))
    stage = _stage_from(texts.get("compressor", ""))
    kind = _kind_from(texts.get("kind", ""))
    if mode is None or stage is None or kind is None:
        return None
    return Machine(
        mode, stage, kind, _held_from(texts.get("held", "")), _port_from(texts.get("port", ""))
    )


def asks_for_held(stage: CompressorStage, kind: MachineKind) -> bool:
    """Whether readings mean nothing unless the unit is held at full stage."""
    return stage in (PART_STAGE, INVERTER) or kind in (DUCTLESS, MULTI_SPLIT)


def judged_by_readings(machine: Machine) -> bool:
    """Whether this machine, as it runs now, may be judged by pressures and temperatures.

    READ: only the control's charging mode is approved for a variable-speed split (18-BC89D1-1L-EN
    p. 20); high stage (25TPB7 p. 10, HPXA16 tables 9 and 10); low stage for another manufacturer's
    two-stage unit (manualslib 796559 p. 7). They conflict, so its instructions are asked, and
    without an answer it may not.
    """
    if machine.stage == BYPASS:
        return False
    if not asks_for_held(machine.stage, machine.kind):
        return True
    if machine.held == IS_HELD:
        return True
    low_by_papers = machine.held == PAPERS_LOW and machine.stage == PART_STAGE
    return low_by_papers and machine.kind in (PACKAGE, SPLIT)


def _mode_from(text: str) -> Mode | None:
    for mode in (COOLING, HEATING):
        if mode == text:
            return mode
    return None


def _stage_from(text: str) -> CompressorStage | None:
    for stage in (FULL_STAGE, PART_STAGE, INVERTER, BYPASS):
        if stage == text:
            return stage
    return None


def _kind_from(text: str) -> MachineKind | None:
    for kind in (PACKAGE, SPLIT, DUCTLESS, MULTI_SPLIT):
        if kind == text:
            return kind
    return None


def _held_from(text: str) -> Held:
    for held in (IS_HELD, NOT_HELD, PAPERS_LOW):
        if held == text:
            return held
    return HELD_UNANSWERED


def _port_from(text: str) -> Port:
    for port in (LARGE_LINE, SUCTION_PORT):
        if port == text:
            return port
    return PORT_UNANSWERED
