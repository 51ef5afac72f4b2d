// A PIN for this person on this tablet: typed twice, kept nowhere.

import { lines } from "../parts/choices.js";
import { digitsField } from "../parts/digits_field.js";
import { SHORTEST, weakness } from "../vault/pin.js";

export function choosePin(lock, person) {
  const { first, says, isBusy } = lock.state;
  const again = first !== null;
  const go = (pin) => lock.choosePin(person, pin, weakness);
  const field = digitsField({
    label: again ? "PIN, once more" : "New PIN",
    secret: true,
    autocomplete: "new-password",
    most: 12,
    value: lock.typed,
    onType: (digits) => lock.type(digits),
    onEnter: go,
  });
  return {
    name: again ? "pin_again" : "choose_pin",
    sentence: again ? "The same PIN once more" : `${person.name}: choose a PIN for this tablet`,
    aside: `At least ${SHORTEST} digits. It never leaves this tablet; ten wrong ones wipe your round from it.`,
    body: [says ? lines([says], "stop") : null, field.node],
    main: { says: isBusy ? "Locking it up" : again ? "Use this PIN" : "Go on", off: isBusy, act: () => go(field.digits()) },
    row: [{ says: "Somebody else", act: () => signIn(lock) }],
  };
}

export const signIn = (lock) =>
  lock.toSignIn(() => {
    location.href = "/sign-in?next=/tablet/";
  });
