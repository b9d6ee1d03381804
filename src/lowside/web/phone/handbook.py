"""The handbook as the phone loads it: one JSON text, read by `static/js/library.js`."""

import json
from dataclasses import asdict
from importlib.resources import files

from lowside.core.handbook.handbook import Handbook
from lowside.thermo.tables import properties_json


def phone_handbook(handbook: Handbook) -> bytes:
    """Property tables, refrigerants, charts, procedures and cautions as UTF-8 JSON.

    Raises
        OSError: the tables are not built and the cache cannot be written.
    """
    charts = files("lowside").joinpath("data", "charts.json").read_text(encoding="utf-8")
    content = {
        "properties": json.loads(properties_json()),
        "refrigerants": [asdict(refrigerant) for refrigerant in handbook.refrigerants.values()],
        "charts": json.loads(charts),
        "procedures": [asdict(procedure) for procedure in handbook.procedures.values()],
        "cautions": [asdict(caution) for caution in handbook.cautions.values()],
    }
    return json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()
