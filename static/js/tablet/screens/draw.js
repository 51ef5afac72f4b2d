// The draw: a rack in the order of draw, and one button that takes the next thing.
// No tap is demanded; what is missed is put in afterwards.

import { rack } from "../parts/rack.js";
import { capColour, wordsFor } from "../parts/tube.js";
import { containerOf, wrong } from "./common.js";

export function draw(v, desk) {
  const next = v.done.open[0] ?? null;
  const on = Object.keys(v.done.tourniquet)[0] ?? null;
  const over = next ? desk.ahead([fill(v, next)[0]]).stops[0] : null;
  return {
    name: "draw",
    sentence: v.over.tourniquet ? "Tourniquet off now" : over ? over.says : sentence(v, next, on),
    aside: over ? over.do_next : null,
    body: [
      rack(v.done.tubes, v.book.containers, {
        inHand: next?.id,
        lines: (tube, container) => [capColour(container), stateOf(v, tube, next)],
        onTube: (tube) => tube.filled || desk.act(fill(v, tube)),
        says: (tube, container) =>
          `Tube ${tube.number}, ${wordsFor(container, tube)}, ${tube.filled ? "full" : "is full now"}`,
      }),
    ],
    main: mainAct(v, desk, { next, on, over }),
    row: [
      {
        says: on ? "Tourniquet off" : "Tourniquet is off",
        off: !on,
        look: v.over.ready && on ? "act" : "plain",
        act: () => desk.act([{ kind: "tourniquet_off", data: { side: on } }]),
      },
      v.done.needle.filled
        ? { says: "Needle out", act: () => desk.act(out(v)) }
        : { says: "No blood flows", act: () => desk.setDraft({ noFlow: true }) },
      wrong(desk),
    ],
  };
}

function sentence(v, next, on) {
  if (!next)
    return on ? "Tourniquet off, then the needle out" : "Last tube off the holder, gauze, needle out";
  const mixing = v.inversions(next) ? ", then mix it once" : "";
  return `Fill tube ${next.number}, ${wordsFor(containerOf(v, next), next)}${mixing}`;
}

// What the button means changes only by a tap, never by the clock: a knuckle on its way must not hit something else.
function mainAct(v, desk, { next, on, over }) {
  if (next && !over)
    return {
      says: `Tube ${next.number} is full`,
      hint: "touch anywhere here, a knuckle will do",
      look: "panel",
      act: () => desk.act(fill(v, next)),
    };
  if (on)
    return {
      says: "Tourniquet off",
      hint: "before the needle comes out",
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

function fill(v, tube) {
  const mix = v.inversions(tube) ? [{ kind: "tube_mixed", data: { tube: tube.id, inversions: 1 } }] : [];
  return [{ kind: "tube_filled", data: { tube: tube.id, volume_ml: null } }, ...mix];
}

// One movement, several events; the attempt is over when nothing was left unfilled.
function out(v) {
  const over = v.done.open.length === 0 ? [{ kind: "attempt_ended", data: { outcome: "drawn" } }] : [];
  return [{ kind: "needle_out", data: { guard_on: true } }, { kind: "pressure_on" }, ...over];
}

/** A tube's state in a word or two. */
export function stateOf(v, tube, next) {
  if (tube.discarded) return "discarded";
  if (tube.readRight) return "label read";
  if (tube.filled) return tube.mixed ? `mixed ${tube.mixed}` : "full";
  if (tube.id === next?.id) return "now";
  return v.done.open[1]?.id === tube.id ? "next" : "";
}
