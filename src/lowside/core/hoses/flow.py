"""Moves contents through the hoses until nothing moves any more, and keeps the books.

Three cases for every group of hoses that are open to one another: joined to nothing (they even
out), to one thing (it fills or drains them), to two or more (the one at higher pressure blows
through to the one at the lowest).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.handbook.procedure import (
    BELOW_HOSES,
    BOUNDARIES,
    CYLINDER,
    OUTSIDE,
    PUMP,
    Boundary,
    Procedure,
)
from lowside.core.hoses.contents import (
    AIR,
    LIQUID,
    VAPOR,
    Conditions,
    Contents,
    Hoses,
    Phase,
    liquid_at,
    vapor_at,
    volumes_of,
)
from lowside.core.hoses.network import (
    Junction,
    Link,
    beside,
    boundaries_of,
    groups,
    junctions,
    links,
    path,
    phase_from,
    pressure_at,
    reach,
    way_through,
)

FLUSHES = 1.0
"""A purge lets this many more fills of the hoses on its way escape (a short hiss; no source)."""

_HALVINGS = 60
_SAME = 1.0e-9
"""Relative difference below which two pressures are one."""


@dataclass(frozen=True)
class Flow:
    """Something that went from one place to another.

    `kg` refrigerant (its `phase` where it came from) and `air` [Pa m3]. A `steady` flow goes on
    as long as the valves stay so; its kg are what a short puff takes, or nothing when the scale
    counts it.
    """

    start: str
    end: str
    phase: Phase
    kg: float
    air: float
    steady: bool = False


@dataclass(frozen=True)
class Settled:
    """The network after everything has evened out, and what moved."""

    hoses: Hoses
    flows: tuple[Flow, ...]


def settle(
    procedure: Procedure,
    conditions: Conditions,
    hoses: Hoses,
) -> Settled:
    """Let everything move that can with the valves as in `hoses.settings`."""
    books = _Books(procedure, conditions, hoses)
    ways = links(procedure, hoses.settings)
    for group in groups(procedure, ways):
        joined = junctions(group, ways)
        boundaries = boundaries_of(joined)
        if not boundaries:
            books.even_out(group)
        elif len(boundaries) == 1:
            books.fill_from_one(group, joined, ways)
        else:
            books.blow_through(group, joined, boundaries, ways)
    for way in [way for way in ways if way.b == OUTSIDE]:
        for boundary in BOUNDARIES:
            if way.a == boundary:
                books.blow_off(boundary)
    return Settled(
        Hoses(hoses.settings, dict(books.contents), dict(books.received)), tuple(books.flows)
    )


class _Books:
    """Contents under change; every change is booked as a flow so mass cannot get lost."""

    def __init__(self, procedure: Procedure, conditions: Conditions, hoses: Hoses) -> None:
        self.conditions = conditions
        self.settings = hoses.settings
        self.sizes = volumes_of(procedure, conditions)
        self.contents: dict[str, Contents] = dict(hoses.contents)
        self.received: dict[str, float] = dict(hoses.received_kg)
        self.flows: list[Flow] = []

    def book(self, flow: Flow) -> None:
        """Note a flow; what leaves or enters a boundary goes on its account."""
        if flow.start in BOUNDARIES:
            self.received[flow.start] = self.received.get(flow.start, 0.0) - flow.kg
        if flow.end in BOUNDARIES:
            self.received[flow.end] = self.received.get(flow.end, 0.0) + flow.kg
        self.flows.append(flow)

    def blow_off(self, boundary: Boundary) -> None:
        """Unit or cylinder blows into the open; a puff as big as one full hose is booked. In a
        vacuum it pulls the same volume of air in."""
        phase = phase_from(self.conditions, self.settings, boundary)
        pressure = pressure_at(self.conditions, boundary)
        size = 0.0
        for one in self.sizes.values():
            size = one if one > size else size
        atmosphere = self.conditions.atmosphere_pa
        if pressure <= atmosphere:
            self.book(Flow(OUTSIDE, boundary, AIR, 0.0, size * atmosphere, True))
            return
        self.book(Flow(boundary, OUTSIDE, phase, size * self.density(phase, pressure), 0.0, True))

    def density(self, phase: Phase, pressure: float) -> float:
        if phase == LIQUID:
            return liquid_at(self.conditions.densities, pressure)
        return vapor_at(self.conditions.densities, pressure)

    def even_out(self, group: Sequence[str]) -> None:
        """A closed-off group comes to one pressure."""
        parts = [self.contents[name] for name in group]
        highest = parts[0].pressure_pa
        lowest = parts[0].pressure_pa
        for part in parts:
            highest = part.pressure_pa if part.pressure_pa > highest else highest
            lowest = part.pressure_pa if part.pressure_pa < lowest else lowest
        wet = [part for part in parts if part.liquid_kg > 0.0]
        if highest - lowest <= _SAME * highest and (
            not wet or lowest >= self.conditions.cylinder_pa
        ):
            return
        air = 0.0
        mass = 0.0
        size = 0.0
        for name in group:
            part = self.contents[name]
            air = air + part.air
            mass = mass + part.vapor_kg + part.liquid_kg
            size = size + self.sizes[name]
        liquid, pressure = self.shut_in(air, mass, size, highest)
        before = dict(self.contents)
        for name in group:
            share = self.sizes[name] / size
            self.contents[name] = Contents(
                air * share, (mass - liquid) * share, liquid * share, pressure
            )
        self._book_evening(group, before)

    def _book_evening(self, group: Sequence[str], before: Mapping[str, Contents]) -> None:
        gains = [_mass(self.contents[name]) - _mass(before[name]) for name in group]
        most = 0
        for i, gain in enumerate(gains):
            most = i if gain > gains[most] else most
        for i, name in enumerate(group):
            if gains[i] < 0.0:
                phase = LIQUID if before[name].liquid_kg > 0.0 else VAPOR
                self.book(Flow(name, group[most], phase, -gains[i], 0.0))

    def shut_in(self, air: float, mass: float, size: float, highest: float) -> tuple[float, float]:
        """Liquid [kg] and pressure of so much air and refrigerant in a closed volume."""
        if mass <= 0.0:
            return 0.0, air / size
        warm = self.conditions.cylinder_pa
        densities = self.conditions.densities
        room = size - air / warm
        if room > 0.0 and mass <= vapor_at(densities, warm) * room:
            low = 0.0
            high = warm
            for _ in range(_HALVINGS):
                middle = (low + high) / 2.0
                if air / middle + mass / vapor_at(densities, middle) > size:
                    low = middle
                else:
                    high = middle
            return 0.0, high
        heavy = liquid_at(densities, warm)
        light = vapor_at(densities, warm)
        left = size - mass / heavy
        if room <= 0.0 and left > 0.0:
            return mass, air / left
        liquid = (mass - light * room) / (1.0 - light / heavy)
        if liquid >= heavy * room:
            return mass, highest if highest > warm else warm
        return liquid, warm

    def fill_from_one(
        self, group: Sequence[str], joined: Sequence[Junction], ways: Sequence[Link]
    ) -> None:
        """One boundary fills or drains a group; what drains pushes the air on its way ahead.

        Liquid in hoses held above an upright cylinder runs and boils back into it.
        """
        boundary = joined[0].boundary
        pressure = pressure_at(self.conditions, boundary)
        coming = phase_from(self.conditions, self.settings, boundary)
        swept: list[str] = []
        for name in group:
            if self.drains(name, pressure):
                swept.extend(path(name, joined[0].entry, ways)[1:])
        for name in group:
            self.fill(name, pressure, coming, boundary, boundary, name in swept)

    def drains(self, name: str, pressure: float) -> bool:
        """Whether contents run out into something at this pressure."""
        contents = self.contents[name]
        boils = contents.liquid_kg > 0.0 and pressure < self.conditions.cylinder_pa
        return boils or contents.pressure_pa > pressure * (1.0 + _SAME)

    def fill(
        self,
        name: str,
        pressure: float,
        coming: Phase,
        source: Boundary,
        sink: Boundary,
        swept: bool,
    ) -> None:
        """Bring one hose to a pressure; what comes in is `coming` from `source`."""
        old = self.contents[name]
        size = self.sizes[name]
        if coming == AIR:
            new = Contents(pressure * size, 0.0, 0.0, pressure)
        else:
            air = old.air
            if swept or boundary_is_pump(source, sink):
                air = 0.0
            elif old.pressure_pa > pressure:
                air = old.air * (pressure / old.pressure_pa)
            room = size - air / pressure
            room = room if room > 0.0 else 0.0
            liquid = 0.0
            runs_back = source == CYLINDER and self.settings["cylinder_position"] == BELOW_HOSES
            if coming == LIQUID:
                liquid = room * self.density(LIQUID, pressure)
            elif pressure >= self.conditions.cylinder_pa and not runs_back:
                full = room * self.density(LIQUID, pressure)
                liquid = old.liquid_kg if old.liquid_kg < full else full
            rest = room - liquid / self.density(LIQUID, pressure)
            rest = rest if coming != LIQUID and rest > 0.0 else 0.0
            new = Contents(air, rest * self.density(VAPOR, pressure), liquid, pressure)
        self.replace(name, new, coming, source, sink)

    def replace(
        self, name: str, new: Contents, coming: Phase, source: Boundary, sink: Boundary
    ) -> None:
        """Put new contents in; the difference is booked to source or sink."""
        old = self.contents[name]
        gain = _mass(new) - _mass(old)
        lost_air = old.air - new.air if coming != AIR and old.air > new.air else 0.0
        self.contents[name] = new
        if gain > 0.0:
            self.book(Flow(source, name, coming, gain, 0.0))
        phase = LIQUID if old.liquid_kg > 0.0 else VAPOR
        if gain < 0.0 or lost_air > 0.0:
            self.book(Flow(name, sink, phase, -gain if gain < 0.0 else 0.0, lost_air))

    def blow_through(
        self,
        group: Sequence[str],
        joined: Sequence[Junction],
        boundaries: Sequence[Boundary],
        ways: Sequence[Link],
    ) -> None:
        """The higher pressures blow to the lowest; hoses off their way are filled from beside."""
        ranked = self.by_pressure(boundaries)
        sink = ranked[0]
        on_way: dict[str, tuple[float, Phase, Boundary]] = {}
        puffs: list[tuple[Boundary, float]] = []
        for source in ranked[1:]:
            swept: list[str] = []
            for entry in joined:
                for leaving in joined:
                    if entry.boundary == source and leaving.boundary == sink:
                        swept.extend(way_through(entry, leaving, ways))
            size = 0.0
            for name in group:
                if name in swept:
                    size = size + self.sizes[name]
                    on_way[name] = self.state_on_way(name, source, sink, joined, ways)
            puffs.append((source, size))
        self.push_out(group, on_way, sink)
        for name in group:
            if name not in on_way:
                pressure, coming, beside = self.beside_way(name, ranked[-1], on_way, ways)
                self.fill(name, pressure, coming, beside, sink, False)
        for source, size in puffs:
            phase = phase_from(self.conditions, self.settings, source)
            pressure = pressure_at(self.conditions, source)
            puff = FLUSHES * size
            kg = puff * self.density(phase, pressure) if sink == OUTSIDE else 0.0
            air = puff * pressure if phase == AIR else 0.0
            self.book(Flow(source, sink, phase, kg, air, True))
        self._book_between(ranked)

    def _book_between(self, ranked: Sequence[Boundary]) -> None:
        """Streams into boundaries between the lowest and the highest pressure: no kg known."""
        for i, lower in enumerate(ranked):
            if i == 0:
                continue
            for higher in ranked[i + 1 :]:
                phase = phase_from(self.conditions, self.settings, higher)
                self.book(Flow(higher, lower, phase, 0.0, 0.0, True))

    def by_pressure(self, boundaries: Sequence[Boundary]) -> list[Boundary]:
        """Boundaries, lowest pressure first; the order of `BOUNDARIES` breaks ties."""
        ranked: list[Boundary] = []
        for boundary in boundaries:
            at = 0
            for other in ranked:
                if pressure_at(self.conditions, other) <= pressure_at(self.conditions, boundary):
                    at = at + 1
            ranked = [*ranked[:at], boundary, *ranked[at:]]
        return ranked

    def state_on_way(
        self,
        name: str,
        source: Boundary,
        sink: Boundary,
        joined: Sequence[Junction],
        ways: Sequence[Link],
    ) -> tuple[float, Phase, Boundary]:
        """Pressure, phase and source of a hose that is blown through: the last narrow place
        before the sink takes the whole drop."""
        coming = phase_from(self.conditions, self.settings, source)
        wide = [way for way in ways if not way.throttle]
        for junction in joined:
            if junction.boundary != sink or sink not in beside(junction.entry, wide):
                continue
            if name in reach(junction.entry, wide):
                return pressure_at(self.conditions, sink), coming, source
        return pressure_at(self.conditions, source), coming, source

    def push_out(
        self,
        group: Sequence[str],
        on_way: Mapping[str, tuple[float, Phase, Boundary]],
        sink: Boundary,
    ) -> None:
        """Old contents go to the sink, new ones come from the source."""
        for name in group:
            if name not in on_way:
                continue
            old = self.contents[name]
            pressure, coming, source = on_way[name]
            phase = LIQUID if old.liquid_kg > 0.0 else VAPOR
            self.book(Flow(name, sink, phase, _mass(old), old.air))
            if coming == AIR:
                self.contents[name] = Contents(pressure * self.sizes[name], 0.0, 0.0, pressure)
                continue
            kg = self.sizes[name] * self.density(coming, pressure)
            self.book(Flow(source, name, coming, kg, 0.0))
            if coming == LIQUID:
                self.contents[name] = Contents(0.0, 0.0, kg, pressure)
            else:
                self.contents[name] = Contents(0.0, kg, 0.0, pressure)

    def beside_way(
        self,
        name: str,
        highest: Boundary,
        on_way: Mapping[str, tuple[float, Phase, Boundary]],
        ways: Sequence[Link],
    ) -> tuple[float, Phase, Boundary]:
        """What fills a dead end: what blows through the nearest hose, else the highest pressure."""
        for member in reach(name, ways):
            if member in on_way:
                return on_way[member]
        pressure = pressure_at(self.conditions, highest)
        return pressure, phase_from(self.conditions, self.settings, highest), highest


def boundary_is_pump(source: Boundary, sink: Boundary) -> bool:
    """Whether a vacuum pump takes the last of the air out."""
    return PUMP in (source, sink)


def _mass(contents: Contents) -> float:
    return contents.vapor_kg + contents.liquid_kg
