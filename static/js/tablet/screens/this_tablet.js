// This tablet: what is unsent, what was set aside, the last contact, the version, light and sound, and the way out.

import { el } from "../parts/dom.js";
import { alternatives, lines } from "../parts/choices.js";
import { handOut } from "../parts/hand_out.js";
import { clockTime, dayIn } from "../parts/when.js";
import { light, setLight } from "../parts/light.js";

const STATE = {
  "first-contact": "not connected to a house yet",
  quiet: "all is sent",
  reaching: "sending",
  waiting: "no answer, tries again by itself",
  "sign-in": "nobody is signed in: what you record is sent, new orders wait for a sign-in",
  "other-house": "another house answers: nothing is sent to it",
  "no-store": "this tablet cannot save",
};

export function thisTablet(desk) {
  const { status } = desk.engine;
  const zone = desk.packet?.zone;
  return {
    name: "this_tablet",
    sentence: status.unsent ? `${status.unsent} saved here, not sent yet` : "This tablet",
    aside: STATE[status.state] ?? status.state,
    body: [
      lines([...warnings(status, desk.packet)], "stop"),
      desk.refreshSays ? lines([desk.refreshSays], "act") : null,
      alternatives(
        "Light",
        [
          ["night", "night"],
          ["day", "day"],
        ],
        light(),
        (each) => {
          setLight(each);
          desk.redraw();
        },
      ),
      alternatives(
        "Tick of the tourniquet alarm",
        [
          ["on", "heard"],
          ["off", "silent"],
        ],
        desk.place.sound ?? "on",
        (sound) => desk.keep({ sound }),
      ),
      el(
        "div",
        { class: "tiles" },
        small("Send now", () => desk.engine.tryAgain()),
        small("Ask for new orders", () => desk.refresh()),
        small("Lock now", () => desk.lock()),
        small("Hand this tablet back", () => desk.openPage("hand_back")),
        small("Unsent as a file", () => exportUnsent(desk)),
        status.update ? small("Take the new version", () => desk.engine.takeOver()) : null,
        el(
          "a",
          { class: "tile", href: "/sign-in?next=/tablet/", data: { rank: "row" } },
          el("b", {}, status.person ? "Sign out, or another person" : "Sign in for new orders"),
        ),
        el(
          "a",
          { class: "tile", href: "/what-this-protects", data: { rank: "row" } },
          el("b", {}, "What this protects"),
        ),
      ),
      el(
        "dl",
        { class: "facts" },
        facts(desk, status, zone).map(([term, words]) => [el("dt", {}, term), el("dd", {}, words)]),
      ),
    ],
    main: { says: "Back", look: "quiet", act: () => desk.closePage() },
    row: [],
  };
}

const small = (says, act) =>
  el("button", { class: "tile", type: "button", onclick: act, data: { rank: "row" } }, el("b", {}, says));

function warnings(status, packet) {
  return [
    status.revoked
      ? "This tablet was taken out of use. Finish the visit that has begun: then its round is wiped. What you record is kept, and a person at the house looks at it."
      : null,
    status.state === "other-house"
      ? "The house was restored from a backup, or is another one. Leave the visit: if it is the same house, the tablet goes on with it by itself and sends again what it lacks."
      : null,
    status.clockSetBack
      ? "The clock of this tablet was set back: the times you record are wrong until it reaches the house. Its round lasts no longer for it."
      : null,
    status.trouble ? `${status.trouble.says} ${status.trouble.do_next}` : null,
    status.lost
      ? `This tablet had saved ${status.lost.seq} events and has lost them. Tell whoever keeps the house.`
      : null,
    status.heldBack
      ? `${status.heldBack} events are kept here because the server will not take them. Hand them over as a file.`
      : null,
    ...(status.otherHouses ?? []).map(
      (other) => `${other.unsent} unsent events of another house lie on this tablet.`,
    ),
    status.damaged
      ? `${status.damaged} records on this tablet were changed or damaged and are not shown. What they reported is sent.`
      : null,
    status.persisted === false
      ? "This browser may drop what is saved when the disk is full. Send often."
      : null,
    ...(packet?.practice_mode ?? []),
  ].filter(Boolean);
}

function facts(desk, status, zone) {
  return [
    ["Not sent yet", String(status.unsent ?? 0)],
    ["Set aside by the server", String(status.setAside ?? 0)],
    ["Last contact", status.lastContactAt ? clockTime(status.lastContactAt, zone) : "none yet"],
    ["Orders as of", desk.packet ? clockTime(desk.packet.made_at, zone) : "none"],
    ["Good until", desk.packet?.until ? clockTime(desk.packet.until, zone) : ""],
    ["Lab directory", directoryWords(desk.packet?.directory, zone)],
    ["Rulebook", (desk.packet?.rulebook_hash ?? "").slice(7, 19)],
    ["Version", String(desk.engine.build ?? "")],
    ["Enrolled as", status.named ?? "not enrolled"],
    ["Tablet", String(status.tablet ?? "").slice(0, 13)],
  ];
}

/** "208182749b57, signed by Otto Lindahl on 2026-11-25": which of the laboratory's directories the round was made with. */
function directoryWords(directory, zone) {
  if (!directory) return "";
  const version = directory.version.replace("sha256:", "").slice(0, 12);
  return directory.signed_by
    ? `${version}, signed by ${directory.signed_by} on ${dayIn(directory.signed_at, zone)}`
    : `${version}, built in, signed by nobody`;
}

async function exportUnsent(desk) {
  handOut("unsent-events.jsonl", await desk.engine.exportUnsent());
}
