// Night or day, kept on this tablet. The page's head applies it before the first paint (light_first.js).

const KEY = "bedside.light";

export function light() {
  return document.documentElement.classList.contains("day") ? "day" : "night";
}

export function setLight(which) {
  const { classList } = document.documentElement;
  classList.toggle("day", which === "day");
  classList.toggle("night", which !== "day");
  try {
    localStorage.setItem(KEY, which);
  } catch {
    // Without storage the choice lasts until the page is closed.
  }
}
