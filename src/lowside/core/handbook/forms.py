"""Every form Lowside shows: its fields, their quantities and plain limits, and the one parser.

The entry check before an event is written and the fold that reads it back both use `read_fields`,
so what was accepted is what is later understood.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook import system
from lowside.core.numbers import units
from lowside.core.numbers.arithmetic import BadNumber
from lowside.core.numbers.unit_choice import UnitChoice, label, unit_for
from lowside.core.numbers.units import Quantity

FieldKind = Literal["number", "choice", "text", "refrigerant"]

NUMBER: FieldKind = "number"
CHOICE: FieldKind = "choice"
TEXT: FieldKind = "text"
REFRIGERANT: FieldKind = "refrigerant"
"""A choice among the refrigerants that have property tables."""

YES_NO = (("yes", "Yes"), ("no", "No"))
NO_YES_UNKNOWN = (("no", "No"), ("yes", "Yes"), ("not_known", "Not known"))


@dataclass(frozen=True)
class Field:
    """One input. `lowest`/`highest` [SI] catch slips of the thumb, not physics."""

    name: str
    label: str
    kind: FieldKind = TEXT
    quantity: Quantity | Literal[""] = ""
    required: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    lowest: float = -1.0e300
    highest: float = 1.0e300
    suggestion: str = ""
    """Shown prefilled, openly, when nothing is known yet."""
    longest: int = 200


@dataclass(frozen=True)
class Form:
    """One thing that can be recorded: `kind` is the kind of the event it becomes."""

    name: str
    kind: str
    button: str
    fields: tuple[Field, ...] = ()


@dataclass(frozen=True)
class Fields:
    """What was understood of a form: SI numbers and texts by field name, and problems by field."""

    numbers: Mapping[str, float]
    texts: Mapping[str, str]
    problems: Mapping[str, str]


def _pressure(name: str, text: str, hint: str = "") -> Field:
    return Field(name, text, NUMBER, "gauge_pressure", hint=hint, lowest=-1.0e5, highest=1.0e7)


def _temperature(name: str, text: str, hint: str = "") -> Field:
    return Field(name, text, NUMBER, "temperature", hint=hint, lowest=223.15, highest=423.15)


def _mass(name: str, text: str, hint: str = "", required: bool = False) -> Field:
    return Field(
        name, text, NUMBER, "mass", required=required, hint=hint, lowest=0.0, highest=200.0
    )


def _text(name: str, text: str, hint: str = "", required: bool = False) -> Field:
    return Field(name, text, TEXT, required=required, hint=hint, longest=120)


READING_FIELDS = (
    _pressure("suction_pressure", "Suction pressure", "Low-side gauge"),
    _temperature("suction_line", "Suction line temperature", "Clamp on the big, cold pipe"),
    _pressure("liquid_pressure", "Liquid pressure", "High-side gauge"),
    _temperature("liquid_line", "Liquid line temperature", "Clamp on the small, warm pipe"),
    _temperature("outdoor_dry_bulb", "Outdoor air", "Entering the condenser, in shade"),
    _temperature("return_dry_bulb", "Return air, dry bulb"),
    _temperature("return_wet_bulb", "Return air, wet bulb", "Or give humidity below"),
    Field(
        "return_humidity",
        "Return air, relative humidity",
        NUMBER,
        "relative_humidity",
        lowest=0.0,
        highest=1.0,
    ),
    _temperature("supply_dry_bulb", "Supply air, dry bulb"),
    Field("compressor_amps", "Compressor current", NUMBER, "current", lowest=0.0, highest=500.0),
    Field(
        "static_pressure",
        "Total external static pressure",
        NUMBER,
        "air_pressure",
        hint="Supply less return, at the blower",
        lowest=0.0,
        highest=2000.0,
    ),
)

FORMS: dict[str, Form] = {
    form.name: form
    for form in (
        Form(
            "job",
            "job.set",
            "Save the job",
            (
                _text("site", "Site", "Where you are, as the office knows it", True),
                _text("unit_label", "Unit", "Tag or place, like “AC-2 roof east”", True),
                _text("technician", "Technician", "Your name", True),
                Field(
                    "elevation",
                    "Elevation of the site",
                    NUMBER,
                    "length",
                    required=True,
                    hint="Gauges read against the local air. Sea level is 0.",
                    lowest=-500.0,
                    highest=4500.0,
                    suggestion="0",
                ),
            ),
        ),
        Form(
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
                    lowest=500.0,
                    highest=500000.0,
                ),
                _mass("nameplate_charge", "Nameplate charge"),
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
                    "Maker’s charge per length beyond that",
                    NUMBER,
                    "line_adder",
                    lowest=0.0,
                    highest=1.0,
                ),
                Field("accumulator", "Suction accumulator", CHOICE, choices=NO_YES_UNKNOWN),
                _pressure("high_side_limit", "Highest high-side pressure on the nameplate"),
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
                    "Highest external static pressure on the blower’s plate",
                    NUMBER,
                    "air_pressure",
                    lowest=10.0,
                    highest=2000.0,
                ),
                Field(
                    "retrofit_refrigerant",
                    "Refrigerant on a retrofit label",
                    REFRIGERANT,
                    hint="Only if the unit has one. It goes before the nameplate.",
                ),
            ),
        ),
        Form(
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
                    hint="For part stage, inverter, ductless and multi-split",
                    choices=(
                        ("yes", "Yes, at full stage"),
                        ("papers_low", "This unit’s papers ask for low stage"),
                        ("no", "No"),
                    ),
                ),
                Field(
                    "port",
                    "Where the blue hose will go",
                    CHOICE,
                    hint="For heating: the large line is then the high side",
                    choices=(
                        ("suction_port", "True suction port, at the compressor"),
                        ("large_line", "Large line’s port"),
                    ),
                ),
            ),
        ),
        Form(
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
                        (system.BY_SUBCOOLING, "Maker’s subcooling (TXV, EEV)"),
                        (system.BY_SUPERHEAT, "Maker’s superheat"),
                        (system.BY_CHART, "Target-superheat chart (fixed orifice)"),
                        (system.BY_APPROACH, "Manufacturer’s approach (liquid line − outdoor air)"),
                        (system.BY_WEIGHT, "Weigh-in by nameplate and line set"),
                    ),
                ),
                Field(
                    "maker_subcooling",
                    "Maker’s subcooling",
                    NUMBER,
                    "temperature_difference",
                    hint="On the nameplate or in the service papers",
                    lowest=0.5,
                    highest=30.0,
                ),
                Field(
                    "maker_superheat",
                    "Maker’s superheat",
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
                    hint="Liquid line less outdoor air, for this size",
                    lowest=0.5,
                    highest=30.0,
                ),
                Field(
                    "maker_tolerance",
                    "Maker’s tolerance, plus or minus",
                    NUMBER,
                    "temperature_difference",
                    hint="Leave empty to use the published procedure’s",
                    lowest=0.1,
                    highest=10.0,
                ),
                Field(
                    "microchannel_papers",
                    "Microchannel coil: this unit’s papers give this subcooling",
                    CHOICE,
                    choices=YES_NO,
                ),
            ),
        ),
        Form(
            "preconditions",
            "checks.answered",
            "Save these checks",
            (
                Field(
                    "qualified",
                    "I hold the licence this work needs here",
                    CHOICE,
                    required=True,
                    choices=YES_NO,
                ),
                Field("protected", "Gloves and eye protection on", CHOICE, "", True, YES_NO),
                Field(
                    "airflow",
                    "Filter, blower and indoor coil clean, registers open",
                    CHOICE,
                    "",
                    True,
                    YES_NO,
                ),
                Field(
                    "outdoor_coil",
                    "Outdoor coil clean and clear, fan turning",
                    CHOICE,
                    "",
                    True,
                    YES_NO,
                ),
                Field(
                    "leak",
                    "Leak search",
                    CHOICE,
                    required=True,
                    choices=(
                        ("none_found", "Searched, none found"),
                        ("repaired", "Found and repaired"),
                        ("leaking", "Leaking now"),
                        ("not_searched", "Not searched"),
                    ),
                ),
                Field("steady", "Cooling steadily for 15 minutes", CHOICE, "", True, YES_NO),
                Field(
                    "same_refrigerant",
                    "Nothing suggests another refrigerant is inside",
                    CHOICE,
                    "",
                    True,
                    YES_NO,
                ),
                Field("checks_reason", "Why no leak search", TEXT, hint="Goes on the record"),
                Field(
                    "leak_refused",
                    "Owner refuses to have the leak repaired",
                    TEXT,
                    hint="Who said so, and how. Goes on the record",
                ),
                Field(
                    "leak_exempt",
                    "15 lb or more: residential or light commercial air conditioning",
                    CHOICE,
                    choices=YES_NO,
                ),
            ),
        ),
        Form(
            "cylinder",
            "cylinder.set",
            "Save the cylinder",
            (
                _text("cylinder_label", "Cylinder number", "As stamped or tagged", True),
                Field(
                    "cylinder_refrigerant",
                    "Refrigerant on the cylinder’s label",
                    REFRIGERANT,
                    required=True,
                ),
                _mass("cylinder_tare", "Tare weight", "TW stamped on the collar", True),
                Field(
                    "withdrawal",
                    "How liquid comes out",
                    CHOICE,
                    required=True,
                    choices=(
                        ("invert", "Turned upside down"),
                        ("dip_tube", "Upright, it has a dip tube"),
                    ),
                ),
                Field(
                    "restrictor",
                    "Charging restrictor on the hose",
                    CHOICE,
                    hint="A fitting that meters liquid so that it flashes before the port",
                    choices=YES_NO,
                ),
                _pressure("cylinder_pressure", "Cylinder pressure at rest", "If you have it"),
                _temperature("cylinder_temperature", "Cylinder temperature", "After hours at rest"),
                Field(
                    "hose_length",
                    "Length of each hose",
                    NUMBER,
                    "hose_length",
                    hint="Left empty: 60 in (5 ft, 1.52 m)",
                    lowest=0.15,
                    highest=20.0,
                ),
                Field(
                    "hose_bore",
                    "Bore of the hoses",
                    NUMBER,
                    "bore",
                    hint="The hole inside. Left empty: 3/16 in (0.188 in, 4.8 mm)",
                    lowest=0.001,
                    highest=0.02,
                ),
            ),
        ),
        Form(
            "start_weight",
            "weight.start",
            "Save the start weight",
            (_mass("gross", "Cylinder on the scale", "Bare cylinder, valve shut", True),),
        ),
        Form(
            "tare",
            "scale.set",
            "Save the scale",
            (
                Field(
                    "scale_mode",
                    "What the scale shows from now on",
                    CHOICE,
                    required=True,
                    choices=(
                        ("gross", "Weight of cylinder and hose"),
                        ("zeroed", "Zeroed: weight taken out"),
                    ),
                ),
                _mass("scale_reading", "Scale reads now", required=True),
                Field(
                    "scale_resolution",
                    "Smallest step of the scale",
                    NUMBER,
                    "mass",
                    required=True,
                    hint="Look how the last digit jumps",
                    lowest=0.0001,
                    highest=0.5,
                ),
            ),
        ),
        Form("reading", "reading.taken", "Save the reading", READING_FIELDS),
        Form("final_reading", "reading.final", "Save the final reading", READING_FIELDS),
        Form(
            "decide",
            "decision.made",
            "Save the decision",
            (
                Field(
                    "decision",
                    "Your decision",
                    CHOICE,
                    required=True,
                    choices=(("add", "Add charge"), ("leave", "Do not add")),
                ),
                Field("reason", "Why", TEXT, hint="Needed when you go against the readings"),
            ),
        ),
        Form(
            "shot_open",
            "shot.opened",
            "Start the shot",
            (_mass("scale_before", "Scale before the shot"),),
        ),
        Form(
            "shot_close",
            "shot.closed",
            "Valve shut: end the shot",
            (_mass("scale_after", "Scale after the shot", "Leave empty if the scale is dead"),),
        ),
        Form("system_stopped", "system.stopped", "The unit has stopped"),
        Form("system_started", "system.started", "It is running again"),
        Form(
            "note",
            "note.added",
            "Save the note",
            (Field("text", "Note", TEXT, required=True, longest=2000),),
        ),
        Form(
            "end_weight",
            "weight.end",
            "Save the end weight",
            (_mass("gross", "Cylinder on the scale", "Bare cylinder, valve shut", True),),
        ),
        Form(
            "reconcile",
            "weights.explained",
            "Save",
            (
                Field(
                    "explanation",
                    "What explains the difference",
                    TEXT,
                    hint="Needed when the weights do not agree",
                    longest=1000,
                ),
            ),
        ),
        Form(
            "record",
            "session.closed",
            "Sign and close the session",
            (
                _text("signed_by", "Signed by", required=True),
                Field("caps_checked", "Caps on, ports checked for leaks", CHOICE, "", True, YES_NO),
            ),
        ),
        Form("done", "step.done", "Done"),
        Form(
            "units",
            "units.set",
            "Use these units",
            (
                Field(
                    "pressure",
                    "Pressure",
                    CHOICE,
                    "",
                    True,
                    (("psig", "psig"), ("kPa", "kPa gauge"), ("bar", "bar gauge")),
                ),
                Field("temperature", "Temperature", CHOICE, "", True, (("°F", "°F"), ("°C", "°C"))),
                Field(
                    "mass",
                    "Weight",
                    CHOICE,
                    "",
                    True,
                    (("lb+oz", "lb + oz"), ("lb", "lb"), ("kg", "kg"), ("g", "g")),
                ),
                Field("length", "Length", CHOICE, "", True, (("ft", "ft"), ("m", "m"))),
            ),
        ),
        Form(
            "void",
            "event.voided",
            "Strike it out",
            (
                Field("target", "Entry", TEXT, required=True, longest=26),
                Field("reason", "Why", TEXT, hint="For whoever reads the record", longest=500),
            ),
        ),
    )
}

FORM_OF_KIND: dict[str, Form] = {form.kind: form for form in FORMS.values()}


def read_fields(form: Form, typed: Mapping[str, str], choice: UnitChoice) -> Fields:
    """Understand what was typed.

    Args:
        form: which fields to look for.
        typed: texts by field name; a measured field `x` has its unit in `x_unit` and, for
            `lb+oz`, ounces in `x_oz`.
        choice: units for the sentences.

    Returns
        Numbers in SI and texts of the fields that were filled in and make sense; a sentence for
        each that does not. A field left empty is in neither, unless it is required.
    """
    numbers: dict[str, float] = {}
    texts: dict[str, str] = {}
    problems: dict[str, str] = {}
    for field in form.fields:
        text = typed.get(field.name, "").strip()
        ounces = typed.get(field.name + "_oz", "").strip()
        if text == "" and ounces == "":
            if field.required:
                problems[field.name] = _missing(field)
            continue
        if field.kind == NUMBER and field.quantity != "":
            number = units.parse(field.quantity, text, typed.get(field.name + "_unit", ""), ounces)
            if isinstance(number, BadNumber):
                problems[field.name] = number.reason
            elif number < field.lowest or number > field.highest:
                problems[field.name] = _implausible(field, field.quantity, choice)
            else:
                numbers[field.name] = number
        elif field.kind == CHOICE and text not in [code for code, _ in field.choices]:
            problems[field.name] = "Choose one of the answers."
        elif len(text) > field.longest:
            problems[field.name] = (
                f"Too long: {len(text)} characters. Shorten it to {field.longest}."
            )
        else:
            texts[field.name] = text
    return Fields(numbers, texts, problems)


def typed_names(form: Form) -> tuple[str, ...]:
    """Every name an event of this form may carry in its data."""
    names: list[str] = []
    for field in form.fields:
        names.append(field.name)
        if field.kind == NUMBER:
            names.append(field.name + "_unit")
        if field.quantity == "mass":
            names.append(field.name + "_oz")
    return tuple(names)


def _missing(field: Field) -> str:
    if field.kind in (CHOICE, REFRIGERANT):
        return "Choose one."
    if field.kind == NUMBER:
        return "Needed. Type the number the instrument shows."
    return "Needed. Type a few words."


def _implausible(field: Field, quantity: Quantity, choice: UnitChoice) -> str:
    low = label(quantity, field.lowest, choice)
    high = label(quantity, field.highest, choice)
    unit = unit_for(quantity, choice)
    return f"Out of the possible range, {low} to {high}. Check the number and its unit ({unit})."
