"use strict";
// Marks the notes that only one of two drafts has.

(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const SVG = "http://www.w3.org/2000/svg";
  const SHAPES = {
    gone: "M-1.7 -1.7 L1.7 1.7 M-1.7 1.7 L1.7 -1.7",
    added: "M2.8 -1 V1 M1.8 0 H3.8",
    rhythm: "M1.7 0.3 C2.1 -0.8 2.6 -0.8 3 0 S3.8 0.8 4.2 -0.3",
  };
  const WORDS = { gone: "only in the first draft", added: "only in the second draft", rhythm: "of another length" };
  const half = data.space / 2;
  for (const [id, kind] of data.marks) {
    for (const group of document.querySelectorAll(`g.note[data-n="${id}"]`)) {
      const head = group.querySelector("use");
      const at = head && /translate\(([-\d.]+), ?([-\d.]+)\)/.exec(head.getAttribute("transform") || "");
      group.classList.add("differs", kind);
      const title = document.createElementNS(SVG, "title");
      title.textContent = WORDS[kind];
      group.prepend(title);
      if (!at) continue;
      const path = document.createElementNS(SVG, "path");
      path.setAttribute("class", "sign " + kind);
      path.setAttribute("d", SHAPES[kind]);
      path.setAttribute("transform", `translate(${Number(at[1]) + 1.18 * half}, ${at[2]}) scale(${half})`);
      group.append(path);
    }
  }
})();
