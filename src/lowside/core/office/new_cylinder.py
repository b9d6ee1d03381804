"""A cylinder that no session has used yet: the office registers it, and it counts as stock.

Its entry is in a log of its own, which is no session. It counts as the cylinder's first weighing,
so the first session that uses it is compared with it.
"""

from collections.abc import Mapping

from lowside.core.handbook.fields import (
    CHOICE,
    NUMBER,
    REFRIGERANT,
    Field,
    Fields,
    Form,
    mass_field,
    read_fields,
    text_field,
)
from lowside.core.office.cylinders import (
    ABOUT,
    FOR_CHARGING,
    FOR_RECOVERY,
    NEW_KIND,
    Movement,
    check_about,
)
from lowside.core.session.ledger import CylinderUse
from lowside.core.session.recovering import due_month
from lowside.core.session.state import STANDS, State

NEW_CYLINDER = Form(
    "cylinder_new",
    NEW_KIND,
    "Register the cylinder",
    (
        Field(
            "kind",
            "What it is for",
            CHOICE,
            required=True,
            choices=((FOR_CHARGING, "To charge from"), (FOR_RECOVERY, "Recovery")),
        ),
        text_field("label", "Cylinder number", "As stamped or tagged", True),
        Field(
            "refrigerant",
            "Refrigerant inside",
            REFRIGERANT,
            hint="Leave empty for an empty recovery cylinder",
        ),
        mass_field("tare", "Tare weight", "TW stamped on the collar", True),
        mass_field("gross", "Weight now", "The whole cylinder on the scale", True),
        Field(
            "water",
            "Water capacity",
            NUMBER,
            "mass",
            hint="WC stamped on the collar. Needed for a recovery cylinder",
            lowest=0.5,
            highest=1000.0,
        ),
        *(field for field in ABOUT.fields if field.name in ("van", "rc_date", "rc_date_means")),
        Field("remark", "Remark", longest=300),
    ),
)


def check_new(fields: Fields) -> dict[str, str]:
    """Sentences beside the fields that do not go together."""
    problems = check_about(fields)
    texts, numbers = fields.texts, fields.numbers
    if texts.get("kind", "") == FOR_RECOVERY and "water" not in numbers:
        problems.setdefault("water", "Needed for a recovery cylinder: its fill limit is from it.")
    if texts.get("kind", "") == FOR_CHARGING and texts.get("refrigerant", "") == "":
        problems.setdefault("refrigerant", "Choose what is inside.")
    if "tare" in numbers and "gross" in numbers and numbers["gross"] < numbers["tare"]:
        problems.setdefault("gross", "Less than the tare. Weigh the whole cylinder, valve and all.")
    return problems


def registered(state: State) -> Movement | None:
    """The cylinder that a log registers; `None` for a session."""
    if state.started is not None:
        return None
    for entry in state.entries:
        if entry.kind == NEW_CYLINDER.kind and entry.status == STANDS:
            fields = read_fields(NEW_CYLINDER, entry.data)
            if not check_new(fields):
                return _first_use(state.sid, fields, entry.data, state)
    return None


def _first_use(sid: str, fields: Fields, data: Mapping[str, str], state: State) -> Movement:
    moment = state.entries[0].moment
    weighed = CylinderUse(
        sid=sid,
        label=fields.texts["label"],
        refrigerant=fields.texts.get("refrigerant", ""),
        tare_kg=fields.numbers["tare"],
        start_kg=None,
        end_kg=fields.numbers["gross"],
        started=moment,
        closed=moment,
        resolution_kg=None,
        added_kg=0.0,
    )
    kind = FOR_RECOVERY if data["kind"] == FOR_RECOVERY else FOR_CHARGING
    return Movement(
        kind,
        weighed,
        "",
        0.0,
        fields.numbers.get("water"),
        due_month(fields.texts),
        registered=True,
    )
