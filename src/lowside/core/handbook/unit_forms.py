"""The forms about the unit: its nameplate, what decides whether it may be added to, its target."""

from dataclasses import replace

from lowside.core.handbook import system
from lowside.core.handbook.fields import (
    CHOICE,
    NO_YES_UNKNOWN,
    NUMBER,
    REFRIGERANT,
    Field,
    Form,
    mass_field,
    pressure_field,
    yes_no,
)

POINTS = ("point1", "point2", "point3", "point4")
"""Points of this unit's own chart that can be typed."""

WATER = "water"
"""What the outdoor coil’s question calls a unit whose condenser is cooled by water."""

ONE_CIRCUIT = "Of this circuit alone"
"""Some units have two, and the nameplate gives the sum. Common practice, no source."""


def _point(name: str, title: str) -> tuple[Field, ...]:
    """One point of this unit's own chart."""
    return (
        Field(
            name + "_outdoor",
            title + ": outdoor air",
            NUMBER,
            "temperature",
            lowest=240.0,
            highest=335.0,
        ),
        Field(
            name + "_wet_bulb",
            title + ": return air wet bulb",
            NUMBER,
            "temperature",
            hint="Only where the chart asks for it",
            lowest=270.0,
            highest=310.0,
        ),
        Field(
            name + "_value",
            title + ": what the chart gives",
            NUMBER,
            "temperature_difference",
            lowest=0.5,
            highest=30.0,
        ),
        pressure_field(name + "_pressure", title + ": pressure by the chart"),
    )


UNIT = Form(
    "unit",
    "unit.set",
    "Save the unit",
    (
        Field(
            "refrigerant",
            "Refrigerant on the unit’s nameplate",
            REFRIGERANT,
            required=True,
        ),
        Field(
            "metering",
            "Metering device",
            CHOICE,
            required=True,
            choices=(
                (system.TXV, "TXV"),
                (system.EEV, "EEV"),
                (system.FIXED, "Fixed orifice (piston, capillary)"),
            ),
        ),
        Field(
            "coil",
            "Outdoor coil",
            CHOICE,
            required=True,
            choices=(
                ("tube_fin", "Tube and fin"),
                ("microchannel", "Microchannel (flat aluminum)"),
                (WATER, "Water-cooled or water-source"),
                ("not_known", "Not known"),
            ),
        ),
        Field(
            "receiver",
            "Liquid receiver",
            CHOICE,
            required=True,
            choices=NO_YES_UNKNOWN,
            hint="A tank in the liquid line after the outdoor coil",
        ),
        Field(
            "capacity",
            "Nominal cooling capacity",
            NUMBER,
            "capacity",
            hint=ONE_CIRCUIT,
            lowest=500.0,
            highest=500000.0,
        ),
        replace(mass_field("nameplate_charge", "Nameplate charge", ONE_CIRCUIT), lowest=0.01),
        Field(
            "line_length",
            "Line set length, one way",
            NUMBER,
            "length",
            lowest=0.0,
            highest=300.0,
        ),
        Field(
            "line_included",
            "Length the nameplate charge covers",
            NUMBER,
            "length",
            lowest=0.0,
            highest=300.0,
        ),
        Field(
            "line_adder",
            "Manufacturer’s charge per length beyond that",
            NUMBER,
            "line_adder",
            lowest=0.0,
            highest=1.0,
        ),
        yes_no(
            "short_line",
            "Do this unit’s instructions take charge off for a shorter line set?",
            False,
            "Manufacturers differ",
        ),
        Field("accumulator", "Suction accumulator", CHOICE, choices=NO_YES_UNKNOWN),
        pressure_field("high_side_limit", "Highest high-side pressure, on the nameplate"),
        Field(
            "rated_amps",
            "Compressor’s rated load amps (RLA)",
            NUMBER,
            "current",
            lowest=0.5,
            highest=500.0,
        ),
        Field(
            "static_limit",
            "Highest external static pressure, on the blower’s plate",
            NUMBER,
            "air_pressure",
            lowest=10.0,
            highest=2000.0,
        ),
        Field(
            "retrofit_refrigerant",
            "Refrigerant on a retrofit label",
            REFRIGERANT,
            hint="Only if the unit has one. It overrides the nameplate",
        ),
        replace(mass_field("retrofit_charge", "Whole charge on that label"), lowest=0.01),
    ),
)

MACHINE = Form(
    "machine",
    "machine.set",
    "Save these answers",
    (
        Field(
            "mode",
            "What the unit does now",
            CHOICE,
            required=True,
            choices=(("cooling", "Cooling"), ("heating", "Heating")),
        ),
        Field(
            "compressor",
            "How the compressor runs now",
            CHOICE,
            required=True,
            choices=(
                ("full", "Full stage, or it has only one"),
                ("part", "Part stage"),
                ("inverter", "Inverter (variable speed)"),
                ("bypass", "With hot-gas bypass, reheat or liquid injection on"),
            ),
        ),
        Field(
            "kind",
            "What kind of unit it is",
            CHOICE,
            required=True,
            choices=(
                ("split", "Split"),
                ("package", "Package"),
                ("ductless", "Ductless"),
                ("multi_split", "Multi-split"),
            ),
        ),
        Field(
            "held",
            "Held in the manufacturer’s charge or test mode",
            CHOICE,
            hint="Needed for part stage, inverter, ductless and multi-split",
            choices=(
                ("yes", "Yes, at full stage"),
                ("papers_low", "This unit’s instructions ask for low stage"),
                ("no", "No"),
            ),
        ),
        Field(
            "port",
            "Where the blue hose will go",
            CHOICE,
            hint="Needed in heating: the large line is the high side then",
            choices=(
                ("suction_port", "True suction port, at the compressor"),
                ("large_line", "Large line’s port"),
            ),
        ),
    ),
)

TARGET = Form(
    "target",
    "target.set",
    "Save the target",
    (
        Field(
            "method",
            "How this unit’s charge is judged",
            CHOICE,
            required=True,
            choices=(
                (system.BY_SUBCOOLING, "Manufacturer’s subcooling (TXV, EEV)"),
                (system.BY_SUPERHEAT, "Manufacturer’s superheat"),
                (system.BY_CHART, "Target-superheat chart (fixed orifice)"),
                (system.BY_APPROACH, "Manufacturer’s approach (liquid line − outdoor air)"),
                (system.BY_POINTS, "Points of this unit’s own charging chart"),
                (system.BY_WEIGHT, "Weigh-in by nameplate and line set"),
            ),
        ),
        Field(
            "maker_subcooling",
            "Manufacturer’s subcooling",
            NUMBER,
            "temperature_difference",
            hint="On the nameplate or in the service instructions",
            lowest=0.5,
            highest=30.0,
        ),
        Field(
            "maker_superheat",
            "Manufacturer’s superheat",
            NUMBER,
            "temperature_difference",
            lowest=0.5,
            highest=30.0,
        ),
        Field(
            "maker_approach",
            "Manufacturer’s approach",
            NUMBER,
            "temperature_difference",
            hint="Liquid line − outdoor air, for this size of unit",
            lowest=0.5,
            highest=30.0,
        ),
        Field(
            "maker_tolerance",
            "Manufacturer’s tolerance, ±",
            NUMBER,
            "temperature_difference",
            hint="Leave empty to use the published procedure’s tolerance",
            lowest=0.1,
            highest=10.0,
        ),
        yes_no(
            "microchannel_papers",
            "Microchannel coil: do this unit’s instructions give this subcooling?",
            False,
        ),
        yes_no(
            "subcooling_papers",
            "Over 20 °F (11 °C): did you read it on this unit’s plate or instructions?",
            False,
        ),
        Field(
            "points_of",
            "The chart’s points are of",
            CHOICE,
            choices=(
                (system.BY_SUBCOOLING, "Subcooling"),
                (system.BY_SUPERHEAT, "Superheat"),
                (system.BY_APPROACH, "Approach"),
                (system.BY_SUCTION_PRESSURE, "Suction pressure"),
                (system.BY_LIQUID_PRESSURE, "Liquid pressure"),
            ),
        ),
        Field(
            "points_short",
            "By its instructions, undercharged is a pressure",
            CHOICE,
            hint="Manufacturers differ. Not in the instructions? Use another method",
            choices=(("below", "Below the chart"), ("above", "Above the chart")),
        ),
        Field(
            "points_tolerance",
            "The chart’s tolerance, ±",
            NUMBER,
            "gauge_pressure",
            hint="Left empty: 5 psi at the suction, 10 psi at the liquid line",
            lowest=1.0e3,
            highest=1.5e5,
        ),
        *_point("point1", "First point"),
        *_point("point2", "Second point"),
        *_point("point3", "Third point"),
        *_point("point4", "Fourth point"),
        Field(
            "papers_outdoor_lowest",
            "Coldest outdoor air, by this unit’s instructions",
            NUMBER,
            "temperature",
            hint="Left empty: the published 55 °F (12.8 °C), for some methods 65 °F (18.3 °C)",
            lowest=274.0,  # a 0 is meant as “none”
            highest=320.0,
        ),
        Field(
            "papers_outdoor_highest",
            "Hottest outdoor air, by this unit’s instructions",
            NUMBER,
            "temperature",
            hint="Left empty: the published 120 °F (48.9 °C)",
            lowest=280.0,
            highest=335.0,
        ),
        Field(
            "papers_indoor_lowest",
            "Coldest return air, by this unit’s instructions",
            NUMBER,
            "temperature",
            hint="Left empty: the published 70 °F (21.1 °C)",
            lowest=280.0,
            highest=310.0,
        ),
        Field(
            "papers_indoor_highest",
            "Warmest return air, by this unit’s instructions",
            NUMBER,
            "temperature",
            hint="Left empty: care from 80 °F (26.7 °C), none above 84 °F (28.9 °C)",
            lowest=285.0,
            highest=315.0,
        ),
        Field(
            "papers_stage",
            "Stage to charge at, by this unit’s instructions",
            CHOICE,
            choices=(("full", "Full stage"), ("low", "Low stage")),
        ),
        Field(
            "papers_wait",
            "Wait before a reading counts, by this unit’s instructions",
            NUMBER,
            "duration",
            hint="Left empty: 15 min after a start, 4 to 15 min after a shot",
            lowest=60.0,
            highest=7200.0,
        ),
    ),
)
