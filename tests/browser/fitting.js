// What a screen looks like to eye and glove, measured: sizes, gaps, letters, contrast, what is cut off. Returns complaints.
() => {
  const LEAST = { main: 112, row: 80, other: 56 };
  const GAP = 12;
  const complaints = [];
  const words = node => (node.getAttribute("aria-label") || node.textContent || node.className).trim().slice(0, 40);
  const body = document.querySelector(".body").getBoundingClientRect();

  const isSeen = node => {
    const box = node.getBoundingClientRect();
    if (box.width === 0 || box.height === 0 || getComputedStyle(node).visibility === "hidden") return false;
    return !node.closest(".body") || (box.top >= body.top - 1 && box.bottom <= body.bottom + 1);
  };

  const touched = [...document.querySelectorAll("button, input, textarea, a[href]")].filter(isSeen);
  for (const node of touched) {
    const { width, height } = node.getBoundingClientRect();
    const rank = node.dataset.rank;
    if (!LEAST[rank]) complaints.push(`no rank: ${words(node)}`);
    else if (height < LEAST[rank] - 0.5 || width < 56) complaints.push(`too small (${Math.round(width)}×${Math.round(height)}): ${words(node)}`);
  }
  touched.forEach((one, index) => {
    for (const other of touched.slice(index + 1)) {
      const [a, b] = [one.getBoundingClientRect(), other.getBoundingClientRect()];
      const across = Math.max(a.left - b.right, b.left - a.right);
      const down = Math.max(a.top - b.bottom, b.top - a.bottom);
      if (Math.max(across, down) < GAP - 0.6) complaints.push(`too close (${Math.round(Math.max(across, down))}): ${words(one)} / ${words(other)}`);
    }
  });

  const main = document.querySelector("button.main")?.getBoundingClientRect();
  if (main && (main.bottom > innerHeight + 1 || main.top < 0)) complaints.push("the main action is off the screen");
  const page = document.documentElement;
  if (page.scrollWidth > page.clientWidth) complaints.push("the page scrolls sideways");
  if (document.querySelector(".body").scrollWidth > document.querySelector(".body").clientWidth + 1) complaints.push("the screen scrolls sideways");

  // ---- letters

  const canvas = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
  const parse = text => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = text;
    canvas.fillRect(0, 0, 1, 1);
    const [red, green, blue, alpha] = canvas.getImageData(0, 0, 1, 1).data;
    return { red, green, blue, alpha: alpha / 255 };
  };
  const light = ({ red, green, blue }) => {
    const [r, g, b] = [red, green, blue].map(part => {
      const share = part / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ground = node => {
    for (let each = node; each; each = each.parentElement) {
      const colour = parse(getComputedStyle(each).backgroundColor);
      if (colour.alpha > 0.9) return colour;
    }
    return parse("#fff");
  };
  const contrast = (a, b) => {
    const [high, low] = [light(a), light(b)].sort((x, y) => y - x);
    return (high + 0.05) / (low + 0.05);
  };
  const IDENTITY = ".head-name, .said-name, .identity, .date-part[data-done='yes'], .date-month, .digits-line[data-empty='no'], .big-tube-words b";

  const walker = document.createTreeWalker(document.querySelector("#tablet"), NodeFilter.SHOW_TEXT);
  for (let text = walker.nextNode(); text; text = walker.nextNode()) {
    const node = text.parentElement;
    if (!text.data.trim() || node.closest("svg, .strap-digits") || !isSeen(node)) continue;
    const style = getComputedStyle(node);
    if (parseFloat(style.fontSize) < 19) complaints.push(`letters of ${style.fontSize}: ${words(node)}`);
    const ratio = contrast(parse(style.color), ground(node));
    const least = node.closest(IDENTITY) ? 7 : 4.5;
    if (ratio < least) complaints.push(`contrast ${ratio.toFixed(2)} under ${least}: ${words(node)}`);
    const button = node.closest("button");
    if (button && (button.scrollWidth > button.clientWidth + 14 || button.scrollHeight > button.clientHeight + 6)) complaints.push(`cut off: ${words(button)}`);
  }
  return [...new Set(complaints)];
}
