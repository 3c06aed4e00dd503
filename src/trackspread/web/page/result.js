// The result: a headline a route, and links to all that can be opened or saved.

import { at, list, make } from "./talk.js";

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

export function showResult({ routes, files, zip, aside, stills, published }) {
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
  link("open-report", true, "report.html");
  link("open-map", true, "map.html");
  link("open-sequence", stills.length > 0, "sequence.html");
  link("save-all", true, zip.name, true);
  at("film-list").hidden = !stills.length;
  at("stills").replaceChildren(...stills.map(stillOf));
  at("zip-size").textContent = `(${size(zip.size)})`;
  list("aside", aside);
  at("single").replaceChildren(
    ...files.filter(({ name }) => !name.startsWith("stills/")).map((file) =>
      make("li", {}, make("a", { href: fileAddress(file.name, true), download: "" }, file.name), ` ${size(file.size)}`),
    ),
  );
}
