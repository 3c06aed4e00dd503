// Tables that sort and save themselves, charts that say where they are looked at.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("plan-data").textContent);
  const routes = new Map(data.routes.map((route) => [route.route, route]));
  const say = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));
  const narrow = window.matchMedia("(max-width: 40rem)");
  const spaced = (text) => text.replaceAll("\u00a0", " "); // what is copied or saved has plain spaces

  // --- charts --------------------------------------------------------------------------------------
  const sides = (plot) => (narrow.matches ? plot.dataset.narrow : plot.dataset.wide).split(" ").map(Number);
  const stationAt = (route, share) => {
    const { m } = route.stations;
    const at = m[0] + Math.min(1, Math.max(0, share)) * (m[m.length - 1] - m[0]);
    let best = 0;
    for (let i = 1; i < m.length; i += 1) if (Math.abs(m[i] - at) < Math.abs(m[best] - at)) best = i;
    return best;
  };
  // The trace nearest to what is pointed at, by the scale of its chart: 12 px above the area, 42 below it.
  const traceAt = (plot, route, index, event) => {
    const later = plot.querySelector("[data-pair]");
    const lines = later ? route.pairs[Number(later.dataset.pair)] : route.offsets;
    const [reach, box] = [Number(later ? later.dataset.reach : plot.dataset.reach), plot.getBoundingClientRect()];
    const height = narrow.matches ? 250 : 280;
    const share = (((event.clientY - box.top) / box.height) * height - 12) / (height - 54);
    const wanted = reach * (1 - 2 * share);
    const { step, names, values } = lines;
    const stride = route.stations.m.length > 1 ? Math.round((route.stations.m[1] - route.stations.m[0]) / route.step) : 1;
    const at = Math.round((index * stride) / step);
    let [best, least] = [-1, reach / 8];
    values.forEach((line, i) => {
      const away = line[at] === null || line[at] === undefined ? Infinity : Math.abs(line[at] - wanted);
      if (away < least) [best, least] = [i, away];
    });
    return best < 0 ? "" : `${names[best]}: ${values[best][at]} m · `;
  };
  const plots = [...document.querySelectorAll(".plot[data-route]")];
  for (const plot of plots) {
    const number = Number(plot.dataset.route);
    const route = routes.get(number);
    const read = (event) => {
      const box = plot.getBoundingClientRect();
      const [left, right] = sides(plot);
      const share = ((event.clientX - box.left) / box.width - left) / (1 - left - right);
      if (share <= -0.02 || share >= 1.02) return;
      const index = stationAt(route, share);
      say("station", { route: number, index });
      const own = plot.parentElement.querySelector(".told");
      if (own && (plot.dataset.reach || plot.querySelector("[data-pair]"))) own.textContent = traceAt(plot, route, index, event) + own.textContent;
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
  // A cell holds what it is sorted and saved by only where that is not what it shows: large tables stay light.
  const raw = (cell) => spaced(cell.dataset.raw ?? cell.textContent);
  const value = (row, column) => row.cells[column].dataset.sort ?? raw(row.cells[column]);
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
          const kept = [raw(cell), cell.dataset.low, cell.dataset.high].slice(0, heads[i].length);
          return kept.map((text) => quoted(cell.classList.contains("text") ? guarded(text || "") : text || ""));
        }),
      );
    }
    return `${lines.map((line) => line.join(",")).join("\r\n")}\r\n`;
  };
  // --- copying and saving --------------------------------------------------------------------------
  const told = document.getElementById("said");
  const done = (button, words) => {
    told.textContent = words;
    const before = button.textContent;
    button.textContent = "✓";
    setTimeout(() => {
      button.textContent = before;
    }, 1200);
  };
  const copied = async (text) => {
    try {
      await navigator.clipboard.writeText(text);
    } catch {
      const area = document.body.appendChild(document.createElement("textarea")); // a page from a file has no clipboard of its own
      area.value = text;
      area.select();
      document.execCommand("copy");
      area.remove();
    }
  };
  const LOOKS = ["fill", "fill-opacity", "stroke", "stroke-width", "stroke-opacity", "stroke-dasharray", "stroke-linecap", "font-family", "font-size", "font-weight", "text-anchor"];
  const drawnSvg = (svg) => {
    const copy = svg.cloneNode(true);
    const [from, to] = [[svg, ...svg.querySelectorAll("*")], [copy, ...copy.querySelectorAll("*")]];
    from.forEach((element, i) => {
      const style = getComputedStyle(element);
      for (const name of LOOKS) to[i].setAttribute(name, style.getPropertyValue(name));
      to[i].removeAttribute("class");
    });
    const [, , width, height] = svg.getAttribute("viewBox").split(" ");
    copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
    copy.setAttribute("width", width);
    copy.setAttribute("height", height);
    const paper = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    paper.setAttribute("width", "100%");
    paper.setAttribute("height", "100%");
    paper.setAttribute("fill", getComputedStyle(document.body).getPropertyValue("--panel"));
    copy.prepend(paper);
    return new XMLSerializer().serializeToString(copy);
  };
  const drawnImage = (image) => {
    const bytes = Uint8Array.from(atob(image.currentSrc.split(",")[1]), (sign) => sign.charCodeAt(0));
    const text = new TextDecoder().decode(bytes); // saved for paper: light, on white
    return text.replace(/@media screen and \(prefers-color-scheme:dark\)\{:root\{[^}]*\}\}/, "").replace("</style>", "</style><rect width='100%' height='100%' fill='#ffffff'/>");
  };
  // A saved chart stands alone: its title, and which line is which watch, go with it.
  const escaped = (text) => text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
  const headed = (figure, text, ink) => {
    const [width, height] = ["width", "height"].map((name) => Number(text.match(new RegExp(`<svg[^>]* ${name}="([0-9.]+)"`))[1]));
    const words = (x, y, said, weight) => `<text x="${x}" y="${y}" font-family="sans-serif" font-size="12" font-weight="${weight}" style="fill:${ink}">${escaped(said)}</text>`;
    const route = figure.closest(".route").querySelector("h2").textContent;
    let head = words(8, 20, `${route}: ${figure.querySelector("figcaption :is(h3, h4)").textContent}`, 600);
    let [x, y] = [8, 40];
    for (const look of figure.querySelectorAll(".looks li")) {
      const [name, path] = [look.textContent.trim(), look.querySelector("path")];
      if (x > 8 && x + 40 + 7 * name.length > width) [x, y] = [8, y + 18];
      const [, slot] = path.getAttribute("class").match(/\bk(\d+)/);
      const dash = getComputedStyle(path).strokeDasharray;
      head += `<path d="M${x} ${y - 4}h30" style="stroke:var(--receiver-${slot});stroke-width:2px;stroke-dasharray:${dash}"/>${words(x + 36, y, name, 400)}`;
      x += 56 + 7 * name.length;
    }
    const top = (x > 8 ? y : 20) + 8;
    const paper = text.match(/<rect[^>]* fill=['"]([^'"]+)/)[1];
    const size = `width="${width}" height="${height + top}"`;
    const outer = `<svg xmlns="http://www.w3.org/2000/svg" ${size} viewBox="0 0 ${width} ${height + top}"><rect ${size} fill="${paper}"/>`;
    return `${outer}${head}${text.replace("<svg ", `<svg y="${top}" `)}</svg>`;
  };
  const offer = (blob, name) => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(blob);
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  };
  const PER_PIXEL = 2;
  const keep = (button) => {
    const figure = button.closest("figure");
    const svg = [...figure.querySelectorAll("svg.answer, svg.pair")].find((one) => one.getBoundingClientRect().width > 0);
    const drawn = svg ? drawnSvg(svg) : drawnImage(figure.querySelector("img"));
    const text = figure.matches(".watches") ? drawn : headed(figure, drawn, svg ? getComputedStyle(svg).color : "var(--ink)");
    const file = `${button.dataset.name}.${button.dataset.keep}`;
    const source = new Blob([text], { type: "image/svg+xml;charset=utf-8" });
    if (button.dataset.keep === "svg") {
      offer(source, file);
      done(button, `Saved ${file}`);
      return;
    }
    const picture = new Image();
    const address = URL.createObjectURL(source);
    picture.addEventListener("load", () => {
      const canvas = document.createElement("canvas");
      [canvas.width, canvas.height] = [PER_PIXEL * picture.naturalWidth, PER_PIXEL * picture.naturalHeight];
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      canvas.toBlob((blob) => {
        offer(blob, file);
        done(button, `Saved ${file}`);
      }, "image/png");
      URL.revokeObjectURL(address);
    });
    picture.src = address;
  };
  // The command that makes a copy with cut ends of the folder in which this page lies.
  const sharing = () => {
    const folder = decodeURIComponent(window.location.pathname).replace(/\/[^/]*$/, "");
    const drive = /^\/[A-Za-z]:/.test(folder);
    if (window.location.protocol !== "file:") return "trackspread share FOLDER";
    return `trackspread share ${drive ? `"${folder.slice(1)}"` : `'${folder.replaceAll("'", "'\\''")}'`}`;
  };
  document.addEventListener("click", (event) => {
    const share = event.target.closest(".share button");
    if (share) {
      share.nextElementSibling.textContent = sharing();
      copied(sharing()).then(() => done(share, "Copied"));
    }
    const copy = event.target.closest("button.copy");
    if (copy) copied(spaced(copy.dataset.copy)).then(() => done(copy, "Copied"));
    const kept = event.target.closest("button[data-keep]");
    if (kept) keep(kept);
    const head = event.target.closest("th button");
    if (head) sort(head.closest("th"));
    const save = event.target.closest("button.save");
    if (!save) return;
    const table = save.closest(".table").querySelector("table");
    offer(new Blob([sheet(table)], { type: "text/csv;charset=utf-8" }), `${save.dataset.name}.csv`);
  });
  for (const box of document.querySelectorAll("details.table")) {
    box.addEventListener("toggle", () => {
      const [scroll, more] = [box.querySelector(".scroll"), box.querySelector(".more")];
      if (scroll) more.hidden = scroll.scrollWidth <= scroll.clientWidth;
    });
  }
  const cue = new ResizeObserver((boxes) => {
    for (const { target } of boxes) target.previousElementSibling.hidden = target.scrollWidth <= target.clientWidth;
  });
  for (const box of document.querySelectorAll(".small-table")) cue.observe(box);
})();
