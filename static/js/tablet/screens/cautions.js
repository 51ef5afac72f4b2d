// The first screen after sign-in: what this app is, what it is not, and what is not built yet.

import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";

export function cautions(desk) {
  const practice = desk.packet?.practice_mode ?? [];
  return {
    name: "cautions",
    sentence: "Before the round",
    body: [
      lines([
        "For trained staff who are authorised to draw blood here.",
        "Your site’s policy, the law and the judgement of licensed practitioners come first." +
          " Where they differ from this app, follow them.",
        "Not a medical device. It reminds and records; it does not decide.",
        "The limits are your site’s to set and sign. Each one names its source.",
      ]),
      practice.length ? el("h2", { class: "group-name" }, "Not built yet") : null,
      lines(practice, "act"),
    ],
    main: { says: "I have read this", act: () => desk.cautionsSeen() },
    row: [],
  };
}
