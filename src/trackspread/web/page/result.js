// The result: a headline a route, and links to all that can be opened or saved.

import { at, counted, list, make } from "./talk.js";

function fileAddress(name, save) {
  return `./result/${name.split("/").map(encodeURIComponent).join("/")}${save ? "?save=1" : ""}`;
}

function size(bytes) {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

// Only what was made is linked; without an address a button is not there.
function link(id, there, name, save) {
  if (there) at(id).href = fileAddress(name, save);
  else at(id).removeAttribute("href");
}

function stillOf({ name, title, verdict, words }) {
  return make(
    "li",
    {},
    make(
      "a",
      { href: fileAddress(name), target: "_blank", rel: "noopener" },
      make("img", { src: fileAddress(name), alt: "", width: 1920, height: 1080, loading: "lazy", decoding: "async" }),
      make("span", { class: "place" }, title, make("span", { class: "unseen" }, ", open the still in a new tab")),
    ),
    make("p", { class: "hint" }, verdict ? make("strong", {}, `${verdict} `) : "", words),
    make("a", { href: fileAddress(name, true), download: "", class: "save", "aria-label": `Save the still of ${title}` }, "Save"),
  );
}

// Those that are there already stay as they are: a picture is loaded once.
function addStills(stills) {
  const there = at("stills");
  if (there.childElementCount > stills.length) there.replaceChildren();
  there.append(...stills.slice(there.childElementCount).map(stillOf));
}

// Nothing of an earlier result stays while a new one is made.
export function clearResult() {
  at("result").hidden = true;
  at("stale").hidden = true;
  at("stills").replaceChildren();
}

const HEADS = { name: "Watch", spread: "Spread (SD)", first_fix: "First fix", astray: "Astray", group: "Group" };

function watchTable(watches) {
  const heads = Object.entries(HEADS).filter(([key]) => key !== "group" || watches.some((watch) => watch.group));
  return [
    make("thead", {}, make("tr", {}, ...heads.map(([, title]) => make("th", { scope: "col" }, title)))),
    make("tbody", {}, ...watches.map((watch) => make("tr", {}, ...heads.map(([key], i) => make(i ? "td" : "th", i ? {} : { scope: "row" }, watch[key]))))),
  ];
}

export function showResult({ answer, watches, routes, files, zip, aside, stills, to_come, published, shareable }) {
  at("answer").textContent = answer;
  at("watches").replaceChildren(...watchTable(watches));
  at("shareable").hidden = published || !zip;
  at("share").hidden = Boolean(shareable);
  at("shared").hidden = !shareable;
  link("open-shared", shareable, shareable?.report);
  link("save-shared", shareable, shareable?.zip.name, true);
  at("shared-size").textContent = shareable ? `(${size(shareable.zip.size)})` : "";
  at("routes").replaceChildren(
    ...routes.map((route) =>
      make(
        "article",
        { class: "route" },
        make("h3", {}, route.name),
        make("p", { class: "figure" }, route.spread),
        make("p", {}, "spread, ", route.of),
        make("p", { class: "hint" }, route.verdicts),
      ),
    ),
  );
  at("private").hidden = published;
  const made = new Set(files.map(({ name }) => name));
  link("open-report", made.has("report.html"), "report.html");
  link("open-map", made.has("map.html"), "map.html");
  link("open-sequence", made.has("sequence.html"), "sequence.html");
  link("save-all", zip, zip?.name, true);
  at("zip-size").textContent = zip ? `(${size(zip.size)})` : "";
  at("film-list").hidden = !stills.length && !to_come;
  at("to-come").textContent = to_come ? `${counted(to_come, "still")} to come.` : "";
  addStills(stills);
  at("files-head").hidden = !made.size;
  list("aside", aside);
  at("single").replaceChildren(
    ...files.filter(({ name }) => !name.startsWith("stills/")).map((file) =>
      make("li", {}, make("a", { href: fileAddress(file.name, true), download: "" }, file.name), ` ${size(file.size)}`),
    ),
  );
}
