"""The hoses as a picture: unit above, manifold in the middle, cylinder on its scale below.

Everything comes from the hose model's state, so the picture cannot disagree with the warnings.
"""

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from lowside.core.handbook.procedure import (
    BOUNDARIES,
    CYLINDER,
    INVERTED,
    LIQUID_LINE,
    LOOSE,
    OFF,
    OPEN,
    OUTSIDE,
    RECOVERY,
    STARTED,
    SUCTION,
    TIGHT,
    Boundary,
    Procedure,
    Valve,
    ValveSetting,
)
from lowside.core.hoses import drawing_parts as parts
from lowside.core.hoses.contents import (
    AIR,
    AIR_AND_VAPOR,
    EMPTY,
    LIQUID,
    VAPOR,
    Conditions,
    Filling,
    Hoses,
    filling_of,
    gives_liquid,
)
from lowside.core.hoses.drawing_parts import DOWN, RIGHT, UP
from lowside.core.hoses.flow import Flow
from lowside.core.hoses.network import Link, links
from lowside.core.hoses.words import SETTING_WORDS, and_line, in_words, moves

WIDTH = 360
HEIGHT = 500

SUCTION_X = 92
LIQUID_X = 268
MIDDLE_X = 180
PORT_Y = 58
END_VALVE_Y = 96
BODY_TOP = 198
BODY_BOTTOM = 240
BODY_Y = 219
YELLOW_END_Y = 318
CYLINDER_X = 84
CYLINDER_TOP = 372
CYLINDER_BOTTOM = 448
SCALE_Y = 478


NONE_TURNED: dict[str, str] = {}


def draw(  # noqa: PLR0913, PLR0917 - what is in a picture, and three words on it
    procedure: Procedure,
    conditions: Conditions,
    hoses: Hoses,
    flows: Sequence[Flow] = (),
    turned: Mapping[str, str] = NONE_TURNED,
    caption: str = "",
    running: bool = True,
) -> dict[str, Any]:
    """The picture of one moment.

    Args:
        flows: what moves now; arrows and puffs show it.
        turned: the valves to turn now by id, drawn with a ring, and the numbers beside it.
        caption: shown above.
        running: whether the unit runs; one that is off is drawn with that word.

    Returns
        `caption`, `width`, `height`, `marks` (each with `shape`: `path` with `d`, `circle` with
        `x`, `y`, `r`, `text` with `x`, `y`, `anchor`, `words`; all with a `kind` for the style
        sheet) and `lines`, the picture in words; `text` is the same as one line.
    """
    picture = _Picture(procedure, conditions, hoses, flows, turned)
    picture.unit("unit" if running else "unit, off")
    if picture.has("red"):
        picture.hose("red", LIQUID_X, "red_nut", LIQUID_LINE)
    picture.hose("blue", SUCTION_X, "blue_nut", SUCTION)
    picture.cylinder()
    picture.yellow()
    picture.body()
    lines = in_words(procedure, conditions, hoses, flows)
    return {
        "caption": caption,
        "width": str(WIDTH),
        "height": str(HEIGHT),
        "marks": picture.marks,
        "lines": lines,
        "text": " ".join(lines),
    }


CONTENTS_LINES: dict[Filling, tuple[str, ...]] = {
    AIR: ("air",),
    AIR_AND_VAPOR: ("vapor", "and air"),
    VAPOR: ("vapor",),
    LIQUID: ("liquid",),
    EMPTY: ("empty",),
}
"""Contents as they fit beside a hose."""


class _Picture:
    """The marks so far, and where everything is."""

    def __init__(
        self,
        procedure: Procedure,
        conditions: Conditions,
        hoses: Hoses,
        flows: Sequence[Flow],
        turned: Mapping[str, str],
    ) -> None:
        self.conditions = conditions
        self.hoses = hoses
        self.settings: Mapping[str, ValveSetting] = hoses.settings
        self.turned = turned
        self.marks: list[dict[str, Any]] = []
        self.valves: dict[str, Valve] = {valve.id: valve for valve in procedure.valves}
        self.volumes = [volume.id for volume in procedure.volumes]
        self.colors = {volume.id: volume.colour for volume in procedure.volumes}
        self.liquid_port = procedure.liquid_port
        self.ways = links(procedure, hoses.settings)
        self.leaks: list[Link] = [way for way in self.ways if way.b == OUTSIDE]
        self.flows = [flow for flow in flows if moves(flow)]

    def has(self, name: str) -> bool:
        return name in self.volumes or name in self.valves

    def word(self, name: str) -> Filling:
        return filling_of(self.hoses.contents[name])

    def add(self, marks: Sequence[dict[str, Any]]) -> None:
        self.marks.extend(marks)

    def unit(self, name: str) -> None:
        """The unit and its ports; one that no hose goes onto has the unit's own gauge."""
        self.marks.append(parts.box("unit", (24, 6), 312, 34))
        self.marks.append(parts.text("name", (MIDDLE_X, 28), name, "middle"))
        self.marks.append(parts.text("small", (SUCTION_X, 28), "suction", "middle"))
        self.marks.append(parts.text("small", (LIQUID_X, 28), "liquid line", "middle"))
        self.line("port", (SUCTION_X, 40), (SUCTION_X, 54))
        if not self.liquid_port:
            self.marks.append(parts.text("small", (LIQUID_X, 60), "no port", "middle"))
            return
        self.line("port", (LIQUID_X, 40), (LIQUID_X, 54))
        if not self.has("red"):
            self.marks.append(parts.text("small", (LIQUID_X, 70), "own gauge", "middle"))

    def line(self, kind: str, start: tuple[int, int], end: tuple[int, int]) -> None:
        self.marks.append(parts.path(kind, parts.polyline([start, end])))

    def hose(self, name: str, x: int, nut_id: str, boundary: Boundary) -> None:
        """A hose from a port down to its chamber of the manifold."""
        setting = self.settings[nut_id]
        elsewhere = self.settings.get(name + "_on_suction", OFF)
        at_port = [gate for gate in self.valves[nut_id].b_gates if self.has(gate)]
        joint = PORT_Y + 24 if at_port else PORT_Y
        top = joint + parts.nut_reach(setting) + 3
        points: list[tuple[int, int]] = [(x, top), (x, BODY_TOP)]
        if elsewhere != OFF:
            setting = elsewhere
            boundary = SUCTION
            nut_id = name + "_on_suction"
            corner = PORT_Y + 22
            points = [(SUCTION_X, PORT_Y + 3), (SUCTION_X, corner), (x, corner), (x, BODY_TOP)]
        recovering = self.settings.get(name + "_on_recovery", OFF)
        if recovering != OFF:
            setting = recovering
            boundary = RECOVERY
            nut_id = name + "_on_recovery"
            joint = PORT_Y + 23
            points = [(x, joint + 3), (x, BODY_TOP)]
            self.marks.append(parts.core((x, PORT_Y - 4)))
        color = name if self.colors[name] != "" else "body"
        self.add(parts.tube(color, points, self.word(name)))
        at = (SUCTION_X if elsewhere != OFF else x, joint)
        names = [nut_id, name + "_on_suction", name + "_on_recovery"]
        turned = any(one in self.turned for one in names)
        self.add(parts.nut(at, DOWN, setting, turned))
        if recovering != OFF:
            self.marks.append(parts.box("body", (x - 62, PORT_Y - 1), 124, 17))
            self.marks.append(parts.text("small", (x, PORT_Y + 12), "recovery machine", "middle"))
        aside = 48 if recovering != OFF else (-72 if at_port else 0)
        beside = (at[0] + aside, at[1] + 5)
        self.number(names, beside)
        self.core(nut_id, (at[0], PORT_Y - 4), setting, -1 if at[0] > MIDDLE_X else 1)
        side = -1 if x < MIDDLE_X else 1
        anchor: parts.Anchor = "end" if side < 0 else "start"
        gates = self.valves[nut_id].a_gates
        if setting != TIGHT:
            y = top - 7 if gates else top + 12
            self.marks.append(
                parts.text("stand", (x + side * 26, y), SETTING_WORDS[setting], anchor)
            )
        self.leak(nut_id, (at[0], joint + parts.nut_reach(setting)))
        for gate in gates:
            self.valve(gate, (x, END_VALVE_Y), True, 12, (x + side * 24, END_VALVE_Y + 7))
        for gate in at_port:
            self.valve(gate, (x, PORT_Y + 7), True, 12, (x + side * 24, PORT_Y + 9))
        self.contents_words(name, (x + side * 16, 146), anchor)
        heading = self.heading(name, boundary)
        if heading != 0:
            self.marks.append(parts.arrow((x, 128), DOWN if heading > 0 else UP))
        body_nut = name + "_body_nut"
        if body_nut in self.valves:
            self.body_nut(body_nut, (x, BODY_TOP - 5), UP, (x + side * 30, BODY_TOP - 8), anchor)

    def core(self, nut_id: str, at: tuple[int, int], setting: ValveSetting, inner: int) -> None:
        """The port's core: a bar across it while closed, and a word where that is in question."""
        if not self.valves[nut_id].core or self.valves[nut_id].b == RECOVERY:
            return
        if setting not in (TIGHT, LOOSE):
            self.marks.append(parts.core(at))
        if setting in (LOOSE, STARTED):
            words = "core pressed" if setting == LOOSE else "core closed"
            anchor: parts.Anchor = "start" if inner > 0 else "end"
            where = (at[0] + inner * 26, at[1] + 24)
            self.marks.append(parts.text("small", where, words, anchor))

    def yellow(self) -> None:
        """The hose from the middle of the manifold to the cylinder."""
        inverted = self.settings["cylinder_position"] == INVERTED
        y = CYLINDER_BOTTOM + 14 if inverted else CYLINDER_TOP - 14
        top = 286 if self.has("charge") else BODY_BOTTOM + 2
        setting = self.settings["yellow_nut"]
        end_x = CYLINDER_X + 24 + parts.nut_reach(setting)
        points: list[tuple[int, int]] = [(MIDDLE_X, top), (MIDDLE_X, y), (end_x + 3, y)]
        on_suction = self.settings.get("yellow_on_suction", OFF) != OFF
        if on_suction:
            points = [
                (MIDDLE_X, top),
                (MIDDLE_X, 310),
                (18, 310),
                (18, PORT_Y + 6),
                (SUCTION_X, PORT_Y + 6),
                (SUCTION_X, PORT_Y + 3),
            ]
        self.add(parts.tube("yellow", points, self.word("yellow")))
        if on_suction:
            self.add(
                parts.nut((SUCTION_X, PORT_Y), DOWN, TIGHT, "yellow_on_suction" in self.turned)
            )
            self.number(["yellow_on_suction"], (SUCTION_X, PORT_Y + 14))
        else:
            turned = "yellow_nut" in self.turned or "yellow_on_suction" in self.turned
            self.add(parts.nut((CYLINDER_X + 24, y), RIGHT, setting, turned))
            self.number(["yellow_nut", "yellow_on_suction"], (end_x, y))
            if setting != TIGHT:
                where = (end_x + 2, y - 28)
                self.marks.append(parts.text("stand", where, SETTING_WORDS[setting], "middle"))
            self.leak("yellow_nut", (CYLINDER_X + 24 + parts.nut_reach(setting), y), True)
        if self.has("yellow_end"):
            self.valve("yellow_end", (MIDDLE_X, YELLOW_END_Y), True, 12, (202, YELLOW_END_Y + 5))
        self.contents_words("yellow", (198, 348 if self.has("yellow_end") else 322), "start")
        heading = self.heading("yellow", SUCTION if on_suction else CYLINDER)
        if heading != 0:
            if on_suction:
                self.marks.append(parts.arrow((18, 190), DOWN if heading > 0 else UP))
            else:
                self.marks.append(parts.arrow((MIDDLE_X, 298), UP if heading > 0 else DOWN))
        if self.has("charge"):
            self.line("port", (MIDDLE_X, BODY_BOTTOM), (MIDDLE_X, 284))
            self.valve("charge", (MIDDLE_X, 260), True, 12, (202, 282), "charge ")
        if self.has("yellow_body_nut"):
            at = (MIDDLE_X, top + 3)
            self.body_nut("yellow_body_nut", at, DOWN, (150, top + 26), "end")

    def body(self) -> None:
        """The manifold: chambers, valves, and the vacuum port if it has one."""
        red = self.has("red")
        right = 322 if red else 214
        self.marks.append(parts.box("body", (38, BODY_TOP), right - 38, BODY_BOTTOM - BODY_TOP))
        self.chamber("blue" if self.colors["blue"] != "" else "body", 52, 122, "blue")
        if self.has("middle"):
            self.chamber("body", 154, 206, "middle")
        else:
            self.chamber("yellow", 154, 206, "yellow")
        if red:
            self.chamber("red", 238, 308, "red")
            self.valve("high", (222, BODY_Y), False, 15, (248, BODY_BOTTOM + 17), "high ", "middle")
        title = "low " if red else "valve "
        label = (120 if red else 110, BODY_BOTTOM + 17)
        self.valve("low", (138, BODY_Y), False, 15, label, title, "middle")
        if self.has("vacuum"):
            self.line("port", (MIDDLE_X, BODY_TOP), (MIDDLE_X, 140))
            self.valve("vacuum", (MIDDLE_X, 172), True, 11, (MIDDLE_X, 119), "vacuum ", "middle")
            cap = self.settings["vacuum_cap"]
            self.add(parts.nut((MIDDLE_X, 146), UP, cap, "vacuum_cap" in self.turned))
            self.number(["vacuum_cap"], (MIDDLE_X, 146))
            if cap != TIGHT:
                self.marks.append(
                    parts.text("stand", (MIDDLE_X, 103), "cap " + SETTING_WORDS[cap], "middle")
                )
            self.leak("vacuum_cap", (MIDDLE_X, 140))

    def chamber(self, color: str, left: int, right: int, name: str) -> None:
        self.add(parts.tube(color, [(left, BODY_Y), (right, BODY_Y)], self.word(name)))

    def vessel(self, inverted: bool) -> bool:
        """What the yellow hose leads to where that is no charging cylinder; whether it is so."""
        if self.has("cylinder_position"):
            return False
        title = self.valves["cylinder_valve"].title
        self.marks.append(parts.box("body", (CYLINDER_X - 74, CYLINDER_TOP + 6), 190, 40))
        where = (CYLINDER_X + 21, CYLINDER_TOP + 31)
        self.marks.append(parts.text("name", where, title, "middle"))
        self.vessel_valve(inverted)
        return True

    def vessel_valve(self, inverted: bool) -> None:
        x = CYLINDER_X
        y = CYLINDER_BOTTOM + 14 if inverted else CYLINDER_TOP - 14
        self.line("port", (x, y), (x + 20, y))
        label = (x - 23, y + 7 if inverted else y + 3)
        self.valve("cylinder_valve", (x, y), False, 12, label, "", "end")

    def cylinder(self) -> None:
        """The cylinder on the scale, with its liquid lying where it lies."""
        inverted = self.settings["cylinder_position"] == INVERTED
        if self.vessel(inverted):
            return
        x = CYLINDER_X
        height = CYLINDER_BOTTOM - CYLINDER_TOP
        self.marks.append(parts.box("cylinder", (x - 32, CYLINDER_TOP), 64, height))
        level = CYLINDER_TOP + 34
        marks = ""
        for row in range(level, CYLINDER_BOTTOM - 2, 7):
            marks = marks + "M" + str(x - 26) + " " + str(row) + "h52"
        self.marks.append(parts.path("filling filling-pool", marks))
        stand = SETTING_WORDS[self.settings["cylinder_position"]]
        turned = "cylinder_position" in self.turned
        kind = "turn-word" if turned else "stand"
        phase = LIQUID if gives_liquid(self.conditions, self.settings) else VAPOR
        if inverted:
            self.marks.append(parts.text("name", (x, CYLINDER_TOP - 28), "cylinder", "middle"))
            self.marks.append(parts.text(kind, (x, CYLINDER_TOP - 11), stand, "middle"))
            self.marks.append(parts.text("small", (198, 440), phase + " at its valve"))
        else:
            self.marks.append(parts.text("name", (x + 44, CYLINDER_TOP + 26), "cylinder"))
            self.marks.append(parts.text(kind, (x + 44, CYLINDER_TOP + 44), stand))
            at = (x + 44, CYLINDER_TOP + 62)
            self.marks.append(parts.text("small", at, phase + " at its valve"))
        self.number(["cylinder_position"], (x - 25, CYLINDER_TOP + 34))
        if turned:
            self.marks.append(parts.box("turn-ring", (x - 38, CYLINDER_TOP - 6), 76, height + 12))
        self.marks.append(parts.box("scale", (x - 66, SCALE_Y), 132, 12))
        self.marks.append(parts.text("small", (x + 74, SCALE_Y + 11), "scale", "start"))
        legs = "M" + str(x - 62) + " " + str(SCALE_Y) + "V" + str(CYLINDER_BOTTOM)
        legs = legs + "M" + str(x + 62) + " " + str(SCALE_Y) + "V" + str(CYLINDER_BOTTOM)
        legs = legs + "M" + str(x - 62) + " " + str(CYLINDER_BOTTOM) + "h30"
        legs = legs + "M" + str(x + 32) + " " + str(CYLINDER_BOTTOM) + "h30"
        self.marks.append(parts.path("stand-legs", legs))
        self.vessel_valve(inverted)

    def valve(  # noqa: PLR0913, PLR0917 - a mark and its word, each with its place
        self,
        name: str,
        at: tuple[int, int],
        upright: bool,
        radius: int,
        label: tuple[int, int],
        title: str = "",
        anchor: parts.Anchor | Literal[""] = "",
    ) -> None:
        """A valve with its word; the word is strong when it is to be turned."""
        is_open = self.settings[name] == OPEN
        turned = name in self.turned
        self.add(parts.valve(at, upright, is_open, radius, turned))
        self.number([name], (at[0] - 6, at[1] - 6) if name == "cylinder_valve" else at)
        if anchor == "":
            anchor = "start" if label[0] > at[0] else "end"
        words = title + SETTING_WORDS[self.settings[name]]
        self.marks.append(parts.text("turn-word" if turned else "stand", label, words, anchor))

    def number(self, names: list[str], at: tuple[int, int]) -> None:
        """In which line of the step this is turned, beside its ring; one turned twice has two."""
        words = ""
        for name in names:
            words = and_line(words, self.turned.get(name, ""))
        if words != "":
            place = (at[0] + 22, at[1] - 12)
            self.marks.append(parts.text("turn-number", place, words, "start"))

    def body_nut(
        self,
        name: str,
        at: tuple[int, int],
        along: tuple[int, int],
        label: tuple[int, int],
        anchor: parts.Anchor,
    ) -> None:
        """A nut at the manifold; drawn small unless loose."""
        setting = self.settings[name]
        self.add(parts.nut(at, along, setting, name in self.turned))
        self.number([name], at if along == UP else (at[0], at[1] + 20))
        if setting != TIGHT:
            self.marks.append(parts.text("stand", label, SETTING_WORDS[setting], anchor))
        self.leak(name, (at[0], at[1] + along[1] * parts.nut_reach(setting)))

    def leak(self, nut_id: str, at: tuple[int, int], level: bool = False) -> None:
        """Strokes of escaping gas, when something is escaping there now."""
        for way in self.leaks:
            escaping = [f for f in self.flows if f.end == OUTSIDE and f.start == way.a]
            if way.valve == nut_id and escaping:
                self.marks.append(parts.puff(at, level))
                return

    def contents_words(self, name: str, at: tuple[int, int], anchor: parts.Anchor) -> None:
        """The hose's color and contents beside it."""
        title = name if self.colors[name] != "" else "tee"
        self.marks.append(parts.text("name", at, title, anchor))
        y = at[1] + 16
        for line in CONTENTS_LINES[self.word(name)]:
            self.marks.append(parts.text("inside", (at[0], y), line, anchor))
            y = y + 15

    def heading(self, name: str, boundary: Boundary) -> int:
        """1: flows toward the manifold, -1: away from it, 0: does not flow."""
        for flow in self.flows:
            if flow.end == OUTSIDE and name == flow.start:
                for way in self.leaks:
                    if way.a == name and self.valves[way.valve].b in BOUNDARIES:
                        return -1
                return 1
        joined = [way for way in self.ways if way.a == name and way.b == boundary]
        for flow in self.flows:
            if joined and flow.end == boundary and flow.start != boundary:
                return -1
            if joined and flow.start == boundary:
                return 1
            if flow.start == name and flow.end != boundary:
                return 1
            if flow.end == name and flow.start != boundary:
                return -1
        return 0
