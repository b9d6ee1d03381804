"""What a refrigerant that can burn asks for before charging, beside the checks of every unit.

Asked only for safety classes that burn (A2L, A2, A3). Sources: READ in manuals' text on servicing
flammable refrigerants, as named beside each.
"""

from collections.abc import Mapping

from lowside.core.handbook.refrigerants import Refrigerant, flammable
from lowside.core.session.block import STOP, Block

FLAMMABLE_QUESTIONS: dict[str, str] = {
    "flammable_detector": "refrigerant detector",
    "flammable_air": "ventilation and ignition sources",
    "flammable_ground": "grounding",
    "flammable_gear": "gear rated for flammables",
    "flammable_covers": "covers on live parts",
}
"""The questions, as a sentence names them."""


def questions_for(refrigerant: Refrigerant | None) -> dict[str, str]:
    """The questions this refrigerant asks besides; none when it does not burn or is not known."""
    if refrigerant is None or not flammable(refrigerant):
        return {}
    return FLAMMABLE_QUESTIONS


def flammable_blocks(refrigerant: Refrigerant | None, checks: Mapping[str, str]) -> list[Block]:
    """What each “no” asks for first."""
    found: list[Block] = []
    for name in questions_for(refrigerant):
        if checks.get(name, "") == "no":
            found.append(_block(name))
    return found


def _block(name: str) -> Block:
    if name == "flammable_detector":
        # READ: check with a detector before and during work (servicing text, item 6.4; 135SAN).
        return Block(
            "flammable_detector",
            "No detector watches for this refrigerant, which can burn.",
            "Switch on a detector made for it and check the area, then answer the checks again.",
            form="preconditions",
        )
    if name == "flammable_air":
        # READ: open or ventilated area, no flame or other ignition source (items 6.2 and 6.3;
        # DDR p. 8, item 10).
        return Block(
            "flammable_air",
            "This refrigerant can burn, and the area is not ventilated or something can ignite it.",
            "Add nothing. Ventilate, put out flames and switch off ignition sources, then answer "
            "the checks again.",
            STOP,
            "preconditions",
        )
    if name == "flammable_ground":
        # READ: ground the system before charging (42QHC p. 7, HomePointe p. 13).
        return Block(
            "flammable_ground",
            "The unit and the gear are not grounded, and a static spark can ignite this "
            "refrigerant.",
            "Check the unit’s ground and bond the gear to it, then answer the checks again.",
            form="preconditions",
        )
    if name == "flammable_gear":
        # READ: recovery machine with sealed electrics, cylinders for that refrigerant, leak-free
        # couplings (BEUPC p. 21, AMC p. 26).
        return Block(
            "flammable_gear",
            "The gear is not rated for a refrigerant that can burn.",
            "Get hoses, scale and recovery gear rated for it, then answer the checks again.",
            form="preconditions",
        )
    # READ: only intrinsically safe parts are worked on live (DDR p. 8, item 8).
    return Block(
        "flammable_covers",
        "Live electrical parts are open beside a refrigerant that can burn.",
        "Put the covers on, then answer the checks again.",
        form="preconditions",
    )
