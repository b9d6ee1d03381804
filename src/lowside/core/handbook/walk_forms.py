"""The forms of the two walks beside charging: recovery, and weigh-in of a whole charge."""

from lowside.core.handbook.fields import (
    CHOICE,
    NUMBER,
    REFRIGERANT,
    Field,
    Form,
    mass_field,
    pressure_field,
    text_field,
    yes_no,
)
from lowside.core.handbook.safety_fields import FLAMMABLE_FIELDS, PROTECTED, QUALIFIED

LOCKED = yes_no("locked", "Unit off, disconnect locked out")
HOSES_OFF_FIELD = yes_no("hoses_off", "Charging cylinder and its hoses off")

RECOVERY_READY = Form(
    "recovery_ready",
    "recovery.ready",
    "Save these answers",
    (LOCKED, HOSES_OFF_FIELD, QUALIFIED, PROTECTED, *FLAMMABLE_FIELDS),
)

RECOVERY_CYLINDER_FORM = Form(
    "recovery_cylinder",
    "recovery.cylinder",
    "Save the recovery cylinder",
    (
        Field(
            "rc_water",
            "Water capacity",
            NUMBER,
            "mass",
            required=True,
            hint="WC stamped on the collar",
            lowest=0.5,
            highest=1000.0,
        ),
        mass_field("rc_tare", "Tare weight", "TW stamped on the collar", True),
        Field(
            "rc_service",
            "Service pressure",
            NUMBER,
            "gauge_pressure",
            required=True,
            hint="In the stamp: 400 psig in 4BA400",
            lowest=5.0e5,
            highest=3.0e7,
        ),
        Field("rc_date", "Month and year stamped", required=True, hint="As 06/2024", longest=10),
        Field(
            "rc_date_means",
            "What that date is",
            CHOICE,
            required=True,
            choices=(("tested", "Made, or tested last"), ("due", "Test due")),
        ),
        text_field("rc_label", "Recovery cylinder number", "As stamped or tagged", True),
    ),
)

RECOVERY_CONTENTS = Form(
    "recovery_contents",
    "recovery.contents",
    "Save what is inside",
    (
        mass_field("rc_before", "Cylinder on the scale now", "Bare cylinder, valve closed", True),
        Field(
            "rc_inside",
            "What is inside now",
            CHOICE,
            required=True,
            choices=(
                ("empty", "Nothing: evacuated"),
                ("one", "One refrigerant, named below"),
                ("mixed", "A mixture, or not known"),
            ),
        ),
        Field("rc_refrigerant", "Refrigerant inside", REFRIGERANT, hint="If there is one"),
        yes_no(
            "rc_flammable",
            "Cylinder and machine made for flammable refrigerant",
            False,
            "Only for a unit whose refrigerant burns",
        ),
    ),
)

RECOVERY_AFTER = Form(
    "recovery_after",
    "recovery.weighed",
    "Save what was recovered",
    (
        mass_field("rc_after", "Cylinder on the scale after", "Bare cylinder, valve closed", True),
        Field(
            "rc_left",
            "Pressure left in the unit",
            NUMBER,
            "gauge_pressure",
            required=True,
            hint="After 5 minutes with the machine valved off. A vacuum: 10 inHg is −5 psig",
            lowest=-1.05e5,
            highest=1.0e7,
        ),
        Field(
            "rc_what",
            "What was recovered",
            CHOICE,
            required=True,
            choices=(("whole", "The whole charge"), ("part", "A part: there was too much")),
        ),
        Field(
            "rc_next",
            "What comes next",
            CHOICE,
            required=True,
            choices=(
                ("weigh_in", "Weigh in the whole charge"),
                ("readings", "Back to the readings"),
                ("another", "Another recovery cylinder"),
            ),
        ),
    ),
)

WEIGH_READY = Form(
    "weigh_ready",
    "weighing.ready",
    "Save these answers",
    (
        LOCKED,
        yes_no("emptied", "Refrigerant recovered, nothing left inside"),
        HOSES_OFF_FIELD,
        QUALIFIED,
        PROTECTED,
        *FLAMMABLE_FIELDS,
    ),
)

PRESSURE_TEST = Form(
    "pressure_test",
    "pressure.tested",
    "Save the pressure test",
    (
        Field(
            "test_pressure",
            "Nitrogen pressure at the start",
            NUMBER,
            "gauge_pressure",
            required=True,
            lowest=0.0,
            highest=1.0e7,
        ),
        Field(
            "test_end",
            "Pressure at the end",
            NUMBER,
            "gauge_pressure",
            required=True,
            lowest=0.0,
            highest=1.0e7,
        ),
        Field("test_held", "Time held", NUMBER, "hold", required=True, lowest=0.0, highest=6.0e5),
        Field(
            "leak",
            "Leak-check with soap",
            CHOICE,
            required=True,
            choices=(("none_found", "No leak found"), ("leaking", "Leaks")),
        ),
        pressure_field(
            "test_asked", "Test pressure by this unit’s instructions", "If they name one"
        ),
        Field(
            "test_asked_held",
            "Time by this unit’s instructions",
            NUMBER,
            "hold",
            hint="If they name one",
            lowest=0.0,
            highest=6.0e5,
        ),
    ),
)

VACUUM_HELD = Form(
    "vacuum_held",
    "vacuum.held",
    "Save the vacuum",
    (
        Field(
            "vacuum_reached",
            "Vacuum reached, pump running",
            NUMBER,
            "vacuum",
            required=True,
            lowest=0.0,
            highest=1.1e5,
        ),
        Field(
            "vacuum_end",
            "Vacuum at the end, pump valved off",
            NUMBER,
            "vacuum",
            required=True,
            lowest=0.0,
            highest=1.1e5,
        ),
        Field(
            "vacuum_time",
            "Time valved off",
            NUMBER,
            "hold",
            required=True,
            lowest=0.0,
            highest=6.0e5,
        ),
        Field(
            "vacuum_limit",
            "Highest at the end by this unit’s instructions",
            NUMBER,
            "vacuum",
            hint="If they name one",
            lowest=1.0,
            highest=1.0e4,
        ),
        Field(
            "vacuum_limit_time",
            "Time valved off by this unit’s instructions",
            NUMBER,
            "hold",
            hint="If they name one",
            lowest=60.0,
            highest=6.0e5,
        ),
    ),
)

WEIGH_TOTAL = Form(
    "weigh_total",
    "weighing.total",
    "Save the adders",
    (
        mass_field(
            "coil_adder", "Adder for the indoor coil", "0 if the instructions name none", True
        ),
        mass_field("drier_adder", "Adder for a field-installed drier", "0 if none", True),
    ),
)

OVERFILLED = "overfilled"
OVERFILL = Field(OVERFILLED, "Went in anyway", CHOICE, choices=(("yes", "True, it went in"),))
"""Asked only of a lot that makes it more than the whole charge, or that went in against a stop."""

CHARGE_OFF = Form(
    "charge_off",
    "weighing.off",
    "Save the weight",
    (
        mass_field("charged_off", "Weight that went in, unit off", "By the scale, this time", True),
        OVERFILL,
    ),
)

CHARGE_RUN = Form(
    "charge_run",
    "weighing.run",
    "Save this answer",
    (
        Field(
            "runs_well",
            "How the unit runs",
            CHOICE,
            required=True,
            choices=(
                ("yes", "Properly: both pressures steady, no odd sound"),
                ("no", "Not properly, or it was switched off"),
            ),
        ),
    ),
)

CHARGE_REST = Form(
    "charge_rest",
    "weighing.rest",
    "Save the weight",
    (
        mass_field("charged_rest", "Rest that went in, unit running", "0 if none was left", True),
        OVERFILL,
    ),
)

CHARGE_RESULT = Form(
    "charge_result",
    "weighing.compared",
    "Save",
    (
        Field(
            "explanation",
            "What explains the difference",
            hint="Needed when the weights do not agree",
            longest=1000,
        ),
    ),
)
