// Runs before the first paint, so that a night round is never lit up by a white page. Not a module on purpose.
(() => {
  let kept = null;
  try {
    kept = localStorage.getItem("bedside.light");
  } catch {
    kept = null; // storage switched off: night
  }
  document.documentElement.classList.add(kept === "day" ? "day" : "night");
})();
