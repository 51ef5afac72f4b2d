// Who was told: a name and a role, typed or picked.

import { el } from "./dom.js";
import { textField } from "./fields.js";
import { tiles } from "./choices.js";
import { ROLES } from "../words.js";

/** @param told {name, role} so far @param onChange called with the changes, and whether to draw again */
export function toldFields(told, onChange) {
  return el(
    "div",
    { class: "told" },
    textField({
      label: "Who was told (name)",
      value: told.name ?? "",
      onInput: (name) => onChange({ name }, false),
    }),
    tiles(
      ROLES.map((role) => ({ says: role, chosen: told.role === role, act: () => onChange({ role }, true) })),
      { label: "Role" },
    ),
  );
}

/** What the event carries: null until there is a name. */
export function toldData(told, at) {
  const name = (told?.name ?? "").trim();
  return name ? { name, role: told.role ?? "", at } : null;
}
