// The needle is out and some tubes have no tap: what was filled is put in now, marked as put in afterwards.

import { alternatives } from "../parts/choices.js";
import { capColour } from "../parts/tube.js";
import { rack } from "../parts/rack.js";
import { ml } from "../child.js";
import { fullOf } from "./draw.js";
import { countOf, Numbered, wrong } from "./common.js";
import { SHARES, volumeOf } from "./short.js";

export function afterwards(v, desk) {
  const { marked = [], shorts = {} } = v.draft;
  const shown = v.done.tubes.map((tube) =>
    marked.includes(tube.id) ? { ...tube, filled: true, volume: volumeIn(tube, shorts) } : tube,
  );
  const full = shown.filter((tube) => tube.filled && !tube.discarded);
  const last = v.done.open.find((tube) => tube.id === marked.at(-1));
  return {
    name: "afterwards",
    sentence: "Press. Which tubes are full?",
    aside: "Touch the ones that were filled.",
    body: [
      rack(shown, v.book.containers, {
        lines: (tube, container) => [capColour(container), wordsOf(tube, shorts)],
        onTube: (tube) => toggle(v, desk, tube),
        says: (tube) => `${Numbered(tube)} ${tube.filled ? "full" : "empty"}`,
      }),
      last ? howFull(desk, last, shorts) : null,
    ],
    main: mainAct(v, desk, full, { marked, shorts }),
    row: [...(full.length ? [] : nothing(desk)), wrong(desk)],
  };
}

const volumeIn = (tube, shorts) => shorts[tube.id] ?? tube.nominal_ml ?? null;

function wordsOf(tube, shorts) {
  if (!tube.filled) return "empty";
  const volume = shorts[tube.id] ?? (tube.volume < tube.nominal_ml ? tube.volume : null);
  return volume ? ml(volume) : "full";
}

function toggle(v, desk, tube) {
  if (!v.done.open.some((each) => each.id === tube.id)) return desk.openPage("tube", { tube: tube.id });
  const { marked = [], shorts = {} } = v.draft;
  const { [tube.id]: gone, ...others } = shorts;
  const isMarked = marked.includes(tube.id);
  return desk.setDraft({
    marked: isMarked ? marked.filter((id) => id !== tube.id) : [...marked, tube.id],
    shorts: isMarked ? others : { ...others, ...(gone ? { [tube.id]: gone } : {}) },
  });
}

// The tube touched last: full unless said otherwise.
function howFull(desk, tube, shorts) {
  const share = SHARES.find(([each]) => volumeOf(tube, each) === (shorts[tube.id] ?? null))?.[0] ?? "ml";
  const pick = (each) =>
    each === "ml"
      ? desk.openPage("short", { tube: tube.id, into: "marked" })
      : desk.setDraft({ shorts: { ...shorts, [tube.id]: volumeOf(tube, each) } });
  return alternatives(`${Numbered(tube)} is`, [...SHARES, ["ml", "mL"]], share, pick, { slim: true });
}

function mainAct(v, desk, full, { marked, shorts }) {
  const done = { marked: [], shorts: {} };
  if (full.length === 0) return { says: "All are full", act: () => desk.act(ended(v, v.done.open, {}), done) };
  const ids = v.done.open.filter((tube) => marked.includes(tube.id));
  const all = full.length === v.done.tubes.filter((tube) => !tube.discarded).length;
  const short = full.some((tube) => shorts[tube.id] || tube.volume < tube.nominal_ml);
  return {
    says: all ? (short ? "That is what was filled" : "All are full") : `${countOf(full)} filled, the others empty`,
    act: () => desk.act(ended(v, ids, shorts), done),
  };
}

const nothing = (desk) => [
  {
    says: "No blood flowed",
    act: () => desk.act([{ kind: "attempt_ended", data: { outcome: "no_flow" } }]),
  },
  { says: "I stopped", act: () => desk.act([{ kind: "attempt_ended", data: { outcome: "stopped" } }]) },
];

function ended(v, tubes, shorts) {
  const fills = tubes.map((tube) => ({
    kind: "tube_filled",
    data: { tube: tube.id, volume_ml: shorts[tube.id] ?? fullOf(tube), after: true },
  }));
  const filled = v.done.needle.filled + tubes.length;
  return [...fills, { kind: "attempt_ended", data: { outcome: filled ? "drawn" : "stopped" } }];
}
