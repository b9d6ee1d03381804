"""What is said of coil and condenser needs no word for glide: many refrigerants have none.

READ: a training article takes the mean of dew and bubble for what the air meets. The technician's
chart of R-22 or R-410A has one column, and no screen explains “midpoint”: an average is true of
either kind. The wording is our choice.
"""

import pytest
from advice_cases import opening, read, valve_unit

from lowside.core.advice.doubts import beside_the_target
from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.findings import sentence
from lowside.core.judging.sentences import SENTENCES


def test_no_sentence_names_a_midpoint() -> None:
    assert [code for code, text in SENTENCES.items() if "midpoint" in text] == []


@pytest.mark.parametrize(
    ("figures", "told"),
    [
        # Superheat, subcooling, the coil below return air, condensing above outdoor air [K].
        ((7.0, 1.0, 25.6, 12.0), "mean coil temperature low"),
        ((7.0, 1.0, 19.0, 19.7), "mean condensing above outdoor air high"),
        ((7.0, 5.0, 13.9, 12.0), "The indoor coil averages only 25.0 °F below return air"),
        ((7.0, 5.0, 19.0, 17.3), "Condensing averages 31.1 °F above outdoor air"),
        ((2.5, 1.0, 27.0, 12.0), "The indoor coil averages "),
    ],
)
def test_signs_and_doubts_speak_of_averages(
    figures: tuple[float, float, float, float], told: str, handbook: Handbook
) -> None:
    state = read(opening(valve_unit()), handbook, 60.0, *figures)
    newest = state.readings[0]
    assert newest.assessment is not None
    said = [sentence(each, state.units) for each in newest.assessment.findings]
    said.append(beside_the_target(state, newest) or "")
    assert told in " ".join(said)
    assert "midpoint" not in " ".join(said)
