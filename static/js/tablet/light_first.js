// Runs before the first paint, so that a night round is never lit up by a white page. Not a module on purpose.
// Until somebody has chosen on this tablet, it is as light or dark as the device is set.
(() => {
  const isNight = matchMedia("(prefers-color-scheme: dark)");
  const chosen = () => {
    try {
      return localStorage.getItem("bedside.light");
    } catch {
      return null; // storage switched off: as the device is set
    }
  };
  const show = () => {
    const { classList } = document.documentElement;
    const which = chosen() ?? (isNight.matches ? "night" : "day");
    classList.toggle("day", which === "day");
    classList.toggle("night", which !== "day");
  };
  show();
  isNight.addEventListener("change", show);
})();
