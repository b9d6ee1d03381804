"""The handbook: every table and text the core judges by, as one value loaded once."""

from collections.abc import Mapping
from dataclasses import dataclass

from lowside.core.handbook.charts import Chart
from lowside.core.handbook.procedure import Caution, Procedure
from lowside.core.handbook.psychrometrics import PsychrometricTable
from lowside.core.handbook.refrigerants import Refrigerant
from lowside.core.handbook.saturation import PropertyTable


@dataclass(frozen=True)
class Handbook:
    """`refrigerants` and `tables` have the same keys: designations as `R-410A`, in list order."""

    version: str
    """Content hash of the property tables; every session records which judged it."""
    refrigerants: Mapping[str, Refrigerant]
    tables: Mapping[str, PropertyTable]
    psychrometrics: PsychrometricTable
    charts: Mapping[str, Chart]
    """By name: `charts.TARGET_SUPERHEAT` and `charts.TARGET_SPLIT`."""
    procedures: Mapping[str, Procedure]
    cautions: Mapping[str, Caution]
