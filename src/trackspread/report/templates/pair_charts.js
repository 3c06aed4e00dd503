// Charts of pairs, drawn when their part of the page is opened. Names are set as text only.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("plan-data").textContent);
  const routes = new Map(data.routes.map((route) => [route.route, route]));
  const narrow = window.matchMedia("(max-width: 40rem)");
  const [TOP, BOTTOM] = [12, 42];
  const DASHES = ["", "7 4", "2 4", "10 3 2 3"];

  const step = (span, most) => {
    const power = 10 ** Math.floor(Math.log10(span / most));
    return [1, 2, 5, 10].map((one) => one * power).find((one) => span / one <= most);
  };
  const ticks = (low, high, by) => {
    const found = [];
    for (let at = Math.ceil(low / by - 1e-9) * by; at <= high + 1e-9 * by; at += by) found.push(at);
    return found;
  };
  const short = (value) => String(Number(value.toFixed(6))).replace("-", "−");

  const draw = (box) => {
    const plot = box.closest(".plot");
    const route = routes.get(Number(plot.dataset.route));
    const pair = route.pairs[Number(box.dataset.pair)];
    const [width, height] = narrow.matches ? [360, 250] : [960, 280];
    const [before, after] = (narrow.matches ? plot.dataset.narrow : plot.dataset.wide).split(" ").map((side) => Number(side) * width);
    const { m } = route.stations;
    const [first, last] = [m[0], m[m.length - 1]];
    const stride = route.step * pair.step;
    const every = [...pair.values.flat(), ...pair.limits].filter((value) => value !== null);
    const reach = 1.1 * Math.max(1, ...every.map(Math.abs));
    const x = (station) => before + ((station - first) / (last - first)) * (width - before - after);
    const y = (value) => TOP + (0.5 - value / (2 * reach)) * (height - TOP - BOTTOM);
    box.dataset.reach = reach;

    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    svg.setAttribute("class", "pair");
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", box.dataset.alt);
    const add = (tag, name, attributes, words) => {
      const part = svg.appendChild(document.createElementNS("http://www.w3.org/2000/svg", tag));
      part.setAttribute("class", name);
      for (const [key, value] of Object.entries(attributes)) part.setAttribute(key, value);
      if (words !== undefined) part.textContent = words;
    };
    const flat = (name, value) => add("path", name, { d: `M${before} ${y(value).toFixed(1)}H${width - after}` });

    if (!pair.limits.includes(null)) {
      const [low, high] = pair.limits;
      add("rect", "limits", { x: before, width: width - before - after, y: y(high).toFixed(1), height: (y(low) - y(high)).toFixed(1) });
    }
    for (const at of ticks(-reach, reach, step(2 * reach, 6))) {
      flat("rule", at);
      add("text", "tick", { x: before - 6, y: y(at) + 4, "text-anchor": "end" }, short(at));
    }
    const unit = last - first >= 2000 ? 1000 : 1;
    for (const at of ticks(first / unit, last / unit, step((last - first) / unit, narrow.matches ? 4 : 8))) {
      add("path", "edge", { d: `M${x(at * unit).toFixed(1)} ${height - BOTTOM}v4` });
      add("text", "tick", { x: x(at * unit).toFixed(1), y: height - BOTTOM + 17, "text-anchor": "middle" }, short(at));
    }
    pair.values.forEach((line, ride) => {
      let path = "";
      let down = false;
      line.forEach((value, i) => {
        if (value !== null) path += `${down ? "L" : "M"}${x(Math.min(last, first + i * stride)).toFixed(1)} ${y(value).toFixed(1)}`;
        down = value !== null;
      });
      add("path", "ride", { d: path, "stroke-dasharray": DASHES[ride % DASHES.length] || "none" });
    });
    if (pair.bias !== null) flat("bias", pair.bias);
    flat("edge", 0);
    add("path", "edge", { d: `M${before} ${TOP}V${height - BOTTOM}H${width - after}` });
    add("text", "label", { x: (before + width - after) / 2, y: height - 8, "text-anchor": "middle" }, `station (${unit === 1 ? "m" : "km"})`);
    const middle = (TOP + height - BOTTOM) / 2;
    add("text", "label", { x: 14, y: middle, "text-anchor": "middle", transform: `rotate(-90 14 ${middle})` }, pair.label);
    box.replaceChildren(svg);
  };

  for (const part of document.querySelectorAll("details.more-pairs")) {
    const drawAll = () => part.open && part.querySelectorAll("[data-pair]").forEach(draw);
    part.addEventListener("toggle", drawAll);
    narrow.addEventListener("change", drawAll);
  }
})();
