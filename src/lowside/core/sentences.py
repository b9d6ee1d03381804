"""The words of every finding. `{name}` is a fact in the user's units; `{signs}` the readings that
say so. Each says what it means and what to do."""

SENTENCES: dict[str, str] = {
    "missing": "Not known without {what}.",
    "pressure_out_of_table": (
        "{which} of {pressure} is outside what the property table holds, so nothing is computed "
        "from it. Check gauge, unit and refrigerant."
    ),
    "no_table": "There is no property table for {refrigerant}, so nothing is computed.",
    "wet_bulb_out_of_table": (
        "No wet bulb can be computed for {dry_bulb} at {humidity}. Check both, or measure it."
    ),
    "by_weight": (
        "Charged by weight: weigh the full charge into the evacuated unit. Superheat and "
        "subcooling are shown to check it."
    ),
    "valve_by_superheat": (
        "An expansion valve holds superheat by itself, so superheat says nothing about the charge. "
        "Use the maker’s subcooling."
    ),
    "metering_unknown": "Find the metering device first: it decides what the charge shows in.",
    "method_unknown": "Choose how this unit is judged first.",
    "no_test": (
        "At {outdoor} outdoors and {wet_bulb} wet bulb the chart gives no target: it would be "
        "below 5 °F, too little to judge by. Let the house warm up or come back later."
    ),
    "outside_chart": (
        "{outdoor} outdoors and {wet_bulb} wet bulb are outside the chart, and no rule of thumb is "
        "good enough there. Weigh the charge in, or come back in other weather."
    ),
    "target_chart": (
        "superheat {target} ± {tolerance} {tolerance_source}; chart at {outdoor} outdoors and "
        "{wet_bulb} wet bulb"
    ),
    "target_formula": (
        "superheat {target} ± {tolerance}: outside the chart, so by the rule of thumb, which is "
        "off by up to {formula_error} itself"
    ),
    "target_maker_subcooling": "subcooling {target} ± {tolerance} {tolerance_source}",
    "target_maker_superheat": "superheat {target} ± {tolerance} {tolerance_source}",
    "low_charge_subcooling": (
        "Subcooling {value} is under the target {target} ± {tolerance}: refrigerant is missing."
    ),
    "low_charge_superheat": (
        "Superheat {value} is over the target {target} ± {tolerance}: refrigerant is missing."
    ),
    "charge_right": "{quantity} {value} is within the target {target} ± {tolerance}.",
    "overcharge_subcooling": (
        "Subcooling {value} is over the target {target} ± {tolerance}: too much refrigerant, or a "
        "restriction. Recover some into a recovery cylinder; never vent it."
    ),
    "overcharge_superheat": (
        "Superheat {value} is under the target {target} ± {tolerance}: too much refrigerant, or "
        "too little air over the coil. Check the airflow first; recover, never vent."
    ),
    "over_pressure": (
        "Liquid pressure {pressure} is over the unit’s limit of {limit}. Shut the cylinder, stop "
        "the unit and find out why."
    ),
    "liquid_return": (
        "Superheat {value}: liquid may be reaching the compressor. Keep the cylinder shut; check "
        "airflow, the metering device and the clamp."
    ),
    "valve_superheat_low": (
        "Superheat {value} is too low behind an expansion valve (at least {limit}). Check its bulb "
        "and the airflow before adding anything."
    ),
    "restriction": (
        "{signs}: looks like a restriction, not a low charge. Feel for a cold spot at drier and "
        "valve; check the metering device. Do not add."
    ),
    "low_airflow": (
        "{signs}: looks like too little air over the indoor coil. Check filter, blower, coil, "
        "registers and ice. Do not add."
    ),
    "high_head": (
        "{signs}: the outdoor coil cannot get rid of its heat, or air is in the system. Clean coil, "
        "running fan? With the unit off and cooled down, does the pressure match the outdoor "
        "temperature? Do not add."
    ),
    "weak_compressor": (
        "{signs}: the compressor hardly pumps. Check its valves, a reversing valve that leaks "
        "through, and its current. Do not add."
    ),
    "outdoor_cold": (
        "{outdoor} outdoors is below the {limit} this test needs. Weigh the charge in, or use the "
        "maker’s cold-weather method."
    ),
    "outdoor_hot": "{outdoor} outdoors is above the {limit} the published chart ends at.",
    "indoor_cold": (
        "Return air of {return_air} is below {limit}. Let the house warm up; the test is not "
        "valid in a cold one."
    ),
    "coil_freezing": (
        "The low side boils at {dew}, below freezing: the coil will ice over. Check the airflow; "
        "a low charge can do it too."
    ),
    "split_high": (
        "Supply air is {split} colder than return air; {target} would be right. Airflow may be "
        "too low: check it before adding."
    ),
    "split_low": (
        "Supply air is only {split} colder than return air; {target} would be right. Capacity is "
        "low: charge, or something else."
    ),
    "cylinder_over": (
        "The cylinder shows {pressure} at {temperature}; {refrigerant} at rest would be {expected}. "
        "Air or another refrigerant is in it. Do not charge from it."
    ),
    "cylinder_under": (
        "The cylinder shows {pressure} at {temperature}; {refrigerant} at rest would be {expected}. "
        "Another refrigerant, no liquid left, or not at rest. Find out before charging from it."
    ),
    "cylinder_unreadable": (
        "No saturation pressure is known for {refrigerant} at {temperature}, so the contents "
        "cannot be checked."
    ),
}
