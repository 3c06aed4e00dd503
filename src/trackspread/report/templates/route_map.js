// Brings the maps of a page to life: layers, words, the station that is looked at. Names are set as text only.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("plan-data").textContent);
  const store = new Map(data.routes.map((route) => [route.route, route]));
  const say = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));
  const comma = new Intl.NumberFormat("en", { maximumFractionDigits: 2 });
  const metres = (value) => (value === null ? "not known" : `${comma.format(value)} m`);
  const along = (m) => (Math.abs(m) < 1000 ? `${Math.round(m)} m` : `${(m / 1000).toFixed(2)} km`);
  const glyphs = { steady: "●", wavering: "◐", torn: "✕", thin: "○" };
  const ORDER = ["stretches", "traces", "spread", "variants", "first", "settled", "marks"];
  const LANE = 5; // pixels
  const CLOSEST = 20; // beyond, a line leaves the window before it can be followed

  const note = (lines) => {
    const box = document.createElement("div");
    for (const line of lines) {
      const part = box.appendChild(document.createElement("p"));
      part.textContent = line;
    }
    return box;
  };

  const decoded = (steps) => {
    const points = [];
    let [lat, lon] = [0, 0];
    for (let i = 0; i < steps.length; i += 2) {
      lat += steps[i];
      lon += steps[i + 1];
      points.push([lat / 1e6, lon / 1e6]);
    }
    return points;
  };

  const told = (route, i) => {
    const at = route.stations;
    const m = at.m[i];
    const segment = route.segments.find((s) => m >= s[0] && m < s[1]) || route.segments[route.segments.length - 1];
    const spread = at.spread[i] === null ? "spread not known" : `spread ${metres(at.spread[i])}`;
    const band = at.low[i] === null || at.high[i] === null ? "" : ` (${at.low[i]} to ${at.high[i]} m)`;
    const verdict = segment ? ` · ${glyphs[segment[2]]} ${segment[2]}` : "";
    return `${along(m)} · ${spread}${band}${verdict}`;
  };

  const nearest = (route, latlng) => {
    const { lon, lat } = route.stations;
    const shrink = Math.cos((latlng.lat * Math.PI) / 180);
    let best = 0;
    let least = Infinity;
    for (let i = 0; i < lon.length; i += 1) {
      const east = (lon[i] - latlng.lng) * shrink;
      const north = lat[i] - latlng.lat;
      const size = east * east + north * north;
      if (size < least) [best, least] = [i, size];
    }
    return best;
  };

  // Hundreds of pieces are no stops for the Tab key: the slider below the map reads every place aloud.
  const passed = (event) => event.target.getElement().setAttribute("tabindex", "-1");

  // The layers of one route on one map, the lowest first; `watch` is one watch, or -1 for all of them.
  const drawn = (route, watch) => {
    const groups = new Map(ORDER.map((name) => [name, L.layerGroup()]));
    const mine = (mark) => (watch < 0 ? !mark.alone : !mark.together && (mark.watch === undefined || mark.watch === watch));
    const known = watch >= 0 && route.lines.some((line) => line.by && line.by[watch] !== "unknown");
    for (const line of route.lines.filter(mine)) {
      const look = watch >= 0 && line.by && known ? `seg ${line.by[watch]}` : line.look;
      const options = { className: look, weight: 4, lineCap: "butt", smoothFactor: 0.5, fill: false, interactive: line.words.length > 0 };
      const shape = L.polyline(line.parts.map(decoded), options);
      shape.on("add", passed);
      if (line.words.length) shape.bindTooltip(note(line.words), { sticky: true, className: "note", opacity: 1 });
      const name = line.watch === undefined || line.layer !== "traces" ? line.layer : `traces${line.watch}`;
      if (!groups.has(name)) groups.set(name, L.layerGroup());
      groups.get(name).addLayer(shape);
    }
    for (const dot of route.dots.filter(mine)) {
      const shape = L.circleMarker(decoded(dot.at)[0], { radius: dot.r, className: dot.look, fill: true });
      shape.on("add", passed);
      const fixed = { permanent: true, direction: "right", className: "post", opacity: 1 };
      const loose = { sticky: true, className: "note", opacity: 1 };
      shape.bindTooltip(note(dot.words), dot.layer === "marks" ? fixed : loose);
      groups.get(dot.layer).addLayer(shape);
    }
    const place = (name) => ORDER.indexOf(name.startsWith("traces") ? "traces" : name);
    return [...groups].sort(([a], [b]) => place(a) - place(b));
  };

  // Heads of arrows beside the line, on the right of travel, so that the ways out and back can be told apart.
  const arrows = (map, route, group) => {
    group.clearLayers();
    const { lat, lon } = route.stations;
    const points = lat.map((value, i) => map.latLngToLayerPoint([value, lon[i]]));
    let whole = 0;
    for (let i = 1; i < points.length; i += 1) whole += points[i].distanceTo(points[i - 1]);
    const spacing = Math.max(110, whole / 60);
    let gone = spacing / 2;
    for (let i = 1; i < points.length; i += 1) {
      const step = points[i].subtract(points[i - 1]);
      const size = Math.hypot(step.x, step.y);
      gone += size;
      if (gone < spacing || size === 0) continue;
      gone = 0;
      const [x, y] = [step.x / size, step.y / size];
      const tip = points[i].add(L.point(-y * 13, x * 13)); // the ordinate of a screen points down
      const end = (side) => tip.add(L.point(-8 * x - side * 5 * y, -8 * y + side * 5 * x));
      const head = [end(1), tip, end(-1)].map((point) => map.layerPointToLatLng(point));
      group.addLayer(L.polyline(head, { className: "arrow", interactive: false, weight: 2, smoothFactor: 0 }));
    }
  };

  // The points of a line some pixels to the right of travel: ways that lie on each other become lanes.
  const beside = (map, points, pixels) => {
    const flat = points.map((point) => map.latLngToLayerPoint(point));
    return flat.map((point, i) => {
      const step = flat[Math.min(i + 1, flat.length - 1)].subtract(flat[Math.max(i - 1, 0)]);
      const size = Math.hypot(step.x, step.y) || 1;
      return map.layerPointToLatLng(point.add(L.point((-step.y / size) * pixels, (step.x / size) * pixels)));
    });
  };

  const begin = (plan) => {
    const map = window[plan.map];
    const box = document.getElementById(plan.map).closest(".plan");
    const slider = box.querySelector(".walk input");
    const words = box.querySelector(".walk output");
    const routes = plan.routes.map((number) => store.get(number));
    const together = plan.kind === "overview";
    let shown = together ? routes : [routes[0]];
    let watch = -1;
    let layers = [];
    let lanes = [];
    const heads = L.layerGroup();

    map.setMaxZoom(CLOSEST);
    L.control.zoom({ position: "topright", zoomInTitle: "Closer", zoomOutTitle: "Farther", zoomInText: "", zoomOutText: "" }).addTo(map);
    L.control.scale({ imperial: false, position: "bottomleft" }).addTo(map);
    const north = L.control({ position: "topleft" });
    north.onAdd = () => {
      const sign = document.createElement("div");
      sign.className = "north";
      sign.setAttribute("role", "img");
      sign.setAttribute("aria-label", "North is up");
      return sign;
    };
    north.addTo(map);
    if (data.basemap) {
      const credit = document.createElement("span");
      credit.textContent = data.basemap.attribution;
      L.control.attribution({ prefix: false, position: "bottomright" }).addTo(map);
      L.tileLayer(data.basemap.url, { attribution: credit.innerHTML, maxZoom: 22, maxNativeZoom: 19 }).addTo(map);
    }
    if (!box.classList.contains("whole")) {
      map.scrollWheelZoom.disable();
      map.on("focus", () => map.scrollWheelZoom.enable());
      map.on("blur", () => map.scrollWheelZoom.disable());
    }
    const quiet = { className: "backdrop", interactive: false, fill: false, weight: 1, smoothFactor: 1 };
    for (const steps of data.ground) L.polyline(decoded(steps), quiet).addTo(map);
    for (const [name, lon, lat] of data.places) {
      L.circleMarker([lat, lon], { radius: 3, className: "place", interactive: false })
        .bindTooltip(note([name]), { permanent: true, direction: "right", className: "post", opacity: 1 })
        .addTo(map);
    }
    const here = L.circleMarker([0, 0], { radius: 9, className: "here", interactive: false });

    const wanted = (route) => {
      if (together) return new Set(["stretches", "variants", "spread"]);
      const boxes = box.querySelectorAll(`[data-key="${route.route}"] input[data-layer]`);
      const names = new Set([...boxes].filter((check) => check.checked).map((check) => check.dataset.layer));
      return names.has("stretches") ? names.add("variants") : names;
    };
    const draw = () => {
      for (const group of layers) group.remove();
      layers = [];
      lanes = [];
      for (const route of shown) {
        const names = wanted(route);
        const ours = drawn(route, watch);
        for (const [name, group] of ours) {
          if (names.has(name)) layers.push(group.addTo(map));
          if (together && name === "spread") group.eachLayer((shape) => lanes.push([shape, shape.getLatLngs()[0]]));
        }
      }
      turn();
    };
    const turn = () => {
      for (const [shape, points] of lanes) shape.setLatLngs(beside(map, points, shown.length > 1 ? LANE : 0));
      heads.clearLayers();
      for (const route of shown) {
        const own = L.layerGroup();
        arrows(map, route, own);
        heads.addLayer(own);
      }
      heads.addTo(map);
    };

    const boundsOf = (route, from, to) => {
      const { m, lon, lat } = route.stations;
      const points = m.flatMap((at, i) => (at >= from && at <= to ? [[lat[i], lon[i]]] : []));
      return L.latLngBounds(points.length ? points : [[lat[nearestTo(m, from)], lon[nearestTo(m, from)]]]);
    };
    const frame = (some, from, to) => {
      const bounds = L.latLngBounds([]);
      for (const route of some) bounds.extend(boundsOf(route, from, to));
      const pad = together ? 18 : 36;
      map.stop(); // Leaflet drops a view that is asked for while it still moves to another
      map.fitBounds(bounds.pad(from === -Infinity ? 0 : 0.2), { padding: [pad, pad], maxZoom: 19, animate: false });
    };
    let limits = null;
    const keepTo = (least, bounds) => {
      map.setMinZoom(least);
      map.setMaxBounds(bounds);
    };
    const whole = () => {
      keepTo(0, null);
      frame(shown, -Infinity, Infinity);
      limits = [Math.max(0, map.getZoom() - 1.5), map.getBounds().pad(0.75)];
      keepTo(...limits);
    };
    const nearestTo = (m, at) => m.reduce((best, value, i) => (Math.abs(value - at) < Math.abs(m[best] - at) ? i : best), 0);

    const look = (route, i) => {
      here.setLatLng([route.stations.lat[i], route.stations.lon[i]]).addTo(map);
      here.bringToFront();
      if (!slider) return;
      const sentence = told(route, i);
      slider.value = i;
      slider.setAttribute("aria-valuetext", sentence);
      words.textContent = sentence;
    };

    const choose = (number) => {
      if (!together) shown = [store.get(number)];
      for (const key of box.querySelectorAll("[data-key]")) key.hidden = Number(key.dataset.key) !== number;
      here.remove();
      if (slider) {
        slider.max = shown[0].stations.m.length - 1;
        slider.value = 0;
        words.textContent = "Move along the line to read its figures.";
      }
      whole();
      draw();
    };

    if (slider) slider.addEventListener("input", () => say("station", { route: shown[0].route, index: Number(slider.value) }));
    box.addEventListener("change", (event) => {
      if (event.target.dataset.layer) draw();
      const { watch: one, watches } = event.target.dataset;
      if (one !== undefined || watches !== undefined) {
        watch = Number(one === undefined ? event.target.value : one);
        draw();
      }
      if (event.target.name === "route") choose(Number(event.target.value));
    });
    const all = box.querySelector(".all");
    if (all) all.addEventListener("click", whole);
    map.on("zoomend", turn);
    map.on("mousemove click", (event) => {
      for (const route of shown) {
        const i = nearest(route, event.latlng);
        const at = map.latLngToContainerPoint([route.stations.lat[i], route.stations.lon[i]]);
        if (at.distanceTo(event.containerPoint) < 40) {
          say("station", { route: route.route, index: i });
          return;
        }
      }
    });
    document.addEventListener("station", (event) => {
      const route = shown.find((one) => one.route === event.detail.route);
      if (route) look(route, event.detail.index);
    });
    document.addEventListener("frame", (event) => {
      const route = shown.find((one) => one.route === event.detail.route);
      if (route && !together) frame([route], event.detail.from, event.detail.to);
    });
    new ResizeObserver(() => map.invalidateSize()).observe(document.getElementById(plan.map));
    const snap = map.options.zoomSnap;
    let before = null;
    window.addEventListener("beforeprint", () => {
      document.body.classList.add("printing"); // the map gets its size on paper while it can still be framed anew
      before = [map.getCenter(), map.getZoom()];
      map.options.zoomSnap = 0; // nobody zooms on paper: the route fills the frame
      map.invalidateSize({ animate: false });
      keepTo(0, null);
      frame(shown, -Infinity, Infinity);
    });
    window.addEventListener("afterprint", () => {
      document.body.classList.remove("printing");
      map.options.zoomSnap = snap;
      map.invalidateSize({ animate: false });
      map.setView(...before, { animate: false });
      keepTo(...limits);
    });
    choose(routes[0].route);
  };

  for (const plan of data.plans) begin(plan);
})();
