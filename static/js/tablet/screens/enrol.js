// A new tablet: the code from the house's screen makes it the house's own.

import { lines } from "../parts/choices.js";
import { digitsField } from "../parts/digits_field.js";

export function enrol(lock) {
  const { says, isBusy } = lock.state;
  const go = (code) => lock.enrol(code);
  const field = digitsField({
    label: "Code",
    secret: false,
    autocomplete: "one-time-code",
    most: 8,
    value: lock.typed,
    onType: (digits) => lock.type(digits),
    onEnter: go,
  });
  return {
    name: "enrol",
    sentence: "Type the code for this tablet",
    aside: "Whoever keeps the house makes it under Tablets. It is typed once.",
    body: [says ? lines([says], "stop") : null, field.node],
    main: { says: isBusy ? "Asking the house" : "Enrol this tablet", off: isBusy, act: () => go(field.digits()) },
    row: [],
  };
}
