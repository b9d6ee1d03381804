"""What each finding says, by code. `{name}` stands for a fact of the finding, `{signs}` for the
readings that say so. Every sentence that asks for care says what to look at."""

SENTENCES: dict[str, str] = {
    # What cannot be known
    "missing": "Still missing: {what}.",
    "no_table": "{refrigerant} has no property table here, so no figure can be trusted.",
    "out_of_table": (
        "{what} of {pressure} is outside what is known of {refrigerant} ({lowest} to {highest}). "
        "Check the gauge and the refrigerant."
    ),
    "wet_bulb_out_of_table": (
        "The wet bulb cannot be worked out for {dry_bulb} and {humidity}. Measure it with a wet "
        "sock on the thermometer."
    ),
    "method_unknown": "Choose how this unit’s charge is judged.",
    # Targets
    "target_maker_subcooling": "subcooling {target} ± {tolerance} {tolerance_source}",
    "target_maker_superheat": "superheat {target} ± {tolerance} {tolerance_source}",
    "target_chart": (
        "superheat {target} ± {tolerance} {tolerance_source}; chart at {outdoor} outdoors and "
        "{wet_bulb} wet bulb"
    ),
    "target_formula": (
        "The chart ends before {outdoor} outdoors and {wet_bulb} wet bulb. A rule of thumb gives "
        "{target}, plus or minus {tolerance}, of which {formula_error} is the rule’s own error. "
        "The maker’s figure is better."
    ),
    "no_test": (
        "No valid test: at {outdoor} outdoors and {wet_bulb} indoor wet bulb the superheat is too "
        "small to charge by. Warm the space or come back when it is cooler outside."
    ),
    "outside_chart": (
        "The chart gives no superheat for {outdoor} outdoors and {wet_bulb} indoor wet bulb. Use "
        "the maker’s figure, or weigh the charge in."
    ),
    "target_points": (
        "{quantity} {target} ± {tolerance} {tolerance_source}; by points of this unit’s chart at "
        "{outdoor} outdoors"
    ),
    "outside_points": (
        "The typed points of this unit’s chart do not enclose today’s weather ({outdoor} "
        "outdoors). Type a point for it, or weigh the charge in."
    ),
    "valve_by_superheat": (
        "An expansion valve holds superheat by itself, so superheat does not show its charge. Use "
        "the maker’s subcooling."
    ),
    "metering_unknown": (
        "Superheat can only be judged when the metering device is known. Look at the indoor coil."
    ),
    "by_weight": (
        "Charged by weight: {total} in all, {nameplate} on the nameplate and {line} for the line "
        "set. Readings do not show how much of it is inside."
    ),
    "by_weight_without_line": (
        "Charged by weight: {nameplate} on the nameplate, no line set given. Readings do not show "
        "how much of it is inside."
    ),
    "target_maker_approach": "approach {target} ± {tolerance} {tolerance_source}",
    "short_line_unasked": (
        "The line set is shorter than the nameplate covers. Whether that takes charge off is the "
        "manufacturer’s say: answer it on the unit’s step."
    ),
    # The verdict by the target
    "add_approach": (
        "Approach {value} is {gap} above the target of {target} ± {tolerance}: charge is missing."
    ),
    "on_target_approach": "Approach {value} is within {target} ± {tolerance}.",
    "over_approach": (
        "Approach {value} is {gap} below the target of {target} ± {tolerance}: there is too much "
        "inside. Recover some, never vent it."
    ),
    "add_superheat": (
        "Superheat {value} is {gap} above the target of {target} ± {tolerance}: charge is missing."
    ),
    "add_subcooling": (
        "Subcooling {value} is {gap} below the target of {target} ± {tolerance}: charge is missing."
    ),
    "on_target_superheat": "Superheat {value} is within {target} ± {tolerance}.",
    "on_target_subcooling": "Subcooling {value} is within {target} ± {tolerance}.",
    "over_superheat": (
        "Superheat {value} is {gap} below the target of {target} ± {tolerance}: there is too much "
        "inside. Recover some, never vent it."
    ),
    "over_subcooling": (
        "Subcooling {value} is {gap} above the target of {target} ± {tolerance}: there is too "
        "much inside. Recover some, never vent it."
    ),
    # Pressure and freezing
    "above_rating": (
        "Liquid pressure {pressure} is above the unit’s rating of {limit}. Close the low-side "
        "manifold valve, leave the cylinder valve open and stop the unit; check "
        "the outdoor fan and coil, then for air and overcharge."
    ),
    "freezing": (
        "Low-side saturation {dew} is below freezing, so the coil can ice up. Look for ice, thaw "
        "it and check filter, blower and coil before trusting the readings."
    ),
    "vacuum": (
        "Suction pressure {pressure} is not above atmospheric pressure: a leak draws air in, and "
        "the compressor is harmed. Stop the unit. Find the leak or the restriction, recover, "
        "evacuate and weigh in."
    ),
    "starved": (
        "Suction pressure {pressure} is too low to run on, so the unit is nearly empty. Below "
        "{limit} manufacturers warn of damage, and small shots do not help. Switch it off, find "
        "the leak, recover, evacuate and weigh in."
    ),
    # Conditions of the method
    "outdoor_cold": (
        "It is {outdoor} outdoors. Charging by readings needs at least {limit}: weigh the charge "
        "in, or use the maker’s cold-weather procedure."
    ),
    "outdoor_hot": (
        "It is {outdoor} outdoors, beyond the {limit} where the widest manufacturer’s chart ends. "
        "Come back when it is cooler, or weigh the charge in."
    ),
    "indoor_cold": (
        "Return air is {return_air}. Charging by readings needs at least {limit}: warm the space "
        "first."
    ),
    "outdoor_cold_papers": (
        "It is {outdoor} outdoors. This unit’s papers ask for at least {limit}: come back when it "
        "is warmer, or weigh the charge in."
    ),
    "outdoor_hot_papers": (
        "It is {outdoor} outdoors. This unit’s papers allow at most {limit}: come back when it is "
        "cooler, or weigh the charge in."
    ),
    "outdoor_by_papers": (
        "It is {outdoor} outdoors, outside the published limit of {limit}. Allowed by this unit’s "
        "papers."
    ),
    "indoor_cold_papers": (
        "Return air is {return_air}. This unit’s papers ask for at least {limit}: warm the space "
        "first."
    ),
    "indoor_hot_papers": (
        "Return air is {return_air}. This unit’s papers allow at most {limit}: let the space cool "
        "down first."
    ),
    "indoor_by_papers": (
        "Return air is {return_air}, outside the published limit of {limit}. Allowed by this "
        "unit’s papers."
    ),
    "indoor_warm": (
        "Return air is {return_air}; makers’ charging charts end at {limit}. Let the space cool "
        "down and read again before you trust the last few degrees."
    ),
    "current_high": (
        "The compressor draws {current}, above its rated {limit}. Missing charge makes it draw "
        "less. Check voltage, capacitor and head pressure."
    ),
    "static_high": (
        "Static pressure {static} is above the blower’s {limit}: too little air to judge the "
        "charge by. Check filter, coil, registers and ducts."
    ),
    "retrofit_label": (
        "A retrofit label names {refrigerant}, the nameplate {nameplate}. The manufacturer’s "
        "figures are for {nameplate}; use those of the retrofit papers."
    ),
    "fixed_by_subcooling": (
        "A fixed orifice shows its charge in superheat. Subcooling holds only where this unit’s "
        "papers print it."
    ),
    "superheat_floor": (
        "Superheat is {superheat}, and behind a fixed orifice it must not be below {limit}: "
        "liquid comes too near the compressor."
    ),
    "approach_gross": (
        "The approach is {gap} off. The method does not hold for a unit that far from its charge: "
        "use superheat and subcooling, or weigh in."
    ),
    "indoor_hot": (
        "Return air is {return_air}, above {limit} where the published table of the air’s "
        "temperature drop ends. Let the space cool down first."
    ),
    "long_line": (
        "The line set is {length} long. Beyond {limit} the manufacturer’s long-line guideline "
        "goes before these figures."
    ),
    "liquid_backs_up": (
        "Superheat is high, but the liquid line is only {above} above outdoor air: liquid backs "
        "up behind a restriction. Check the filter drier, the lines and the metering device."
    ),
    "not_cooling": (
        "Supply air {supply} is not colder than return air {return_air}: the unit is not cooling. "
        "Check its mode, the compressor and both air thermometers."
    ),
    "split_high": (
        "Air cools by {split}, expected {target} ± {tolerance}: too little air over the coil. "
        "Check filter, blower, coil and registers."
    ),
    "split_bars": (
        "Low indoor airflow, not low charge: air cools by {split}, expected {target} ± "
        "{tolerance}. Check filter, blower, coil and registers first."
    ),
    "split_low": (
        "Air cools by {split}, expected {target} ± {tolerance}: low capacity or too much air. "
        "Read it again before you judge."
    ),
    "liquid_line_below_outdoor": (
        "The liquid line ({liquid_line}) is colder than the outdoor air ({outdoor}), which the "
        "condenser cannot do. Check the clamp, and feel for a cold drop across the filter drier."
    ),
    "no_liquid": (
        "The liquid line ({liquid_line}) is hotter than vapour can be and still condense (dew "
        "point {dew}): no liquid there. Check that the clamp is on the small liquid pipe; if it "
        "is, the unit is nearly empty, so find the leak first."
    ),
    "floodback": (
        "Superheat is only {superheat}, less than the instruments can tell from none: liquid can "
        "reach the compressor. Add nothing. Check the clamp, the indoor airflow and the metering "
        "device."
    ),
    "liquid_return": (
        "Superheat {superheat}: liquid is reaching the compressor. Close the low-side "
        "manifold valve and leave the cylinder valve open. Check the clamp, the indoor airflow "
        "and the metering device."
    ),
    # Patterns
    "undercharge": "Looks like too little charge: {signs}.",
    "undercharge_valve": (
        "Looks like too little charge: {signs}. The valve still holds the superheat."
    ),
    "overcharge": (
        "Looks like too much charge: {signs}. Check for air inside, which looks the same: pump "
        "down or switch the compressor off, let only the outdoor fan run until air leaves the coil "
        "as warm as it enters, then compare its pressure with saturation at that temperature."
    ),
    "low_airflow": (
        "Looks like too little indoor air, not charge: {signs}. Check filter, blower, coil and "
        "registers."
    ),
    "airflow_first": (
        "Low indoor airflow, not low charge: {signs}. Missing charge alone cools the air "
        "less, not more. Check filter, blower, coil and registers first."
    ),
    "low_outdoor_airflow": (
        "Looks like too little outdoor air, not charge: {signs}. Check the outdoor coil for dirt, "
        "the fan and anything that blocks or recirculates its air."
    ),
    "restriction": (
        "Looks like a restriction, not missing charge: {signs}. Check for a temperature drop "
        "across the filter drier, a kinked line, and the metering device."
    ),
    "restriction_possible": (
        "Superheat alone asks for charge, subcooling does not: {signs}. That is a restriction as "
        "often as not. Check for a temperature drop across the filter drier and look at the "
        "orifice first."
    ),
    "restriction_overcharge": (
        "Looks like a restriction in a unit that was overfilled for it: {signs}. Check the filter "
        "drier, the lines and the metering device before changing the charge."
    ),
    "weak_compressor": (
        "Looks like a compressor that does not pump, or a leaking reversing valve: {signs}. Check "
        "its current and the temperatures of the reversing valve’s pipes."
    ),
    "high_head": (
        "High side too high for missing charge: {signs}. Check the outdoor coil and fan, then for "
        "air inside."
    ),
    "overfed": (
        "Looks like a metering device that lets too much through: {signs}. Check the piston’s "
        "size and seat and the indoor airflow before changing the charge."
    ),
    "valve_floods": (
        "The expansion valve lets too much through: {signs}. Check its bulb (tight, insulated, "
        "in place), and the indoor airflow."
    ),
    "valve_superheat_high": (
        "The expansion valve starves the coil: {signs}. Read the liquid side too and check it "
        "against the maker’s subcooling: low means charge, normal a restriction or the valve."
    ),
    "subcooling_needed": (
        "High superheat alone cannot tell missing charge from a restriction: {signs}. Read liquid "
        "pressure and liquid line too."
    ),
    "low_superheat": (
        "Low superheat can be too much charge or too little indoor air: {signs}. Check the "
        "airflow before you recover any."
    ),
    "subcooling_high": (
        "Subcooling is high for a fixed orifice: {signs}. Check for a part-blocked orifice or "
        "filter drier."
    ),
    "suction_low": (
        "The low side is colder than return air explains: {signs}. Check filter, blower and coil."
    ),
    # Entries that contradict each other
    "suction_above_liquid": (
        "Suction pressure {suction} is not below liquid pressure {liquid}. In a running unit it "
        "is: check that the gauges are not swapped and that it runs."
    ),
    "vapour_below_dew": (
        "The suction line cannot be at {suction_line}: at {pressure} {refrigerant} vapour is at "
        "least {dew}. Check the clamp, the gauge and the refrigerant."
    ),
    "wet_above_dry": (
        "A wet bulb of {wet_bulb} cannot be above the dry bulb of {dry_bulb}. Check which is which."
    ),
    # Cylinder
    "contents_agree": (
        "Pressure {pressure} fits {refrigerant} at {temperature} ({lowest} to {highest})."
    ),
    "contents_high": (
        "Pressure {pressure} is above {refrigerant} at {temperature} ({lowest} to {highest}): "
        "another refrigerant or air inside, or the cylinder is warmer than its skin shows. Do not "
        "charge from it until that is settled."
    ),
    "contents_low": (
        "Pressure {pressure} is below {refrigerant} at {temperature} ({lowest} to {highest}): no "
        "liquid left, another refrigerant, or the cylinder has been colder. Do not charge from it "
        "until that is settled."
    ),
    "contents_half": "The pressure check needs the cylinder’s pressure and temperature both.",
    "contents_out_of_table": (
        "{temperature} is outside what is known of {refrigerant}, so nothing can be checked."
    ),
    "cylinder_hot": (
        "The cylinder is at {temperature}, above {limit}. Keep away from it, move people away, "
        "and let it cool in the shade; never heat one with a flame."
    ),
    "liquid_only": (
        "{refrigerant} is a blend that must leave the cylinder as liquid, or what stays behind is "
        "no longer {refrigerant}. {how}"
    ),
    "liquid_preferred": "{refrigerant} may leave as liquid or vapour. {how}",
    "high_side_above_cylinder": (
        "The high side ({liquid}) is above the cylinder ({cylinder}): opened to each other, the "
        "unit would push refrigerant into the cylinder. Feed the low side only."
    ),
    "cylinder_empty": "The cylinder is empty by its weight: {net} left above the tare.",
    "not_enough": (
        "{net} left, but {needed} may be needed. Have a second cylinder at hand, weighed."
    ),
    "barely_enough": (
        "{net} left for an estimated {needed}: it may run out as vapour before the end."
    ),
    # Weights
    "weights_disagree": (
        "{first} and {second} differ by {difference}, more than the {allowed} that scale steps "
        "and hoses explain."
    ),
    "weights_agree": "The weights agree within what scale steps and hoses explain.",
    "no_start_weight": "Without a start weight the shots cannot be checked.",
    "no_end_weight": "Without an end weight the shots cannot be checked.",
    "no_scale_step": "The scale’s step is not known, so differences cannot be judged.",
    "unweighed_shots": ("{count} shots have no weight, so their sum is only part of what went in."),
    "one_unweighed_shot": "One shot has no weight, so the sum is only part of what went in.",
    "scale_lost": "The scale was not read after the last shot, so its running total stops there.",
}
