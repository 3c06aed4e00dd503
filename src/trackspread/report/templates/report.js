// Tables that sort and save themselves, charts that say where they are looked at.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("plan-data").textContent);
  const routes = new Map(data.plans.flatMap((plan) => plan.routes.map((route) => [route.route, route])));
  const say = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));
  const narrow = window.matchMedia("(max-width: 40rem)");

  // --- charts --------------------------------------------------------------------------------------
  const sides = (plot) => (narrow.matches ? plot.dataset.narrow : plot.dataset.wide).split(" ").map(Number);
  const stationAt = (route, share) => {
    const { m } = route.stations;
    const at = m[0] + Math.min(1, Math.max(0, share)) * (m[m.length - 1] - m[0]);
    let best = 0;
    for (let i = 1; i < m.length; i += 1) if (Math.abs(m[i] - at) < Math.abs(m[best] - at)) best = i;
    return best;
  };
  const plots = [...document.querySelectorAll(".plot[data-route]")];
  for (const plot of plots) {
    const number = Number(plot.dataset.route);
    const route = routes.get(number);
    const read = (event) => {
      const box = plot.getBoundingClientRect();
      const [left, right] = sides(plot);
      const share = ((event.clientX - box.left) / box.width - left) / (1 - left - right);
      if (share > -0.02 && share < 1.02) say("station", { route: number, index: stationAt(route, share) });
    };
    plot.addEventListener("pointerdown", read); // a finger that taps does not move
    plot.addEventListener("pointermove", read);
    const walk = plot.querySelector("input");
    if (walk) {
      walk.max = route.stations.m.length - 1;
      walk.addEventListener("input", () => say("station", { route: number, index: Number(walk.value) }));
      walk.addEventListener("focus", () => say("station", { route: number, index: Number(walk.value) }));
    }
  }
  document.addEventListener("station", ({ detail }) => {
    const { m } = routes.get(detail.route).stations;
    const share = (m[detail.index] - m[0]) / (m[m.length - 1] - m[0]);
    const words = document.querySelector(`#route-${detail.route} .walk output`).textContent;
    for (const plot of plots) {
      if (Number(plot.dataset.route) !== detail.route) continue;
      const [left, right] = sides(plot);
      const cursor = plot.querySelector(".cursor");
      cursor.hidden = false;
      cursor.style.left = `${100 * (left + share * (1 - left - right))}%`;
      const walk = plot.querySelector("input");
      if (!walk) continue;
      walk.value = detail.index;
      walk.setAttribute("aria-valuetext", words);
    }
    for (const told of document.querySelectorAll(`#route-${detail.route} .told`)) told.textContent = words;
  });

  // --- choosing a piece of the line ----------------------------------------------------------------
  document.addEventListener("click", (event) => {
    const from = event.target.closest("[data-frame]");
    if (!from) return;
    const [route, start, end] = from.dataset.frame.split(" ").map(Number);
    const { m } = routes.get(route).stations;
    const share = ((start + end) / 2 - m[0]) / (m[m.length - 1] - m[0]);
    say("frame", { route, from: start, to: end });
    say("station", { route, index: stationAt(routes.get(route), share) });
    if (from.matches("button")) {
      const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
      document.querySelector(`#route-${route} .plan`).scrollIntoView({ block: "start", behavior: calm ? "auto" : "smooth" });
    }
  });

  // --- tables --------------------------------------------------------------------------------------
  const value = (row, column) => row.cells[column].dataset.sort;
  const compare = (first, second) => {
    if (first === second) return 0;
    if (first === "") return 1;
    if (second === "") return -1;
    const [a, b] = [Number(first), Number(second)];
    return Number.isNaN(a) || Number.isNaN(b) ? first.localeCompare(second, "en", { numeric: true }) : a - b;
  };
  const sort = (head) => {
    const body = head.closest("table").tBodies[0];
    const down = head.getAttribute("aria-sort") === "ascending";
    for (const other of head.parentElement.cells) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const rows = [...body.rows].sort((a, b) => {
      const [first, second] = [value(a, head.cellIndex), value(b, head.cellIndex)];
      const order = compare(first, second);
      return down && first !== "" && second !== "" ? -order : order;
    });
    body.append(...rows);
  };
  const guarded = (text) => (/^[ \n]*[=+\-@\t\r＝＋－＠]|^\n/.test(text) ? `'${text}` : text);
  const quoted = (text) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  const sheet = (table) => {
    const heads = [...table.tHead.rows[0].cells].map((cell) => (cell.dataset.names || "").split(" ").filter(Boolean));
    const lines = [heads.flat().map(quoted)];
    for (const row of table.tBodies[0].rows) {
      lines.push(
        [...row.cells].flatMap((cell, i) => {
          const kept = [cell.dataset.raw, cell.dataset.low, cell.dataset.high].slice(0, heads[i].length);
          return kept.map((text) => quoted(cell.classList.contains("text") ? guarded(text || "") : text || ""));
        }),
      );
    }
    return `${lines.map((line) => line.join(",")).join("\r\n")}\r\n`;
  };
  document.addEventListener("click", (event) => {
    const head = event.target.closest("th button");
    if (head) sort(head.closest("th"));
    const save = event.target.closest("button.save");
    if (!save) return;
    const table = save.closest(".table").querySelector("table");
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([sheet(table)], { type: "text/csv;charset=utf-8" }));
    link.download = `${save.dataset.name}.csv`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  });
})();
