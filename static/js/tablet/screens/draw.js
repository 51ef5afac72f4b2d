// The draw: a rack in the order of draw, and one button that takes the next thing.
// No tap is demanded; what is missed is put in afterwards.

import { isBottle } from "../carrying.js";
import { volumeWords } from "../child.js";
import { alternatives } from "../parts/choices.js";
import { rack } from "../parts/rack.js";
import { capColour, wordsFor } from "../parts/tube.js";
import { exactVolume } from "./door.js";
import { containerOf, Numbered, numbered, wrong } from "./common.js";
import { SHARES, volumeOf } from "./short.js";

export function draw(v, desk) {
  const next = nextOf(v);
  const on = Object.keys(v.done.tourniquet)[0] ?? null;
  const over = next ? desk.ahead([fill(v, next)[0]]).stops[0] : null;
  return {
    name: "draw",
    sentence: v.over.tourniquet ? "Tourniquet off now" : over ? over.says : sentence(v, next, on),
    aside: over ? over.do_next : (shortWords(v) ?? volumeWords(v, { brief: true })),
    body: [
      rack(v.done.tubes, v.book.containers, {
        inHand: next?.id,
        lines: (tube, container) => [capColour(container), join(stateOf(v, tube, next), toFill(v, tube))],
        onTube: (tube) =>
          tube.filled ? desk.openPage("tube", { tube: tube.id }) : desk.act(fill(v, tube)),
        says: (tube, container) =>
          `${Numbered(tube)}, ${wordsFor(container, tube)}, ${tube.filled ? "full: more" : "is full now"}`,
      }),
      next && !over ? shortLine(v, desk, next) : null,
    ],
    main: mainAct(v, desk, { next, on, over }),
    row: rowOf(v, desk, { next, on, over }),
  };
}

// OD-17: from a syringe the bottle without air comes first (secondary source)
function nextOf(v) {
  const noAir = v.done.needle.kind === "syringe" && v.done.open.find(({ kind }) => kind === "culture-anaerobic");
  return noAir || (v.done.open[0] ?? null);
}

// The ordinary tap says "full"; one tap beside it says how far, and the same tap says that it is the last of it.
function shortLine(v, desk, tube) {
  const picked = (share) =>
    share === "ml"
      ? desk.openPage("short", { tube: tube.id })
      : desk.act(fill(v, tube, volumeOf(tube, share)));
  return alternatives(
    `${Numbered(tube)} is short`,
    [...SHARES.filter(([share]) => share !== "1"), ["ml", "mL"]],
    null,
    picked,
    { slim: true },
  );
}

// What the rules say about a tube that stayed short, while there is still a needle in to do something about it.
function shortWords(v) {
  const short = v.verdict?.findings.find(({ code }) => code === "tube-short-fill");
  return short ? `${short.says} ${short.do_next}` : null;
}

const join = (...words) => words.filter(Boolean).join(", ");

const toFill = (v, tube) => (tube.filled ? null : exactVolume(v, tube));

function sentence(v, next, on) {
  if (!next)
    return on ? "Tourniquet off, then the needle out" : "Last one off the holder, gauze, needle out";
  const mixing = v.inversions(next) ? ", then mix it once" : "";
  return `Fill ${numbered(next)}, ${wordsFor(containerOf(v, next), next)}${mixing}`;
}

// At the limit the panel is the tourniquet, whatever is next; the frame lets no knuckle on its way through.
function mainAct(v, desk, { next, on, over }) {
  if (next && !over && !v.over.tourniquet)
    return {
      says: `${Numbered(next)} is full`,
      hint: "touch anywhere here, a knuckle will do",
      look: "panel",
      act: () => desk.act(fill(v, next)),
    };
  if (on)
    return {
      says: "Tourniquet off",
      hint: v.over.tourniquet ? "it has been on for too long" : "before the needle comes out",
      look: "panel",
      act: () => desk.act([{ kind: "tourniquet_off", data: { side: on } }]),
    };
  return {
    says: "Needle out",
    hint: "guarded, in the sharps box, gauze pressed on",
    look: "panel",
    act: () => desk.act(out(v)),
  };
}

// Nothing stands here that the panel says already.
function rowOf(v, desk, { next, on, over }) {
  const noFlow = { says: "No blood flows", act: () => desk.setDraft({ noFlow: true }) };
  const guard = { says: "Out, but the guard did not click", act: () => desk.act(out(v, false)) };
  // Over the limit, whoever may allow it has allowed it: that is a reason, and it is written down.
  const allowed = over ? { says: "Allowed, with a reason", act: () => desk.actWithReason(fill(v, next)) } : null;
  if (!next || over) return [allowed, on ? null : guard, wrong(desk)].filter(Boolean);
  if (v.over.tourniquet && on)
    return [{ says: `${Numbered(next)} is full`, act: () => desk.act(fill(v, next)) }, noFlow, wrong(desk)];
  const first = on
    ? {
        says: "Tourniquet off",
        look: v.over.ready ? "act" : "plain",
        act: () => desk.act([{ kind: "tourniquet_off", data: { side: on } }]),
      }
    : { says: "Needle out", act: () => desk.act(out(v)) };
  return [first, noFlow, wrong(desk)];
}

/** A tube filled, and the first inversion on the way; `volume` in mL, null for full. */
export function fill(v, tube, volume = null) {
  const mix = v.inversions(tube) ? [{ kind: "tube_mixed", data: { tube: tube.id, inversions: 1 } }] : [];
  return [{ kind: "tube_filled", data: { tube: tube.id, volume_ml: volume ?? fullOf(tube) } }, ...mix];
}

// A tube stops by itself at its nominal volume; a bottle is stopped by hand, at the volume planned for it.
export const fullOf = (tube) => (isBottle(tube) ? (tube.draw_ml ?? null) : null);

// One movement, several events; the attempt is over when nothing was left unfilled.
function out(v, guarded = true) {
  const over = v.done.open.length === 0 ? [{ kind: "attempt_ended", data: { outcome: "drawn" } }] : [];
  return [{ kind: "needle_out", data: { guard_on: guarded } }, { kind: "pressure_on" }, ...over];
}

/** A tube's state in a word or two. */
export function stateOf(v, tube, next) {
  if (tube.discarded) return "discarded";
  if (tube.readRight) return "label read";
  if (tube.filled) return tube.mixed ? `mixed ${tube.mixed}` : "full";
  if (tube.id === next?.id) return "now";
  return v.done.open[1]?.id === tube.id ? "next" : "";
}
