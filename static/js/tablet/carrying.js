// What a visit has to have with it besides the tubes. Pure.

// TD-14 to TD-16: ice slurry, 37 C, out of the light. SK-04, SK-06: cultures. ST-14: winged set. ST-19: gloves.
const CARE = {
  ice: { says: "ice slurry", hint: "no direct contact with the ice" },
  "37C": { says: "warm pack, 37 °C", hint: "tube and holder warmed before" },
  "protect-from-light": { says: "foil", hint: "wrap the tube at once" },
};

// Common practice, no source; the sign on the door comes first.
const GEAR = {
  contact: "gown and gloves",
  droplet: "mask and eye protection",
  airborne: "fitted respirator",
};

/** What is needed at this bed and not at every other: [{key, says, hint}]. */
export function needsOf(visit) {
  const { patient, tubes } = visit;
  return [
    visit.isolation
      ? need(`isolation ${visit.isolation}`, `${visit.isolation} precautions`, GEAR[visit.isolation] ?? "as the door says")
      : null,
    ...Object.entries(CARE).map(([word, { says, hint }]) => careFor(tubes, word, says, hint)),
    tubes.some(isBottle)
      ? need("culture", "blood culture kit", "2 % chlorhexidine, alcohol wipes for the bottle tops")
      : null,
    patient.latex_allergy ? need("latex", "gloves and tourniquet without latex", "latex allergy") : null,
  ].filter(Boolean);
}

function careFor(tubes, word, says, hint) {
  return tubes.some((tube) => tube.handling?.includes(word)) ? need(word, says, hint) : null;
}

const need = (key, says, hint) => ({ key, says, hint });

/** Whether this is a culture bottle. */
export const isBottle = (tube) => String(tube.kind).startsWith("culture");
