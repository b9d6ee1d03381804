"""The marks a hose drawing is made of: tubes with their contents, valves, nuts, arrows, words.

Every mark is a path, a circle or a text with whole-number coordinates; how it looks is the style
sheet's business. Nothing is told by color alone: a valve's bar lies in line with the hose when
open and across it when closed, contents have their own hatching and a word.
"""

from collections.abc import Sequence
from typing import Any, Literal

from lowside.core.handbook.procedure import LOOSE, STARTED, TIGHT, ValveSetting
from lowside.core.hoses.contents import AIR_AND_VAPOR, LIQUID, VAPOR, Filling

Anchor = Literal["start", "middle", "end"]
"""Which part of a text is at its place."""

DOWN = (0, 1)
UP = (0, -1)
LEFT = (-1, 0)
RIGHT = (1, 0)


def path(kind: str, d: str) -> dict[str, Any]:
    """A drawn line; `kind` is its class."""
    return {"shape": "path", "kind": kind, "d": d}


def circle(kind: str, at: tuple[int, int], radius: int) -> dict[str, Any]:
    return {"shape": "circle", "kind": kind, "x": str(at[0]), "y": str(at[1]), "r": str(radius)}


def text(kind: str, at: tuple[int, int], words: str, anchor: Anchor = "start") -> dict[str, Any]:
    """A word in the picture."""
    return {
        "shape": "text",
        "kind": kind,
        "x": str(at[0]),
        "y": str(at[1]),
        "anchor": anchor,
        "words": words,
    }


def box(kind: str, at: tuple[int, int], width: int, height: int) -> dict[str, Any]:
    return path(
        kind,
        "M" + _xy(at) + "h" + str(width) + "v" + str(height) + "h" + str(-width) + "z",
    )


def tube(color: str, points: Sequence[tuple[int, int]], contents: Filling) -> list[dict[str, Any]]:
    """A hose along points, each straight above or beside the one before, and what is in it."""
    line = polyline(points)
    found = [
        path("tube tube-" + color, line),
        path("tube-inside", line),
    ]
    marks = ""
    for i in range(1, len(points)):
        marks = marks + filling(points[i - 1], points[i], contents)
    if marks != "":
        found.append(path("filling filling-" + filling_name(contents), marks))
    return found


def polyline(points: Sequence[tuple[int, int]]) -> str:
    """Path data through points."""
    d = "M" + _xy(points[0])
    for point in points[1:]:
        d = d + "L" + _xy(point)
    return d


def filling_name(contents: Filling) -> Literal["liquid", "vapor", "mixed", "none"]:
    """Class of the hatching."""
    if contents == LIQUID:
        return "liquid"
    if contents == VAPOR:
        return "vapor"
    return "mixed" if contents == AIR_AND_VAPOR else "none"


def filling(start: tuple[int, int], end: tuple[int, int], contents: Filling) -> str:
    """Hatching along one straight piece: dense slanted strokes for liquid, dots for vapor, dots
    and bars for vapor with air, nothing for air."""
    name = filling_name(contents)
    if name == "none":
        return ""
    gap = 5 if name == "liquid" else 9
    length = abs(end[0] - start[0]) + abs(end[1] - start[1])
    step = _direction(start, end)
    marks = ""
    along = gap
    count = 0
    while along < length:
        x = start[0] + step[0] * along
        y = start[1] + step[1] * along
        if name == "liquid":
            marks = marks + "M" + _xy((x - 4, y + 3)) + "L" + _xy((x + 4, y - 3))
        elif name == "mixed" and count % 2 == 1:
            # a bar straight across the hose
            marks = marks + "M" + _xy((x - 4 * step[1], y - 4 * step[0]))
            marks = marks + "L" + _xy((x + 4 * step[1], y + 4 * step[0]))
        else:
            side = 2 if count % 2 == 0 else -2
            marks = marks + "M" + _xy((x + side * step[1], y + side * step[0])) + "h0"
        along = along + gap
        count = count + 1
    return marks


def valve(
    at: tuple[int, int], upright: bool, is_open: bool, radius: int, turned: bool
) -> list[dict[str, Any]]:
    """A valve on a hose that runs `upright` or level: its bar is in line when open."""
    found: list[dict[str, Any]] = []
    if turned:
        found.append(circle("turn-ring", at, radius + 6))
    found.append(circle("valve valve-open" if is_open else "valve valve-closed", at, radius))
    reach = radius - 3
    if upright == is_open:
        line = [(at[0], at[1] - reach), (at[0], at[1] + reach)]
    else:
        line = [(at[0] - reach, at[1]), (at[0] + reach, at[1])]
    found.append(path("valve-bar", polyline(line)))
    return found


def nut(
    at: tuple[int, int], along: tuple[int, int], setting: ValveSetting, turned: bool
) -> list[dict[str, Any]]:
    """A nut on a hose that leaves its joint in direction `along`: closed up when tight, a gap with
    strokes of escaping gas when loose, drawn well away when off (see `nut_reach`)."""
    found: list[dict[str, Any]] = []
    reach = nut_reach(setting)
    middle = (at[0] + along[0] * reach, at[1] + along[1] * reach)
    if turned:
        found.append(circle("turn-ring", middle, 15))
    wide, deep = (20, 8) if along[0] == 0 else (8, 20)
    found.append(
        box(
            "nut nut-tight" if setting == TIGHT else "nut",
            (middle[0] - wide // 2, middle[1] - deep // 2),
            wide,
            deep,
        )
    )
    return found


def nut_reach(setting: ValveSetting) -> int:
    """How far from its joint a nut is drawn."""
    if setting == TIGHT:
        return 0
    if setting == LOOSE:
        return 7
    return 13 if setting == STARTED else 22


def core(at: tuple[int, int]) -> dict[str, Any]:
    """The closed core of a port: a bar across its mouth."""
    return path("core", "M" + _xy((at[0] - 9, at[1])) + "h18")


def puff(at: tuple[int, int], level: bool) -> dict[str, Any]:
    """Something hissing out to both sides of a joint on a hose that runs `level` or upright."""
    x, y = at
    marks = ""
    for side in (-1, 1):
        for spread in (-4, 0, 4):
            near = (spread, side * 13)
            far = (2 * spread, side * 24)
            if not level:
                near = (near[1], near[0])
                far = (far[1], far[0])
            marks = marks + "M" + _xy((x + near[0], y + near[1]))
            marks = marks + "L" + _xy((x + far[0], y + far[1]))
    return path("puff", marks)


def arrow(at: tuple[int, int], along: tuple[int, int]) -> dict[str, Any]:
    """A head on the hose that points the way something flows."""
    x, y = at
    dx, dy = along
    tip = (x + 11 * dx, y + 11 * dy)
    left = (x - 7 * dx - 9 * dy, y - 7 * dy + 9 * dx)
    right = (x - 7 * dx + 9 * dy, y - 7 * dy - 9 * dx)
    return path("flow", "M" + _xy(tip) + "L" + _xy(left) + "L" + _xy(right) + "z")


def _direction(start: tuple[int, int], end: tuple[int, int]) -> tuple[int, int]:
    if end[0] != start[0]:
        return RIGHT if end[0] > start[0] else LEFT
    return DOWN if end[1] > start[1] else UP


def _xy(point: tuple[int, int]) -> str:
    return str(point[0]) + " " + str(point[1])
