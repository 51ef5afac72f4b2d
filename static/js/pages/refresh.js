// Keeps a desk page fresh: <html data-refresh-every="30" data-refresh-at="…"> fetches itself again every so many seconds.
// The address it asks at is marked: looking again by itself must not keep anybody signed in. The mark is taken off the
// address bar at once, so that a person's own reload counts as theirs.
// Touches the page's "stale" line and the address; never a form somebody is filling in.

const seconds = Number(document.documentElement.dataset.refreshEvery);
const marked = document.documentElement.dataset.refreshAt;
const line = document.querySelector(".stale");

/** Reports whether a reload would take something out of a person's hands. */
function isBusy() {
  const focused = document.activeElement;
  const typing = focused instanceof Element && focused.matches("input, textarea, select");
  const selecting = String(document.getSelection()) !== "";
  return typing || selecting || document.hidden || document.querySelector("details[open] form") !== null;
}

/** Asks whether the server is there before leaving the page: a stale page beats an error page. */
async function refresh() {
  if (isBusy()) return;
  try {
    const answer = await fetch(marked, { method: "HEAD", cache: "no-store", redirect: "manual" });
    if (answer.ok || answer.type === "opaqueredirect") reload();
    else showStale("The server answered with an error");
  } catch {
    showStale("The server does not answer");
  }
}

function showStale(why) {
  const asOf = document.querySelector(".as-of")?.textContent ?? "";
  line.textContent = `${why}. What you see is ${asOf}. It tries again every ${seconds} seconds.`;
  line.hidden = false;
}

/** Loads the marked address in place of this one, as a reload: whoever reads stays where they were on the page. */
function reload() {
  history.replaceState(null, "", marked + location.hash);
  location.reload();
}

/** Takes the mark off the address bar. */
function unmark() {
  const address = new URL(location.href);
  if (!address.searchParams.has("refresh")) return;
  address.searchParams.delete("refresh");
  history.replaceState(null, "", address);
}

unmark();
setInterval(refresh, seconds * 1000);
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) refresh();
});
