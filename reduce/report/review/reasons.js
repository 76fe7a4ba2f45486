// The full list of reasons: filters, folded answers, and the way there from the headlines.

const reasonRows = [...document.querySelectorAll(".reasons tbody tr")];
let picked = null; // places of the decisions that a headline asked for

function within(row, place) {
  return row.dataset.at.split(" ").some((span) => {
    const [first, last] = span.split("-").map(Number);
    return span && first <= place && place <= last;
  });
}

function filter() {
  const wish = Object.fromEntries(["kind", "weight", "sure", "hand"].map((name) => [name, byId("filter-" + name).value]));
  const number = byId("filter-bar").value.trim();
  const place = number ? barNamed(number) : -1;
  let shown = 0;
  for (const row of reasonRows) {
    const { kind, weight, sure, hand } = row.dataset;
    const fits = picked ? picked.has(row.dataset.i) : (
      (!wish.kind || kind === wish.kind)
      && (wish.weight === "all" || number || wish.kind || weight === "big" || (wish.weight === "medium" && weight === "medium") || (wish.weight === "medium" && sure === "unsure"))
      && (!wish.sure || sure === wish.sure)
      && (!wish.hand || hand === wish.hand || hand === "both")
      && (!number || (place >= 0 && within(row, place)))
    );
    row.hidden = !fits;
    shown += fits ? 1 : 0;
  }
  byId("shown").textContent = number && place < 0 ? `The draft has no bar ${number}.` : `${shown} of ${reasonRows.length} reasons`;
}

byId("filters").addEventListener("input", () => { picked = null; filter(); });
byId("filters").addEventListener("submit", (event) => event.preventDefault());
byId("filter-clear").addEventListener("click", () => { picked = null; byId("filters").reset(); filter(); });

/** Show the reasons behind a headline; equal ones stand together in one row. */
document.addEventListener("click", (event) => {
  const button = event.target.closest && event.target.closest("[data-rows]");
  if (!button) return;
  const wanted = new Set(button.dataset.rows.split(" "));
  const words = new Set([...wanted].map((place) => data.decisions[Number(place)].sentence.replace(/^Bars? [^ ,:;]+/, "")));
  picked = new Set(reasonRows.filter((row) => wanted.has(row.dataset.i)
    || words.has(data.decisions[Number(row.dataset.i)].sentence.replace(/^Bars? [^ ,:;]+/, ""))).map((row) => row.dataset.i));
  filter();
  scrollTo(byId("reasons"));
  byId("reasons").focus({ preventScroll: true });
});

/** The answers of a decision are made when its fold is opened. */
document.addEventListener("toggle", (event) => {
  const fold = event.target;
  if (!fold.classList || !fold.classList.contains("answer") || !fold.open || fold.childElementCount > 1) return;
  const decision = data.decisions[Number(fold.dataset.i)];
  fold.append(...figures(decision), answers(decision));
}, true);

filter();
