// The result: a headline a route, and links to all that can be opened or saved.

import { at, list, make } from "./talk.js";

function fileAddress(name, save) {
  return `/result/${name.split("/").map(encodeURIComponent).join("/")}${save ? "?save=1" : ""}`;
}

function size(bytes) {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

export function showResult({ routes, files, zip, aside }) {
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
  at("open-report").href = fileAddress("report.html");
  at("open-map").href = fileAddress("map.html");
  at("save-all").href = fileAddress(zip.name, true);
  at("zip-size").textContent = `(${size(zip.size)})`;
  list("aside", aside);
  at("single").replaceChildren(
    ...files.map((file) =>
      make("li", {}, make("a", { href: fileAddress(file.name, true), download: "" }, file.name), ` ${size(file.size)}`),
    ),
  );
}
