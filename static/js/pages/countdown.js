// Counts windows down between two looks at the server: <b data-countdown='{"now": …, "steps": […]}'>open: 12 min left</b>.
// Each step says what the sentence is until a moment; the server wrote them all, so that nothing is decided here.
// Touches the text of those elements alone. Without it the page says how things stood when it was made.

const EVERY_MS = 5000;
const MINUTE_MS = 60000;
const begun = performance.now();

/** A length of time as the page writes it: `8 min`, `1 h 05 min`, `14 h`, `3 days`. */
function spell(ms) {
  const minutes = Math.floor(Math.abs(ms) / MINUTE_MS);
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (minutes < 600) return `${hours} h ${String(minutes % 60).padStart(2, "0")} min`;
  return hours < 48 ? `${hours} h` : `${Math.floor(hours / 24)} days`;
}

/** What an element says so long after its page was made: by the server's clock, whatever this one shows. */
function sentence(told, later) {
  const now = Date.parse(told.now) + later;
  const step = told.steps.find(one => one.until === null || now <= Date.parse(one.until));
  return step.says.replace("{}", spell(Date.parse(step.turn) - now));
}

function count() {
  const later = performance.now() - begun;
  for (const element of document.querySelectorAll("[data-countdown]")) {
    const says = sentence(JSON.parse(element.dataset.countdown), later);
    if (element.textContent !== says) element.textContent = says;
  }
}

setInterval(count, EVERY_MS);
