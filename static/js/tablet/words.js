// What the screens call things. Texts of rules and first aid come from the rulebook, never from here.

/** How a visit can end without all its blood, in the trade's words. [code, words, hint] */
export const NOT_DRAWN = [
  ["refused", "Refused", "the patient said no"],
  ["away", "Patient unavailable", "not in the room"],
  ["not_ready", "Not ready", "not fasting, too early, being treated"],
  ["already_drawn", "Already drawn", "by someone else"],
  ["discharged", "Discharged", "gone home or moved"],
  ["no_vein", "Unable to obtain", "no vein, no flow"],
  ["restricted", "No arm may be used", "both closed"],
  ["unsafe", "Unsafe", "for the patient or for you"],
  ["handed_over", "Handed over", "a colleague or the nurse draws"],
];

/** How the reason of a visit begins that ended because its time was over. */
export const WINDOW_MISSED = "window missed";

/** Endings where somebody has to be told. */
export const TELL_SOMEONE = new Set(["refused", "no_vein", "no_identity", "restricted", "unsafe"]);

const ENDED = {
  collected: "drawn, labelled, bagged",
  partly: "partly drawn",
  refused: "refused",
  away: "patient unavailable",
  not_ready: "not ready",
  discharged: "discharged",
  already_drawn: "already drawn",
  no_identity: "identity not settled",
  no_vein: "unable to obtain",
  restricted: "no arm may be used",
  unsafe: "unsafe",
  handed_over: "handed over",
  cancelled: "cancelled",
};

export const endedWords = (outcome) => ENDED[outcome] ?? outcome;

/** What can go wrong, grouped by where one looks for it. */
export const WRONG = [
  ["Patient", ["faint", "seizure", "vomiting", "fall", "allergic"]],
  ["Arm", ["haematoma", "arterial", "nerve_pain", "long_bleeding"]],
  ["You", ["needlestick", "splash"]],
  ["Tubes", ["mislabel_caught", "wrong_patient", "other"]],
];

export const INCIDENT = {
  faint: "Faint",
  seizure: "Seizure",
  vomiting: "Vomiting",
  fall: "Fall",
  allergic: "Rash, swelling, breathing",
  haematoma: "Swelling arm",
  arterial: "Bright red, pulsing",
  nerve_pain: "Shooting pain",
  long_bleeding: "Prolonged bleeding",
  needlestick: "Needlestick",
  splash: "Splash in the face",
  mislabel_caught: "Wrong label",
  wrong_patient: "Wrong patient",
  other: "Something else",
};

export const ROLES = ["nurse", "charge nurse", "doctor", "colleague"];

export const SEVERITIES = [
  ["none", "none"],
  ["mild", "mild"],
  ["moderate", "moderate"],
  ["severe", "severe"],
  ["death", "death"],
  ["unknown", "not known"],
];

export const ANTISEPTICS = [
  ["isopropyl_70", "70 % isopropyl", "alcohol"],
  ["chlorhexidine_2", "2 % chlorhexidine", "blood cultures"],
  ["povidone_iodine", "Povidone-iodine", "dries slowly"],
  ["other", "Something else", ""],
];

export const NEEDLES = [
  ["straight", "Straight", "tube holder"],
  ["winged", "Winged set", "butterfly"],
  ["syringe", "Syringe", ""],
];
export const GAUGES = ["21", "22", "23"];

export const RESTRICTION = {
  fistula: "fistula or graft",
  lymph_nodes: "lymph nodes removed",
  iv: "infusion running",
  other: "by order",
};

/** Why something was done all the same. */
export const REASONS = [
  "It had happened already",
  "No other way was safe",
  "The patient asked for it",
  "Nurse or doctor agreed",
];

export const QUESTIONS = {
  arm_preference: [
    "Which arm would be better?",
    [
      ["left", "left arm"],
      ["right", "right arm"],
      ["none", "either arm"],
    ],
  ],
  fainted_before: [
    "Ever fainted when blood was drawn?",
    [
      ["yes", "yes"],
      ["no", "no"],
      ["unknown", "not known"],
    ],
  ],
  blood_thinner: [
    "Taking a blood thinner?",
    [
      ["yes", "yes"],
      ["no", "no"],
      ["unknown", "not known"],
    ],
  ],
  latex: [
    "Allergic to latex?",
    [
      ["yes", "yes"],
      ["no", "no"],
      ["unknown", "not known"],
    ],
  ],
  fasting: [
    "Nothing to eat since midnight?",
    [
      ["yes", "fasting"],
      ["no", "has eaten"],
      ["unknown", "not known"],
    ],
  ],
};

/** The answer that "nothing applies" stands for. */
export const NOTHING = {
  arm_preference: "none",
  fainted_before: "no",
  blood_thinner: "no",
  latex: "no",
  fasting: "yes",
};

/** The same, said. */
export const NOTHING_WORDS = {
  arm_preference: "either arm",
  fainted_before: "never fainted",
  blood_thinner: "no blood thinner",
  latex: "no latex allergy",
  fasting: "fasting",
};

const side = (data) => (data.side ? `, ${data.side} arm` : "");
const SAVED = {
  arrived: () => "arrived",
  identity_taken: (data) =>
    ({ spoken: "said by the patient", band: "band read", vouched: "vouched for" })[data.source],
  band_missing: () => "no band",
  asked: ({ question, answer }) =>
    `${ASKED[question] ?? question}: ${question === "arm_preference" && answer === "none" ? "either" : answer.replace("_", " ")}`,
  site_chosen: (data) => `site: ${data.side} ${data.place.replace("_", " ")}`,
  tourniquet_on: (data) => `tourniquet on${side(data)}`,
  tourniquet_off: (data) => `tourniquet off${side(data)}`,
  skin_cleaned: () => "skin cleaned",
  skin_dry: () => "skin dry",
  site_touched: () => "site touched again",
  needle_in: (data) => `needle in${data.gauge ? `, ${data.gauge} gauge` : ""}`,
  needle_out: (data) => `needle out${data.guard_on ? ", guarded" : ""}`,
  tube_filled: (data, tube) => (data.volume_ml ? `${tube} filled, ${data.volume_ml} mL` : `${tube} full`),
  tube_mixed: (data, tube) => `${tube} mixed`,
  tube_discarded: (data, tube) => `${tube} discarded`,
  tube_added: (data, tube) => `${tube} added`,
  pressure_on: () => "pressure on",
  site_looked: (data) => (data.bleeding === false ? "site dry" : "still bleeding"),
  taped: () => "taped",
  label_printed: (data, tube) => `label of ${tube} sent to the printer`,
  label_read: (data, tube) => `label of ${tube} read`,
  attempt_ended: (data) => `attempt: ${data.outcome.replace("_", " ")}`,
  incident_opened: (data) => `${INCIDENT[data.kind] ?? data.kind}: begun`,
  incident_noted: () => "note written",
  tube_bagged: (data, tube) => `${tube} bagged`,
  tube_handed_over: (data, tube) => `${tube} handed over at the laboratory`,
  went_ahead: () => "it happened all the same",
  visit_ended: (data) => (data.reason?.startsWith(WINDOW_MISSED) ? data.reason : endedWords(data.outcome)),
  corrected: (data) => (data.data === null ? "taken back" : "put right"),
};
const ASKED = {
  consent: "consent",
  fasting: "fasting",
  blood_thinner: "blood thinner",
  latex: "latex",
  fainted_before: "fainted before",
  arm_preference: "arm",
};

/** One event in a few words; `what` is what the screens call its container: "tube 2", "bottle 1". */
export function savedWords(event, what = "tube") {
  return (SAVED[event.kind] ?? (() => event.kind))(event.data ?? {}, what);
}
