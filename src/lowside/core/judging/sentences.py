"""What each finding says, by code. `{name}` is replaced by a fact of the finding, `{signs}` for the
readings that say so. Every sentence that asks for care says what to look at."""

SENTENCES: dict[str, str] = {
    # What cannot be known
    "missing": "Still missing: {what}.",
    "no_table": "{refrigerant} has no property table here. No figure can be trusted.",
    "out_of_table": (
        "{what} of {pressure} is outside the table of {refrigerant} ({lowest} to {highest}). "
        "Check the gauge and the refrigerant."
    ),
    "wet_bulb_out_of_table": (
        "The wet bulb cannot be worked out for {dry_bulb} and {humidity}. Measure it with a wet "
        "sock on the thermometer."
    ),
    "method_unknown": "Choose how this unit’s charge is judged.",
    # Targets
    "target_maker_subcooling": "subcooling {target} ± {tolerance}; {tolerance_source}",
    "target_maker_superheat": "superheat {target} ± {tolerance}; {tolerance_source}",
    "target_chart": (
        "superheat {target} ± {tolerance}; chart at {outdoor} outdoors and {wet_bulb} indoor wet "
        "bulb; {tolerance_source}"
    ),
    "target_formula": (
        "The chart ends before {outdoor} outdoors and {wet_bulb} indoor wet bulb. A rule of thumb "
        "gives {target} ± {tolerance}. The rule itself may be off by {formula_error}. The "
        "manufacturer’s figure is better."
    ),
    "below_chart": (
        "The chart gives {usual} in this weather: nothing is missing by it. Read the instructions "
        "again."
    ),
    "above_chart": (
        "The chart gives {usual} in this weather, far less than the target. Read the instructions "
        "again."
    ),
    "no_test": (
        "No valid test at {outdoor} outdoors and {wet_bulb} indoor wet bulb: the superheat is too "
        "small to charge by. Warm the space, or come back when it is cooler outside."
    ),
    "outside_chart": (
        "The chart gives no superheat for {outdoor} outdoors and {wet_bulb} indoor wet bulb. Use "
        "the manufacturer’s figure, or weigh in the charge."
    ),
    "target_points": (
        "{quantity} {target} ± {tolerance} {tolerance_source}; by points of this unit’s chart at "
        "{outdoor} outdoors"
    ),
    "outside_points": (
        "The {air} is {today}. The typed points of this unit’s chart reach from {lowest} to "
        "{highest}. Type a point on the other side of today, or weigh in the charge."
    ),
    "outside_point": (
        "The {air} is {today}, and the typed point of this unit’s chart is for {lowest}. Type "
        "points on both sides of today, or weigh in the charge."
    ),
    "points_no_line": (
        "No line goes through the typed points of this unit’s chart. They must differ in outdoor "
        "air or in wet bulb, not in both."
    ),
    "short_side_unasked": (
        "Manufacturers differ on which side of a pressure chart means undercharged. Answer it at "
        "the target by this unit’s instructions, or charge by another method."
    ),
    "pressure_alone": (
        "The chart’s pressure and the other readings disagree. Nothing is charged by a pressure "
        "alone. Check gauges, clamps, airflow, and which side the instructions call undercharged."
    ),
    "valve_by_superheat": (
        "An expansion valve evens out superheat and suction pressure, so neither shows its charge. "
        "Use the manufacturer’s subcooling."
    ),
    "metering_unknown": (
        "Superheat can be judged only when the metering device is known. Look at the indoor coil."
    ),
    "by_weight": (
        "Charged by weight: {total} in all. The label says {nameplate}, the line set adds "
        "{line}. Readings do not show how much is inside."
    ),
    "by_weight_without_line": (
        "Charged by weight: the nameplate says {nameplate}. The line set is not given. Readings "
        "do not show how much is inside."
    ),
    "target_maker_approach": "approach {target} ± {tolerance}; {tolerance_source}",
    "short_line_unasked": (
        "The line set is shorter than the nameplate covers. The manufacturer says whether "
        "that takes charge off. Answer it on the unit’s step."
    ),
    # The verdict by the target
    "add_pressure": (
        "The pressure, {value}, is {gap} off the chart’s {target} ± {tolerance}, on the side that "
        "this unit’s instructions call undercharged."
    ),
    "on_target_pressure": "The pressure, {value}, is within the chart’s {target} ± {tolerance}.",
    "over_pressure": (
        "The pressure, {value}, is {gap} off the chart’s {target} ± {tolerance}, so "
        "overcharged. Recover some, never vent it."
    ),
    "add_approach": "Approach {value} is {gap} above the target of {target} ± {tolerance}.",
    "on_target_approach": "Approach {value} is within {target} ± {tolerance}.",
    "over_approach": (
        "Approach {value} is {gap} below the target of {target} ± {tolerance}: overcharged. "
        "Recover some, never vent it."
    ),
    "add_superheat": "Superheat {value} is {gap} above the target of {target} ± {tolerance}.",
    "add_subcooling": "Subcooling {value} is {gap} below the target of {target} ± {tolerance}.",
    "on_target_superheat": "Superheat {value} is within {target} ± {tolerance}.",
    "on_target_subcooling": "Subcooling {value} is within {target} ± {tolerance}.",
    "over_superheat": (
        "Superheat {value} is {gap} below the target of {target} ± {tolerance}: overcharged. "
        "Recover some, never vent it."
    ),
    "over_subcooling": (
        "Subcooling {value} is {gap} above the target of {target} ± {tolerance}: overcharged. "
        "Recover some, never vent it."
    ),
    # Pressure and freezing
    "above_rating": (
        "Stop the unit. Liquid pressure {pressure} is above the unit’s rating of {limit}. Check "
        "the outdoor fan and coil, then for air and overcharge."
    ),
    "near_switch": (
        "The high side condenses at {condensing} on average. High-pressure switches open from "
        "there on, and charge raises it. Check the outdoor coil and fan, or come back when it is "
        "cooler."
    ),
    "plate_first": (
        "The high side condenses at {condensing} on average, near the limit of many units. "
        "First type the nameplate’s highest high-side pressure at the unit. If it has none, weigh "
        "in the charge."
    ),
    "freezing": (
        "The indoor coil averages {coil}, below freezing, as missing charge can make it. "
        "With ice on the coil add nothing: thaw it, check filter and blower, read again."
    ),
    "iced": (
        "The indoor coil averages {coil}, below freezing, with superheat {superheat}: ice may keep "
        "air off it. Thaw it, check filter and blower, read again."
    ),
    "vacuum": (
        "Stop the unit. Suction pressure {pressure} is not above atmospheric pressure: a leak "
        "draws air in, and the compressor is harmed. Find the leak or the restriction, recover, "
        "evacuate and weigh in."
    ),
    "starved": (
        "Switch an air conditioner or heat pump off: it is nearly empty. Suction pressure "
        "{pressure} is too low to run on: such thin gas hardly cools the compressor. Small shots "
        "do not help. Find the leak or the restriction, recover, evacuate and weigh in."
    ),
    "low_suction": (
        "Switch an air conditioner or heat pump off: suction pressure {pressure} is too low to run "
        "on. Find the cause first. Low-temperature refrigeration runs this low."
    ),
    # Conditions of the method
    "outdoor_cold": (
        "It is {outdoor} outdoors. Charging by readings needs at least {limit}. Weigh in the "
        "charge, or use the manufacturer’s cold-weather procedure."
    ),
    "outdoor_hot": (
        "It is {outdoor} outdoors. The widest manufacturer’s chart ends at {limit}. Come back "
        "when it is cooler, or weigh in the charge."
    ),
    "indoor_cold": (
        "Return air is {return_air}. Charging by readings needs at least {limit}. Warm the space "
        "first."
    ),
    "outdoor_cold_papers": (
        "It is {outdoor} outdoors. The manufacturer asks for at least {limit}: come back when it "
        "is warmer, or weigh in the charge."
    ),
    "outdoor_hot_papers": (
        "It is {outdoor} outdoors. The manufacturer allows at most {limit}: come back when it is "
        "cooler, or weigh in the charge."
    ),
    "outdoor_by_papers": (
        "It is {outdoor} outdoors, outside the published limit of {limit}. Allowed by this unit’s "
        "instructions."
    ),
    "indoor_cold_papers": (
        "Return air is {return_air}. The manufacturer asks for at least {limit}: warm the space "
        "first."
    ),
    "indoor_hot_papers": (
        "Return air is {return_air}. The manufacturer allows at most {limit}: let the space cool "
        "down first."
    ),
    "indoor_by_papers": (
        "Return air is {return_air}, outside the published limit of {limit}. Allowed by this "
        "unit’s instructions."
    ),
    "indoor_warm": (
        "Return air is {return_air}. The manufacturers’ charging charts end at {limit}. Let the "
        "space cool down before you trust the last few degrees."
    ),
    "current_high": (
        "The compressor draws {current}, above its rated {limit}. An undercharged unit draws "
        "less. Check voltage, capacitor and head pressure."
    ),
    "static_high": (
        "Static pressure {static} is above the blower’s {limit}: airflow is too low to judge the "
        "charge by. Check filter, coil, registers and ducts."
    ),
    "retrofit_label": (
        "A retrofit label names {refrigerant}, the nameplate {nameplate}. The manufacturer’s "
        "figures are for {nameplate}. Use the figures in the retrofit instructions."
    ),
    "fixed_by_subcooling": (
        "A fixed orifice shows its charge in superheat. Use subcooling only if the instructions "
        "print it."
    ),
    "superheat_floor": (
        "Superheat is {superheat}. Below {limit} liquid comes too near the compressor. "
        "Check the clamp, the indoor airflow and the metering device."
    ),
    "approach_gross": (
        "The approach is {gap} off. The method does not work on a unit that far from its charge. "
        "Use superheat and subcooling, or weigh in."
    ),
    "indoor_hot": (
        "Return air is {return_air}. The published table of the air’s temperature drop ends at "
        "{limit}. Let the space cool down first."
    ),
    "long_line": (
        "The line set is {length} long. Beyond {limit} follow the manufacturer’s long-line "
        "guideline, not these figures."
    ),
    "liquid_backs_up": (
        "Superheat is high, but the liquid line is only {above} above outdoor air: liquid backs "
        "up. Check the filter drier, the lines and the metering device."
    ),
    "not_cooling": (
        "Supply air {supply} is not colder than return air {return_air}: the unit is not cooling. "
        "Check its mode, the compressor and both air thermometers."
    ),
    "split_high": (
        "Air cools by {split}, expected {target} ± {tolerance}: low airflow over the coil. Check "
        "filter, blower, coil and registers."
    ),
    "split_bars": (
        "Low indoor airflow, not low charge: air cools by {split}, expected {target} ± "
        "{tolerance}. Check filter, blower, coil and registers first."
    ),
    "split_low": (
        "Air cools by {split}, expected {target} ± {tolerance}: low capacity or high airflow. "
        "Read it again before you judge."
    ),
    "line_above_air": (
        "A suction line of {suction_line} and return air of {return_air} do not go together. Are "
        "the clamps swapped? Shade the clamp, press it on bare, clean pipe and hold the other "
        "thermometer beside it."
    ),
    "coil_near_return": (
        "An indoor coil at {coil} on average and return air of {return_air} do not go together. "
        "Check the suction gauge, the refrigerant and the air thermometer."
    ),
    "supply_below_coil": (
        "Supply air of {supply} and a coil at {coil} do not go together. Check the air thermometer "
        "and the suction gauge."
    ),
    "liquid_line_below_outdoor": (
        "The liquid line ({liquid_line}) is colder than the outdoor air ({outdoor}). Check the "
        "clamp. Feel for a cold drop across the filter drier."
    ),
    "condensing_below_outdoor": (
        "The high side condenses at {condensing} (bubble), colder than the outdoor air "
        "({outdoor}). Check that the unit runs, the gauge’s zero, the refrigerant and that the "
        "outdoor thermometer is in the shade. If all are right, it is nearly empty: recover and "
        "weigh in."
    ),
    "approach_contradicted": (
        "Approach says add ({approach}), subcooling does not ({subcooling}): the heat does not get "
        "out. Check the outdoor coil and fan, the clamp, and that the outdoor thermometer is in "
        "the shade."
    ),
    "no_liquid": (
        "The liquid line ({liquid_line}) is hotter than the dew point ({dew}), so there is no "
        "liquid in it. Check that the clamp is on the small liquid pipe. If it is, the unit is "
        "nearly empty: find the leak first."
    ),
    "floodback": (
        "Superheat is only {superheat}, less than the instruments can tell from none: liquid can "
        "reach the compressor. Check the clamp, the indoor airflow and the metering device."
    ),
    "liquid_return": (
        "Superheat is {superheat}: liquid is reaching the compressor. Check the clamp, the indoor "
        "airflow and the metering device."
    ),
    # Patterns
    "undercharge": "Signs: {signs}.",
    "undercharge_valve": "Signs: {signs}. The valve still holds the superheat.",
    "overcharge": (
        "Looks overcharged: {signs}. Air inside looks the same, so check for it. Switch "
        "the compressor off. Let only the outdoor fan run until air leaves the coil as "
        "warm as it enters. Then compare its pressure with saturation at that temperature."
    ),
    "low_airflow": (
        "Looks like low indoor airflow, not low charge: {signs}. Check filter, blower, coil and "
        "registers."
    ),
    "airflow_first": (
        "Low indoor airflow, not low charge: {signs}. An undercharged unit cools the air less, "
        "not more. Check filter, blower, coil and registers first."
    ),
    "low_outdoor_airflow": (
        "Looks like low outdoor airflow, not a wrong charge: {signs}. Check the outdoor coil for "
        "dirt, the fan and anything that blocks or recirculates its air."
    ),
    "head_held": (
        "Condensing averages {above} above cool outdoor air: the fan’s control holds it up. "
        "Where the fan cycles, the readings swing with it. Let it run steadily, or weigh in."
    ),
    "drier": (
        "The line is colder after the filter drier: a restriction, and charge does not mend it. "
        "Recover, repair it by the manufacturer’s instructions, evacuate and weigh in."
    ),
    "restriction": (
        "Looks like a restriction, not low charge: {signs}. Check for a temperature drop across "
        "the filter drier, a kinked line, and the metering device."
    ),
    "restriction_possible": (
        "Superheat says add, subcooling does not: {signs}. That is a restriction as often as low "
        "charge. Check for a temperature drop across the filter drier and look at the orifice."
    ),
    "restriction_overcharge": (
        "Looks like a restriction, with charge added on top of it: {signs}. Check the filter "
        "drier, the lines and the metering device before you change the charge."
    ),
    "weak_compressor": (
        "Check that the unit runs. It looks like a compressor that does not pump, or a leaking "
        "reversing valve: {signs}. Read outdoor air again, in the shade where the coil draws it in."
        " Then check the compressor’s current and the temperatures of the reversing valve’s pipes."
    ),
    "high_head": (
        "The high side is too high for an undercharged unit: {signs}. Check the outdoor coil and "
        "fan, then for air inside."
    ),
    "overfed": (
        "Looks like a metering device that lets too much through: {signs}. Check the piston’s "
        "size and seat and the indoor airflow before you change the charge."
    ),
    "valve_floods": (
        "The expansion valve lets too much through: {signs}. Check its bulb (tight, insulated, in "
        "place) and the indoor airflow."
    ),
    "valve_superheat_high": (
        "The expansion valve starves the coil: {signs}. Read the liquid side too. Low subcooling "
        "means low charge, normal subcooling a restriction or the valve."
    ),
    "subcooling_needed": (
        "High superheat alone cannot tell low charge from a restriction: {signs}. Read liquid "
        "pressure and liquid line too."
    ),
    "low_superheat": (
        "Low superheat means overcharged or low indoor airflow: {signs}. Check the airflow before "
        "you recover any."
    ),
    "subcooling_high": (
        "Subcooling is high for a fixed orifice: {signs}. Check for a partly blocked orifice or "
        "filter drier."
    ),
    "suction_low": (
        "The low side is colder than return air explains: {signs}. Check filter, blower and coil."
    ),
    "no_lift": (
        "Suction pressure {suction} is not below liquid pressure {liquid}. The compressor does not "
        "pump, or the gauges are swapped. Correct the reading if it was mistyped."
    ),
    "no_current": (
        "A compressor that draws {current} is off. If it runs, put the clamp around one wire only. "
        "Correct the reading if it was mistyped, or leave the current empty."
    ),
    "vapour_below_dew": (
        "The suction line at {suction_line} is colder than {refrigerant} vapor can be at "
        "{pressure}: {dew}. Liquid comes back, the unit just stopped, or clamp, gauge or "
        "refrigerant is wrong. Correct the reading if it was mistyped."
    ),
    "wet_above_dry": (
        "A wet bulb of {wet_bulb} cannot be above the dry bulb of {dry_bulb}. Check which is which "
        "and correct the reading, or take a new one."
    ),
    "wet_against_humidity": (
        "A humidity of {humidity} does not go with a wet bulb of {wet_bulb}. Correct the reading "
        "or leave one of them empty, or measure both again."
    ),
    # Cylinder
    "contents_agree": (
        "Pressure {pressure} fits {refrigerant} at {temperature} ({lowest} to {highest})."
    ),
    "contents_high": (
        "Do not charge from this cylinder until this is settled. Pressure {pressure} is above "
        "{refrigerant} at {temperature} ({lowest} to {highest}). Another refrigerant or air is "
        "inside, or the cylinder is warmer than its skin shows."
    ),
    "contents_low": (
        "Do not charge from this cylinder until this is settled. Pressure {pressure} is below "
        "{refrigerant} at {temperature} ({lowest} to {highest}). No liquid is left, another "
        "refrigerant is inside, or the cylinder has been colder."
    ),
    "contents_half": "The pressure check needs both: the cylinder’s pressure and its temperature.",
    "contents_out_of_table": (
        "{temperature} is outside the table of {refrigerant}. Its pressure cannot be checked."
    ),
    "cylinder_cold": (
        "By {by}, the cylinder is at {cylinder}, not above the suction pressure, {suction}. The "
        "unit would run into the cylinder."
    ),
    "cylinder_hot": (
        "Keep away from the cylinder and move people away. It is at {temperature}, above {limit}. "
        "Let it cool in the shade. Never heat one with a flame."
    ),
    "liquid_only": (
        "{refrigerant} is a blend. It must leave the cylinder as liquid, or what stays behind is "
        "no longer {refrigerant}. {how}"
    ),
    "liquid_preferred": "{refrigerant} may leave as liquid or vapor. {how}",
    "high_side_above_cylinder": (
        "The high side ({liquid}) is above the cylinder ({cylinder}). Feed the low side only: "
        "opened to the high side, the unit would push refrigerant into the cylinder."
    ),
    "cylinder_empty": "The cylinder is empty by its weight: {net} left above the tare.",
    "not_enough": (
        "{net} left, but {needed} may be needed. Have a second, weighed cylinder at hand."
    ),
    "barely_enough": (
        "{net} left for an estimated {needed}. It may run out as vapor before the end."
    ),
    # Weights
    "weights_disagree": (
        "{first} and {second} differ by {difference}. Scale steps and hoses explain only {allowed}."
    ),
    "weights_agree": "Any difference is within scale steps and hoses.",
    "no_start_weight": "Without a start weight the shots cannot be checked.",
    "no_end_weight": "Without an end weight the shots cannot be checked.",
    "no_scale_step": "The scale’s smallest step is not known, so differences cannot be judged.",
    "unweighed_shots": "{count} shots have no weight. Their sum is only part of what went in.",
    "one_unweighed_shot": "One shot has no weight. The sum is only part of what went in.",
    "scale_lost": (
        "The scale was not read after the last shot. Its running total ends before that shot."
    ),
}
