// A closed arm was chosen: nothing has happened yet, so there is nothing to record "all the same".
// Another arm; or a written order opens this one, by the name of who wrote it.

import { el } from "../parts/dom.js";
import { armPicture, placeText } from "../parts/arms.js";
import { tiles } from "../parts/choices.js";
import { textField } from "../parts/fields.js";
import { wordingOf } from "./finding_words.js";
import { byOrder, wrong } from "./common.js";

export function closedArm(v, desk, page) {
  const { side, place, why } = page;
  const words = wordingOf(v.book, "site-restricted", "stop");
  return {
    name: "closed_arm",
    tone: "stop",
    sentence: `${side.toUpperCase()} arm closed: ${why}`,
    body: [
      el("p", { class: "do-next" }, words.do_next),
      el("div", { class: "one-arm" }, armPicture(side, { closed: true, place })),
      textField({
        label: "Only by a written order: who wrote it (name and role)",
        value: page.orderedBy ?? "",
        onInput: (orderedBy) => desk.setPage({ orderedBy }, false),
      }),
      tiles([{ says: "By this written order: use the arm", hint: placeText(place), act: () => use(desk) }], {
        wide: true,
      }),
      el("p", { class: "trouble", role: "status" }, page.isNameless ? "Put in who wrote the order." : ""),
      el("p", { class: "finding-source" }, words.source),
    ],
    main: { says: "Another arm", act: () => desk.closePage() },
    row: [
      { says: "Neither arm", act: () => desk.openPage("not_drawn", { outcome: "restricted" }) },
      wrong(desk),
    ],
  };
}

async function use(desk) {
  const { side, place, orderedBy = "" } = desk.place.over.at(-1);
  if (!orderedBy.trim()) return desk.setPage({ isNameless: true });
  const chosen = { kind: "site_chosen", data: { side, place }, id: desk.newId() };
  desk.closePage();
  return desk.act(byOrder(chosen, `written order by ${orderedBy.trim()}`), {
    side: null,
    sitePlace: null,
    skipLook: false,
    lookAgain: true,
    bare: false,
  });
}
