// Single keys, which can be switched off for those whose tools need them.

const flagged = [...document.querySelectorAll(".cell")].filter((cell) => cell.classList.contains("heavy") || cell.textContent.includes("!")).map((cell) => Number(cell.dataset.bar));
for (const row of reasonRows) {
  const decision = data.decisions[Number(row.dataset.i)];
  if (row.dataset.sure === "unsure" && decision.at) flagged.push(decision.at[0]);
}
const stations = [...new Set(flagged)].sort((a, b) => a - b);

document.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey || !byId("single-keys").checked) return;
  if (event.target.closest && event.target.closest("input, select, textarea")) return;
  const key = event.key.toLowerCase();
  if (key === "p") toggle();
  else if (key === "l") lockBars(here, here);
  else if (key === "n" || key === "b") {
    const next = key === "n" ? stations.find((place) => place > here) : stations.filter((place) => place < here).pop();
    if (next === undefined) say("No more flagged bars this way");
    else goToBar(next);
  } else if (event.key === "Escape" && !card.hidden) closeCard();
  else return;
  event.preventDefault();
});
