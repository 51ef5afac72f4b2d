// Who was told: a name and a role, picked with one touch or typed.

import { el } from "./dom.js";
import { textField } from "./fields.js";
import { tiles } from "./choices.js";
import { ROLES } from "../words.js";

/** How many names are offered at once: more would push the rest off the screen. */
const OFFERED = 4;

/**
 * @param told {name, role} so far @param onChange called with the changes, and whether to draw again
 * @param options {people: [{name, role}] to pick from, label: what the field asks for}
 */
export function toldFields(told, onChange, { people = [], label = "Who was told (name)" } = {}) {
  return el(
    "div",
    { class: "told" },
    people.length ? names(people.slice(0, OFFERED), told, onChange) : null,
    textField({ label, value: told.name ?? "", onInput: (name) => onChange({ name }, false) }),
    tiles(
      ROLES.map((role) => ({ says: role, chosen: told.role === role, act: () => onChange({ role }, true) })),
      { label: "Role" },
    ),
  );
}

function names(people, told, onChange) {
  return tiles(
    people.map(({ name, role }) => ({
      says: name,
      hint: role || null,
      chosen: told.name === name,
      act: () => onChange({ name, role }, true),
    })),
    { label: "Somebody known" },
  );
}

/** What the event carries: null until there is a name. */
export function toldData(told, at) {
  const name = (told?.name ?? "").trim();
  return name ? { name, role: told.role ?? "", at } : null;
}
