"""Loads the handbook from the shipped files and the property tables: text in, values out."""

import json
from functools import lru_cache
from importlib.resources import files
from typing import Any

from lowside.core.handbook.charts import chart_from
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.refrigerants import refrigerants_from
from lowside.core.office.rule_set import RuleSet, rule_set_from
from lowside.procedures import load_cautions, load_procedures
from lowside.thermo.tables import load_properties


@lru_cache(maxsize=1)
def load_handbook() -> Handbook:
    """Everything the core judges by. Builds the property tables when none are cached.

    Raises
        ValueError: a shipped file is not as it should be. The message names the place.
    """
    properties = load_properties()
    refrigerants = refrigerants_from(_data("refrigerants.json"))
    return Handbook(
        version=properties.version,
        refrigerants={name: refrigerants[name] for name in properties.tables},
        tables=properties.tables,
        psychrometrics=properties.psychrometrics,
        charts={name: chart_from(chart) for name, chart in _data("charts.json").items()},
        procedures=load_procedures(),
        cautions=load_cautions(),
    )


@lru_cache(maxsize=1)
def load_rules() -> RuleSet:
    """The rules of law that the office's pages show and the record of a service rests on.

    Raises
        ValueError, KeyError: the shipped file is not as it should be.
    """
    return rule_set_from(_data("regulations_us.json"))


def _data(name: str) -> dict[str, Any]:
    text = files("lowside").joinpath("data", name).read_text(encoding="utf-8")
    parsed: dict[str, Any] = json.loads(text)
    return parsed
