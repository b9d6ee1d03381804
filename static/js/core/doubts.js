// Twin of src/lowside/core/doubts.py: signs that this unit is not short of charge but ill.

import { Unknown } from "./findings.js";
import { Target } from "./targets.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./state.js").Taken} Taken */

export const WARMER_THAN_LIQUID_K = -2.2;

/** Why charge should not go on although the target calls for it; `null` when nothing speaks
 * against it. @param {State} _state @param {Taken} basis @returns {string | null} */
export function doubt(_state, basis) {
  const assessment = basis.assessment;
  if (assessment === null || !(assessment.target instanceof Target)) {
    return null;
  }
  const subcooling = assessment.subcooling_k;
  if (!(subcooling instanceof Unknown) && subcooling < WARMER_THAN_LIQUID_K) {
    return (
      "The liquid line reads warmer than this refrigerant can be at this pressure: check " +
      "the clamp, the gauge, and that the unit holds what its nameplate says."
    );
  }
  return null;
}
