"""Every form Lowside shows: its fields, their quantities and plain limits."""

from collections.abc import Mapping

from lowside.core.handbook.fields import (
    CHOICE,
    NUMBER,
    REFRIGERANT,
    TEXT,
    YES_NO,
    Field,
    Fields,
    Form,
    checked,
    mass_field,
    pressure_field,
    read_fields,
    scale_field,
    temperature_field,
    text_field,
    yes_no,
)
from lowside.core.handbook.photo_form import PHOTO
from lowside.core.handbook.safety_fields import FLAMMABLE_FIELDS, PROTECTED, QUALIFIED
from lowside.core.handbook.system import COLDER, NOT_REACHED, SAME
from lowside.core.handbook.unit_forms import MACHINE, TARGET, UNIT
from lowside.core.handbook.walk_forms import (
    CHARGE_OFF,
    CHARGE_REST,
    CHARGE_RESULT,
    CHARGE_RUN,
    PRESSURE_TEST,
    RECOVERY_AFTER,
    RECOVERY_CONTENTS,
    RECOVERY_CYLINDER_FORM,
    RECOVERY_READY,
    VACUUM_HELD,
    WEIGH_READY,
    WEIGH_TOTAL,
)

READING_FIELDS = (
    pressure_field("suction_pressure", "Suction pressure", "Low-side gauge"),
    temperature_field("suction_line", "Suction line temperature", "Clamp on the large, cold pipe"),
    pressure_field("liquid_pressure", "Liquid pressure", "High-side gauge"),
    temperature_field("liquid_line", "Liquid line temperature", "Clamp on the small, warm pipe"),
    temperature_field(
        "outdoor_dry_bulb",
        "Outdoor air",
        "Entering the condenser, in the shade",
    ),
    temperature_field("return_dry_bulb", "Return air, dry bulb"),
    temperature_field("return_wet_bulb", "Return air, wet bulb", "Or enter the humidity below"),
    Field(
        "return_humidity",
        "Return air, relative humidity",
        NUMBER,
        "relative_humidity",
        lowest=0.02,  # no air of a building is drier: 0.5 is meant as a half
        highest=1.0,
    ),
    temperature_field("supply_dry_bulb", "Supply air, dry bulb"),
    Field("compressor_amps", "Compressor current", NUMBER, "current", lowest=0.0, highest=500.0),
    Field(
        "static_pressure",
        "Total external static pressure",
        NUMBER,
        "air_pressure",
        hint="Supply − return, at the blower",
        lowest=0.0,
        highest=2000.0,
    ),
)

DRIER = Field(
    "drier",
    "Filter drier, both sides",
    CHOICE,
    choices=((SAME, "Same"), (COLDER, "Colder after"), (NOT_REACHED, "Not reached")),
    hint="Optional, by hand. Open no cover for it",
)

READING = (*READING_FIELDS[:4], DRIER, *READING_FIELDS[4:])

EARLY = Field("early_reason", "Why it is read so early", TEXT, hint="Goes on the record")
"""Asked of a final reading before the unit has settled only."""

ALIKE_FIELD = Field(
    "alike", "All gauges read again", CHOICE, choices=(("yes", "They show the same"),)
)
"""Asked of a first reading only that is in every box what the last visit’s was."""

FORMS: dict[str, Form] = {
    form.name: form
    for form in (
        Form(
            "job",
            "job.set",
            "Save the job",
            (
                text_field("site", "Site", "The name the office knows", True),
                text_field("unit_label", "Unit", "Tag or place, like “AC-2 roof east”", True),
                text_field("technician", "Technician", "Your name", True),
                Field(
                    "elevation",
                    "Elevation of the site",
                    NUMBER,
                    "length",
                    required=True,
                    hint="Gauges read against the local air. Roughly: sea level is 0",
                    lowest=-500.0,
                    highest=4500.0,
                ),
            ),
        ),
        UNIT,
        MACHINE,
        TARGET,
        Form(
            "preconditions",
            "checks.answered",
            "Save these checks",
            (
                checked(QUALIFIED),
                checked(PROTECTED),
                checked(
                    yes_no(
                        "airflow",
                        "Filter, blower and indoor coil clean; registers open; economizer closed",
                    )
                ),
                checked(yes_no("outdoor_coil", "Outdoor coil clean, clear and dry; fan turning")),
                Field(
                    "leak",
                    "Leak check",
                    CHOICE,
                    required=True,
                    choices=(
                        ("none_found", "Leak-checked, none found"),
                        ("repaired", "Found and repaired"),
                        ("leaking", "Leaking now"),
                        ("not_searched", "Not leak-checked"),
                    ),
                    good="none_found",
                ),
                Field(
                    "steady",
                    "Cooling steadily for 15 minutes",
                    CHOICE,
                    required=True,
                    choices=(
                        ("yes", "Yes"),
                        ("counted", "By the countdown"),
                        ("no", "No"),
                    ),
                    hint="Yes also when it ran before you came",
                    good="yes",
                ),
                checked(
                    yes_no("same_refrigerant", "Nothing suggests another refrigerant is inside")
                ),
                *[checked(field) for field in FLAMMABLE_FIELDS],
                Field("checks_reason", "Why no leak check", TEXT, hint="Goes on the record"),
                Field(
                    "leak_refused",
                    "Owner refuses the leak repair",
                    TEXT,
                    hint="Who said so, and how. Goes on the record",
                ),
                yes_no(
                    "leak_exempt",
                    "15 lb or more: is it residential or light commercial air conditioning?",
                    False,
                ),
            ),
        ),
        Form(
            "cylinder",
            "cylinder.set",
            "Save the cylinder",
            (
                text_field("cylinder_label", "Cylinder number", "As stamped or tagged", True),
                Field(
                    "cylinder_refrigerant",
                    "Refrigerant on the cylinder’s label",
                    REFRIGERANT,
                    required=True,
                ),
                mass_field("cylinder_tare", "Tare weight", "TW stamped on the collar", True),
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
                yes_no(
                    "restrictor",
                    "Charging restrictor on the hose",
                    False,
                    "A fitting that meters liquid, so it flashes before the port",
                ),
                pressure_field("cylinder_pressure", "Cylinder pressure at rest", "If you have it"),
                temperature_field(
                    "cylinder_temperature", "Cylinder temperature", "After hours at rest"
                ),
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
                    hint="Inside diameter. Left empty: 3/16 in (0.188 in, 4.8 mm)",
                    lowest=0.001,
                    highest=0.02,
                ),
            ),
        ),
        Form(
            "start_weight",
            "weight.start",
            "Save the start weight",
            (mass_field("gross", "Cylinder on the scale", "Bare cylinder, valve closed", True),),
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
                        ("zeroed", "Zeroed: shows the weight taken out"),
                    ),
                ),
                scale_field("scale_reading", "Scale reads now", True),
                Field(
                    "scale_resolution",
                    "Smallest step of the scale",
                    NUMBER,
                    "mass",
                    required=True,
                    hint="See how far the last digit jumps",
                    lowest=0.0001,
                    highest=0.5,
                ),
                Field(
                    "gauges",
                    "Gauges",
                    CHOICE,
                    choices=(("digital", "Digital"), ("dial", "Dial")),
                ),
                Field(
                    "clamps",
                    "Pipe thermometers",
                    CHOICE,
                    choices=(("clamp", "Pipe clamps"), ("strap", "Strapped or taped sensors")),
                ),
                Field(
                    "wet_bulb_by",
                    "Wet bulb",
                    CHOICE,
                    choices=(
                        ("psychrometer", "Psychrometer, or a probe in the return"),
                        ("humidity", "From the humidity on a display"),
                    ),
                ),
            ),
        ),
        Form("reading", "reading.taken", "Save the reading", (*READING, ALIKE_FIELD)),
        Form("final_reading", "reading.final", "Save the final reading", (*READING, EARLY)),
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
            (
                scale_field("scale_before", "Scale before the shot"),
                mass_field("planned", "Planned"),
                Field(
                    "planned_time",
                    "Planned time open",
                    NUMBER,
                    "duration",
                    lowest=0.0,
                    highest=3600.0,
                ),
            ),
        ),
        Form(
            "shot_close",
            "shot.closed",
            "Valve closed",
            # The page sends none: typing would count as flow. Corrections and old events do.
            (
                scale_field("scale_after", "Scale after the shot"),
                Field(
                    "open_time",
                    "Seconds the valve was really open",
                    NUMBER,
                    "duration",
                    lowest=1.0,
                    highest=3600.0,
                ),
            ),
        ),
        Form(
            "shot_weigh",
            "shot.weighed",
            "Save the scale reading",
            (scale_field("scale_after", "Scale after the shot", True),),
        ),
        Form("shot_unweighed", "shot.unweighed", "Scale not read"),
        Form("hoses_recover", "hoses.recover", "Recover the hoses"),
        Form("system_stopped", "system.stopped", "The unit has stopped"),
        Form("system_started", "system.started", "It is running again"),
        Form(
            "hold",
            "hold.started",
            "Start the countdown",
            (Field("held", "Hold", TEXT, required=True, longest=40),),
        ),
        Form(
            "note",
            "note.added",
            "Save the note",
            (Field("text", "Note", TEXT, required=True, longest=2000),),
        ),
        PHOTO,
        Form(
            "end_weight",
            "weight.end",
            "Save the end weight",
            (mass_field("gross", "Cylinder on the scale", "Bare cylinder, valve closed", True),),
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
                mass_field(
                    "hoses_weighed", "Recovered from the hoses, if weighed", "Recovery cylinder"
                ),
            ),
        ),
        Form(
            "record",
            "session.closed",
            "Sign and close the session",
            (
                text_field("signed_by", "Signed by", required=True),
                Field("caps_checked", "Caps on, ports leak-checked", CHOICE, "", True, YES_NO),
            ),
        ),
        Form("done", "step.done", "Done"),
        Form("discard", "session.discarded", "Discard this empty session"),
        RECOVERY_READY,
        RECOVERY_CYLINDER_FORM,
        RECOVERY_CONTENTS,
        RECOVERY_AFTER,
        WEIGH_READY,
        PRESSURE_TEST,
        VACUUM_HELD,
        WEIGH_TOTAL,
        CHARGE_OFF,
        CHARGE_RUN,
        CHARGE_REST,
        CHARGE_RESULT,
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
            "Void it",
            (
                Field("target", "Entry", TEXT, required=True, longest=26),
                Field("reason", "Why", TEXT, hint="For whoever reads the record", longest=500),
            ),
        ),
    )
}

FORM_OF_KIND: dict[str, Form] = {form.kind: form for form in FORMS.values()}


def understand(kind: str, data: Mapping[str, str]) -> Fields:
    """What an event of this kind says; nothing for a kind without a form."""
    form = FORM_OF_KIND.get(kind)
    if form is None:
        return Fields({}, {}, {})
    return read_fields(form, data)
