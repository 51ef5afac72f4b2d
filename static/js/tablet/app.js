// Draws what the desk says, and nothing else: one screen at a time, head and clocks always.

import { clockBand } from "./parts/strap.js";
import { headBar, receiptLine, stage } from "./parts/frame.js";
import { alarmTick, readySound } from "./parts/alarm.js";
import { clockTime } from "./parts/when.js";
import { cautions } from "./screens/cautions.js";
import { round } from "./screens/round.js";
import { rulesRefused } from "./screens/rules_refused.js";
import { settleFirst } from "./screens/settle_first.js";
import { broken, missing, noPacket, notSaved } from "./screens/trouble.js";
import { PAGES, STEPS, TABLET_PAGES } from "./screens/index.js";
import { spokenName } from "./screens/common.js";

const TICK_MS = 200;
// How long something said in passing stands.
const PASSING_MS = 4000;
// A second touch of the same knuckle must not hit the button that has just taken the first one's place.
const SETTLE_MS = 320;

export class App {
  #drawn = { name: null, acts: null, key: "" };
  #receipt = receiptLine();
  #clocks = null;
  #endScan = null;
  #passing = null;

  /** @param root the element to draw into @param desk of desk.js @param engine of engine.js */
  constructor(root, desk, engine) {
    Object.assign(this, { root, desk, engine });
  }

  /** Begins: reads what the tablet holds, then draws whenever something changes. */
  async start() {
    if (this.engine.missing.length) return this.#show(missing(this.engine.missing));
    this.root.addEventListener("pointerdown", readySound, { once: true });
    this.engine.subscribe(() => this.#headOnly());
    if (await this.engine.ready) await this.desk.open(() => this.draw());
    this.draw();
    setInterval(() => this.#tick(), TICK_MS);
    return undefined;
  }

  /** Draws the screen anew. One that cannot be drawn says so, and leaves a way out: the record goes on elsewhere. */
  draw() {
    try {
      this.#show(this.#screen());
    } catch (error) {
      reportError(error);
      this.#show(broken(this.desk, error));
    }
  }

  #screen() {
    const { desk } = this;
    if (desk.trouble) return notSaved(desk);
    const page = desk.place.over.at(-1) ?? null;
    if (page && TABLET_PAGES[page.name]) return TABLET_PAGES[page.name](desk);
    if (!desk.packet) return noPacket(desk);
    if (desk.place.cautionsSeen !== desk.cautionsKey()) return cautions(desk);
    if (desk.rulesFault() && !desk.isUnderWay()) return rulesRefused(desk);
    const view = desk.view();
    if (!view) return round(desk);
    const first = page?.name === "note" ? null : desk.firstToSettle();
    if (first) return settleFirst(desk, first);
    return page && PAGES[page.name] ? PAGES[page.name](view, desk, page) : STEPS[view.step](view, desk);
  }

  #show(screen) {
    const before = keepsake(this.root, screen.name === this.#drawn.name);
    const view = this.desk.packet && !this.engine.missing.length ? this.desk.view() : null;
    const clocks = this.desk.packet && !this.engine.missing.length ? this.desk.clocks() : [];
    this.#clocks = clocks.length ? clockBand(clocks, this.desk.moment()) : null;
    this.#listen(screen.onScan ?? null);
    const framed = stage(this.root, {
      head: this.#head(view),
      clocks: this.#clocks,
      screen,
      receipt: this.#receipt,
    });
    this.#settle(framed, screen);
    this.#drawn = { name: screen.name, acts: actsOf(screen), key: this.desk.clockKey() };
    this.#showReceipt();
    giveBack(this.root, before);
  }

  #settle(framed, screen) {
    const acts = framed.querySelector(".acts");
    if (!acts || this.#drawn.acts === actsOf(screen)) return;
    acts.inert = true;
    setTimeout(() => {
      acts.inert = false;
    }, SETTLE_MS);
  }

  #notTaken() {
    this.#passing = {
      says: "that scan was not taken: nothing is read here",
      until: this.desk.moment().mono_ms + PASSING_MS,
    };
    this.#showReceipt();
  }

  #showReceipt() {
    const isFresh = this.#passing && this.desk.moment().mono_ms < this.#passing.until;
    this.#receipt.show(isFresh ? { says: this.#passing.says, onUndo: null } : this.desk.receipt());
  }

  #listen(onScan) {
    this.#endScan?.();
    // A scan nobody waits for is swallowed: its Enter must not press whatever has the focus.
    this.#endScan = this.engine.onScan(onScan ?? (() => this.#notTaken()));
  }

  #head(view) {
    const { desk } = this;
    const { status } = this.engine;
    const who = desk.packet?.people?.[desk.packet.by]?.short ?? "";
    const settled = view && (view.done.band.record_number || view.done.needle) && !["identity_stop", "no_band", "not_checked"].includes(view.step);
    return headBar({
      where: view
        ? `Room ${view.visit.room} · bed ${view.visit.bed}`
        : (desk.packet?.round?.name ?? "Bedside"),
      name: settled ? spokenName(view.patient.name) : null,
      onWhere: view ? () => desk.openPage("story") : null,
      onRound: view && !view.done.ended ? () => desk.leaveVisit() : null,
      notes: desk.packet ? desk.openNotes().length : 0,
      onNotes: () => desk.openNotesPage(),
      right: [
        desk.packet
          ? {
              says: `orders ${clockTime(desk.packet.made_at, desk.packet.zone)}`,
              look: isOld(desk, status) ? "act" : "plain",
            }
          : null,
        {
          says:
            status.state === "sign-in"
              ? "sign in again"
              : status.unsent
                ? `${status.unsent} unsent`
                : "all sent",
          look:
            status.heldBack || status.state === "no-store"
              ? "stop"
              : status.state === "sign-in"
                ? "act"
                : "plain",
        },
        who ? { says: who } : null,
      ].filter(Boolean),
      onRight: () => desk.openPage("this_tablet"),
    });
  }

  #headOnly() {
    const head = this.root.querySelector(".head");
    if (!head) return;
    if (this.#drawn.name === "no_packet" || this.#drawn.name === "this_tablet") return void this.draw();
    head.replaceWith(this.#head(this.desk.packet ? this.desk.view() : null));
  }

  #tick() {
    const now = this.desk.moment();
    this.#clocks?.tick(now);
    for (const live of this.root.querySelectorAll("[data-live]")) live.tick(now);
    this.#showReceipt();
    if (this.#clocks?.dataset.tone === "stop") alarmTick(now.mono_ms, this.desk.place.sound !== "off");
    if (this.desk.clockKey() !== this.#drawn.key && !isTyping(this.root)) this.draw();
  }
}

/** What can be touched under the thumb, in words: when it changes, nothing is taken for a moment. */
const actsOf = ({ main, row }) => [main, ...(row ?? [])].map((action) => action?.says ?? "").join("|");

const isOld = (desk, status) => (status.newestRevision ?? 0) > desk.packet.revision;

const isTyping = (root) =>
  Boolean(root.contains(document.activeElement) && document.activeElement.matches("input, textarea"));

// Where the eye and the focus were, to be given back when the same screen is drawn again.
function keepsake(root, same) {
  const touchable = [...root.querySelectorAll("button, input, textarea, a")];
  const field = document.activeElement?.matches?.("input, textarea") ? document.activeElement : null;
  return {
    same,
    scroll: root.querySelector(".body")?.scrollTop ?? 0,
    focus: touchable.indexOf(document.activeElement),
    caret: field?.selectionStart ?? null,
  };
}

function giveBack(root, before) {
  if (!before.same) return root.querySelector(".sentence")?.focus({ preventScroll: true });
  const body = root.querySelector(".body");
  if (body) body.scrollTop = before.scroll;
  const touchable = [...root.querySelectorAll("button, input, textarea, a")];
  const focused = touchable[before.focus];
  focused?.focus({ preventScroll: true });
  if (before.caret !== null && focused?.setSelectionRange)
    focused.setSelectionRange(before.caret, before.caret);
  return undefined;
}
