// Brings the maps of a page to life: layers, words, the station that is looked at. Names are set as text only.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("plan-data").textContent);
  const say = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));
  const comma = new Intl.NumberFormat("en", { maximumFractionDigits: 2 });
  const metres = (value) => (value === null ? "not known" : `${comma.format(value)} m`);
  const along = (m) => (Math.abs(m) < 1000 ? `${Math.round(m)} m` : `${(m / 1000).toFixed(2)} km`);
  const glyphs = { steady: "●", wavering: "◐", torn: "✕", thin: "○" };

  const note = (lines) => {
    const box = document.createElement("div");
    for (const line of lines) {
      const part = box.appendChild(document.createElement("p"));
      part.textContent = line;
    }
    return box;
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

  const begin = (plan) => {
    const map = window[plan.map];
    const box = document.getElementById(plan.map).closest(".plan");
    const slider = box.querySelector(".walk input");
    const words = box.querySelector(".walk output");
    const zoomable = box.classList.contains("whole");
    let shown = null;

    map.setMaxZoom(22);
    L.control.zoom({ position: "topright", zoomInTitle: "Closer", zoomOutTitle: "Farther" }).addTo(map);
    L.control.scale({ imperial: false, position: "bottomleft" }).addTo(map);
    if (data.basemap) {
      const credit = document.createElement("span");
      credit.textContent = data.basemap.attribution;
      L.control.attribution({ prefix: false, position: "bottomright" }).addTo(map);
      L.tileLayer(data.basemap.url, { attribution: credit.innerHTML, maxZoom: 22, maxNativeZoom: 19 }).addTo(map);
    }
    if (!zoomable) {
      map.scrollWheelZoom.disable();
      map.on("focus", () => map.scrollWheelZoom.enable());
      map.on("blur", () => map.scrollWheelZoom.disable());
    }
    const here = L.circleMarker([0, 0], { radius: 9, className: "here", interactive: false });

    for (const route of plan.routes) {
      for (const [name, lines] of Object.entries(route.marks)) {
        window[name].bindTooltip(note(lines), { sticky: true, className: "note", opacity: 1 });
      }
      for (const [name, label] of Object.entries(route.labels)) {
        window[name].bindTooltip(note([label]), { permanent: true, direction: "right", className: "post", opacity: 1 });
      }
    }

    const boxes = (route) => box.querySelectorAll(`[data-key="${route.route}"] input[data-layer]`);
    const draw = () => {
      for (const route of plan.routes) {
        const wanted = new Set([...boxes(route)].filter((check) => check.checked).map((check) => check.dataset.layer));
        for (const [name, group] of Object.entries(route.groups)) {
          window[group].remove(); // and back again in the order of the groups, the lowest first
          if (route === shown && wanted.has(name)) window[group].addTo(map);
        }
      }
    };

    const frame = (route, from, to) => {
      const { m, lon, lat } = route.stations;
      const points = m.flatMap((at, i) => (at >= from && at <= to ? [[lat[i], lon[i]]] : []));
      const least = points.length ? points : [[lat[nearestTo(m, from)], lon[nearestTo(m, from)]]];
      map.stop(); // Leaflet drops a view that is asked for while it still moves to another
      map.fitBounds(L.latLngBounds(least).pad(from === -Infinity ? 0 : 0.2), { padding: [36, 36], maxZoom: 19, animate: false });
    };
    const nearestTo = (m, at) => m.reduce((best, value, i) => (Math.abs(value - at) < Math.abs(m[best] - at) ? i : best), 0);

    const look = (route, i) => {
      here.setLatLng([route.stations.lat[i], route.stations.lon[i]]).addTo(map);
      here.bringToFront();
      const sentence = told(route, i);
      slider.value = i;
      slider.setAttribute("aria-valuetext", sentence);
      words.textContent = sentence;
    };

    const choose = (number) => {
      shown = plan.routes.find((route) => route.route === number);
      for (const key of box.querySelectorAll("[data-key]")) key.hidden = Number(key.dataset.key) !== number;
      slider.max = shown.stations.m.length - 1;
      slider.value = 0;
      here.remove();
      words.textContent = "Move along the line to read its figures.";
      draw();
      frame(shown, -Infinity, Infinity);
    };

    slider.addEventListener("input", () => say("station", { route: shown.route, index: Number(slider.value) }));
    box.addEventListener("change", (event) => {
      if (event.target.dataset.layer) draw();
      if (event.target.name === "route") choose(Number(event.target.value));
    });
    box.querySelector(".all").addEventListener("click", () => frame(shown, -Infinity, Infinity));
    map.on("mousemove click", (event) => {
      const i = nearest(shown, event.latlng);
      const at = map.latLngToContainerPoint([shown.stations.lat[i], shown.stations.lon[i]]);
      if (at.distanceTo(event.containerPoint) < 40) say("station", { route: shown.route, index: i });
    });
    document.addEventListener("station", (event) => {
      if (event.detail.route === shown.route) look(shown, event.detail.index);
    });
    document.addEventListener("frame", (event) => {
      if (event.detail.route === shown.route) frame(shown, event.detail.from, event.detail.to);
    });
    new ResizeObserver(() => map.invalidateSize()).observe(document.getElementById(plan.map));
    const snap = map.options.zoomSnap;
    let before = null;
    window.addEventListener("beforeprint", () => {
      document.body.classList.add("printing"); // the map gets its size on paper while it can still be framed anew
      before = [map.getCenter(), map.getZoom()];
      map.options.zoomSnap = 0; // nobody zooms on paper: the route fills the frame
      map.invalidateSize({ animate: false });
      frame(shown, -Infinity, Infinity);
    });
    window.addEventListener("afterprint", () => {
      document.body.classList.remove("printing");
      map.options.zoomSnap = snap;
      map.invalidateSize({ animate: false });
      map.setView(...before, { animate: false });
    });
    choose(plan.routes[0].route);
  };

  for (const plan of data.plans) begin(plan);
})();
