// Words that count by themselves: app.js ticks every such node five times a second.

/** @param node what is ticked @param tell moment → {says, look}, or null to leave it @param words where the words stand */
export function live(node, tell, words = node) {
  node.dataset.live = "yes";
  node.tick = (instant) => {
    const told = tell(instant);
    if (!told) return;
    if (words.textContent !== told.says) words.textContent = told.says;
    node.dataset.look = told.look ?? "plain";
  };
  return node;
}
