const byId = (id) => document.getElementById(id);
const data = JSON.parse(byId("data").textContent);
const canvas = byId("ground"), pen = canvas.getContext("2d");
const still = matchMedia("(prefers-reduced-motion: reduce)");
const state = { at: 0, since: 0, from: null, paused: false, clean: false, dark: matchMedia("(prefers-color-scheme: dark)").matches };
const colour = (name) => data.colours[name][state.dark ? 1 : 0];
const scenes = data.scenes.map(unpacked);
const shots = scenes.flatMap((scene) => scene.shots.map((shot) => ({ ...shot, scene })));

function unpacked(scene) {
  const summed = (steps, unit) => { let sum = 0; return Float64Array.from(steps, (step) => (sum += step) * unit); };
  const x = summed(scene.x, 0.1), y = summed(scene.y, 0.1);
  const paths = scene.paths.map((p) => ({
    ...p, x: summed(p.x, 0.1), y: summed(p.y, 0.1), t: summed(p.t, 0.1), breaks: new Set(p.breaks),
    dash: data.dashes[p.look % data.dashes.length],
  }));
  const whole = new Path2D(), runs = [];
  for (let i = 0; i < x.length; i++) {
    if (i) whole.lineTo(x[i], y[i]); else whole.moveTo(x[i], y[i]);
    if (i + 1 === x.length) break;
    let run = runs.at(-1);
    if (!run || run.kind !== scene.kinds[i]) {
      run = { kind: scene.kinds[i], path: new Path2D() };
      run.path.moveTo(x[i], y[i]);
      runs.push(run);
    }
    run.path.lineTo(x[i + 1], y[i + 1]);
  }
  const at = summed(scene.stations, 0.1);
  for (const shot of scene.shots) {
    if (!shot.gap) continue;
    shot.missing = new Path2D();
    at.forEach((station, i) => {
      if (station < shot.gap[0] || station > shot.gap[1]) return;
      shot.missing.lineTo(x[i], y[i]);
      shot.begins = [x[i], y[i]];
    });
  }
  return { ...scene, x, y, paths, whole, runs };
}

// --- time -------------------------------------------------------------------------------------------

const drawSeconds = (shot) => (shot.kind === "whole" ? data.whole_s : data.place_s);
const flySeconds = () => (still.matches || !state.from ? 0 : data.fly_s);

function show(number) {
  if (number < 0 || number >= shots.length) return;
  const now = shots[state.at];
  state.from = !still.matches && now.scene === shots[number].scene && number !== state.at ? view() : null;
  state.at = number;
  state.since = 0;
  if (still.matches) state.since = flySeconds() + drawSeconds(shots[number]) + data.reveal_s;
  words();
}

function advance(seconds) {
  const shot = shots[state.at];
  state.since += seconds;
  const end = flySeconds() + drawSeconds(shot) + data.reveal_s + data.hold_s;
  if (!still.matches && state.since >= end && state.at + 1 < shots.length) show(state.at + 1);
}

// Ride seconds since the shot's zero, and how far the last fading in has come (0 to 1).
function moment() {
  const shot = shots[state.at], drawn = state.since - flySeconds();
  const share = Math.max(0, drawn / drawSeconds(shot));
  return { ride: Math.min(share, 1) * shot.seconds, reveal: Math.min(Math.max((drawn - drawSeconds(shot)) / data.reveal_s, 0), 1) };
}

// --- camera -----------------------------------------------------------------------------------------

function box() {
  const wide = innerWidth, high = innerHeight;
  if (state.clean) return { left: 0.05 * wide, top: 0.05 * high, wide: 0.9 * wide, high: 0.9 * high };
  const top = byId("head").getBoundingClientRect().bottom + 0.03 * high;
  const bottom = byId("foot").getBoundingClientRect().top - 0.02 * high;
  const side = Math.max(0.05 * wide, 16);
  return { left: side, top, wide: wide - 2 * side, high: Math.max(bottom - top, 40) };
}

// A view holds half of what the box is wide; a tall window turns a long shot upright.
function viewOf(shot, frame) {
  let [across, up] = shot.half, turn = shot.turn;
  if (innerHeight > 1.2 * innerWidth && across > up) {
    [across, up] = [up, across];
    turn += Math.PI / 2;
  }
  return { x: shot.x, y: shot.y, turn, half: Math.max(across, (up * frame.wide) / frame.high) };
}

function view() {
  const frame = box(), aim = viewOf(shots[state.at], frame);
  if (!state.from || state.since >= data.fly_s) return aim;
  return between(state.from, aim, state.since / data.fly_s);
}

// --- drawing ----------------------------------------------------------------------------------------

function draw() {
  const ratio = Math.min(devicePixelRatio || 1, 3);
  const wide = Math.round(innerWidth * ratio), high = Math.round(innerHeight * ratio);
  if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
  const frame = box(), eye = view(), shot = shots[state.at], scene = shot.scene;
  const zoom = (frame.wide / 2 / eye.half) * ratio, px = ratio / zoom * Math.max(innerWidth / 1920, 0.62);
  const metres = ratio / zoom * (innerWidth / 1920);
  const near = shot.kind === "whole" && !state.from ? 0 : Math.min(Math.max((1.5 - metres) / 0.7, 0), 1);
  const { ride, reveal } = moment();
  pen.setTransform(1, 0, 0, 1, 0, 0);
  pen.globalAlpha = 1;
  pen.fillStyle = colour("paper");
  pen.fillRect(0, 0, wide, high);
  const cos = Math.cos(eye.turn) * zoom, sin = Math.sin(eye.turn) * zoom;
  const middle = [(frame.left + frame.wide / 2) * ratio, (frame.top + frame.high / 2) * ratio];
  pen.setTransform(cos, sin, sin, -cos, middle[0] - cos * eye.x - sin * eye.y, middle[1] - sin * eye.x + cos * eye.y);
  pen.lineCap = pen.lineJoin = "round";
  stroke(scene.whole, colour("rule"), 7 * px, 1);
  const ribbon = shot.kind === "whole" ? reveal * (1 - near) : 1 - near;
  if (ribbon > 0) for (const run of scene.runs) {
    stroke(run.path, run.kind < 0 ? colour("thin") : data.scale[run.kind][state.dark ? 1 : 0], 15 * px, ribbon);
  }
  const strength = shot.kind === "whole" ? 1 - reveal : Math.max(near, 0.15);
  scene.paths.forEach((p, row) => trace(p, shot, shot.enter[row], ride, reveal, px, strength));
  if (shot.missing) missing(shot, px);
  legend(near > 0.5 || (shot.kind === "whole" && reveal === 0));
  furniture(eye, frame, ride);
}

function stroke(shape, tint, width, alpha) {
  pen.globalAlpha = alpha;
  pen.strokeStyle = tint;
  pen.lineWidth = width;
  pen.setLineDash([]);
  pen.stroke(shape);
}

// What a late first fix left out, as dots, and a ring where the trace begins.
function missing(shot, px) {
  pen.globalAlpha = 1;
  pen.strokeStyle = colour("warn");
  pen.lineWidth = 9 * px;
  pen.setLineDash([0.1, 18 * px]);
  pen.stroke(shot.missing);
  pen.setLineDash([]);
  if (!shot.begins) return;
  pen.lineWidth = 6 * px;
  pen.beginPath();
  pen.arc(...shot.begins, 17 * px, 0, 7);
  pen.stroke();
}

// One trace up to the ride's moment: full within the place, faint outside, its head a disc.
function trace(p, shot, enter, ride, reveal, px, strength) {
  if (enter === null) return;
  const now = enter + ride, until = reveal > 0 ? Infinity : now;
  const faint = new Path2D(), full = new Path2D(), rest = new Path2D();
  let head = null, down = { faint: false, full: false, rest: false };
  for (let i = 0; i < p.x.length && p.t[i] <= until; i++) {
    const inside = p.s[i] >= shot.from && p.s[i] <= shot.to;
    const name = p.t[i] > now ? "rest" : inside ? "full" : "faint";
    const shape = { faint, full, rest }[name];
    const joined = i > 0 && !p.breaks.has(i);
    if (joined && !down[name]) shape.moveTo(p.x[i - 1], p.y[i - 1]);
    else if (!joined) shape.moveTo(p.x[i], p.y[i]);
    shape.lineTo(p.x[i], p.y[i]);
    down = { faint: name === "faint", full: name === "full", rest: name === "rest" };
    if (p.t[i] <= now) head = i;
  }
  const moving = head !== null && head + 1 < p.x.length && reveal === 0 && p.t[0] <= now;
  const tip = moving ? tipOf(p, head, now) : null;
  if (tip) (down.full ? full : faint).lineTo(...tip);
  const tint = data.looks[p.look][state.dark ? 1 : 0], width = (shot.scene.paths.length > 12 ? 2.5 : 5) * px;
  stroke(faint, tint, width, 0.22 * strength);
  pen.globalAlpha = 0.92 * strength;
  pen.setLineDash(p.dash.map((part) => part * 3.6 * px));
  pen.lineCap = p.dash.length ? "butt" : "round";
  pen.stroke(full);
  pen.globalAlpha = 0.92 * strength * reveal * (shot.kind === "whole" ? 1 : 0.25);
  pen.stroke(rest);
  pen.lineCap = "round";
  if (tip) disc(tip, tint, px);
}

// Where a trace is between its point at head and the next one.
function tipOf(p, head, now) {
  const step = p.t[head + 1] - p.t[head];
  const share = p.breaks.has(head + 1) || step <= 0 ? 0 : (now - p.t[head]) / step;
  return [p.x, p.y].map((values) => values[head] + (values[head + 1] - values[head]) * share);
}

function disc(place, tint, px) {
  pen.globalAlpha = 1;
  pen.fillStyle = tint;
  pen.strokeStyle = colour("paper");
  pen.lineWidth = 3 * px;
  pen.setLineDash([]);
  pen.beginPath();
  pen.arc(...place, 9 * px, 0, 7);
  pen.fill();
  pen.stroke();
}

// --- words ------------------------------------------------------------------------------------------

const long = (m) => (m >= 1000 ? `${+(m / 1000).toFixed(2)} km` : `${+m.toPrecision(2)} m`);

function words() {
  const shot = shots[state.at];
  byId("title").textContent = shot.title;
  byId("line").textContent = shot.lines[0];
  byId("whom").textContent = shot.lines[1];
  byId("rule").textContent = shot.lines[2];
  byId("state").hidden = !shot.verdict;
  if (shot.verdict) {
    byId("verdict").textContent = `${data.glyphs[shot.verdict]} ${shot.verdict}`;
    byId("verdict").style.color = colour(shot.verdict);
  }
  byId("caution").textContent = (shot.kind === "whole" ? "" : `${shot.scene.name} · `) + data.caution;
  byId("private").textContent = data.private;
  document.title = `${shot.scene.name}, ${shot.title}`;
  canvas.setAttribute("aria-label", `Map. ${shot.title}. ${shot.verdict ?? ""} ${shot.lines.filter(Boolean).join(". ")}`);
  ruler(shot);
}

function ruler(shot) {
  const bar = byId("ruler"), length = shot.scene.length;
  bar.replaceChildren();
  shots.forEach((other, number) => {
    if (other.scene !== shot.scene || other.kind !== "place") return;
    const key = document.createElement("button");
    key.style.left = `${(100 * other.from) / length}%`;
    key.style.width = `${(100 * (other.to - other.from)) / length}%`;
    key.style.setProperty("--own", colour(other.verdict));
    key.title = `${other.title}: ${other.verdict}`;
    key.setAttribute("aria-label", key.title);
    if (other === shot) key.setAttribute("aria-current", "true");
    key.addEventListener("click", () => show(number));
    bar.append(key);
  });
}

let shown = "";
function legend(receivers) {
  const scene = shots[state.at].scene, key = `${receivers} ${state.dark} ${scenes.indexOf(scene)}`;
  if (key === shown) return;
  shown = key;
  byId("legend").replaceChildren(...(receivers ? scene.receivers.map((name, i) => receiver(name, scene.looks[i])) : [classes(scene)]));
}

function receiver(name, number) {
  const item = document.createElement("span"), line = document.createElement("canvas");
  item.className = "receiver";
  [line.width, line.height] = [192, 34];
  const ink = line.getContext("2d");
  ink.strokeStyle = data.looks[number % data.looks.length][state.dark ? 1 : 0];
  ink.lineWidth = 14;
  ink.setLineDash(data.dashes[number % data.dashes.length].map((part) => part * 5));
  ink.beginPath();
  ink.moveTo(0, 17);
  ink.lineTo(192, 17);
  ink.stroke();
  item.append(line, name);
  return item;
}

function classes(scene) {
  const row = document.createElement("span"), starts = { 0: "steady", 2: "wavering", 4: "torn" };
  row.className = "classes";
  scene.edges.forEach((edge, number) => {
    const item = document.createElement("span"), word = document.createElement("b"), bar = document.createElement("i");
    item.className = "class";
    word.textContent = starts[number] ?? "";
    bar.style.background = data.scale[number][state.dark ? 1 : 0];
    item.append(word, bar, String(edge));
    row.append(item);
  });
  row.append("m of spread");
  return row;
}

function furniture(eye, frame, ride) {
  const shot = shots[state.at], perPx = (2 * eye.half) / frame.wide, most = 0.18 * innerWidth * perPx;
  const power = 10 ** Math.floor(Math.log10(most));
  const length = [5, 2, 1].map((step) => step * power).find((step) => step <= most);
  byId("scale").firstElementChild.style.width = `${length / perPx}px`;
  byId("scale").lastElementChild.textContent = long(length);
  const turned = Math.abs(Math.sin(eye.turn / 2)) > 0.01;
  byId("north").hidden = !turned;
  if (turned) arrow(byId("north").firstElementChild, eye.turn);
  const minutes = Math.floor(ride / 60), seconds = String(Math.floor(ride % 60)).padStart(2, "0");
  const pace = Math.max(1, Math.round(shot.seconds / drawSeconds(shot)));
  byId("clock").textContent = shot.scene.timed
    ? `ride time ${minutes}:${seconds} · ${pace} × as fast`
    : "no times: drawn at one pace";
  byId("pause").textContent = state.paused ? "Go on" : "Pause";
}

function arrow(square, turn) {
  const ink = square.getContext("2d");
  ink.setTransform(1, 0, 0, 1, 0, 0);
  ink.clearRect(0, 0, 72, 72);
  ink.translate(36, 36);
  ink.rotate(turn);
  ink.strokeStyle = colour("ink");
  ink.lineWidth = 5;
  ink.beginPath();
  ink.moveTo(0, 30);
  ink.lineTo(0, -30);
  ink.moveTo(-13, -10);
  ink.lineTo(0, -30);
  ink.lineTo(13, -10);
  ink.stroke();
}

// --- keys -------------------------------------------------------------------------------------------

function shade() {
  document.body.classList.toggle("dark", state.dark);
  for (const [name, pair] of Object.entries(data.colours)) {
    document.documentElement.style.setProperty(`--${name}`, pair[state.dark ? 1 : 0]);
  }
}

let fading = 0;
function clean(on) {
  state.clean = on;
  document.body.classList.toggle("clean", on);
  byId("hint").hidden = !on;
  clearTimeout(fading);
  if (on) fading = setTimeout(() => { byId("hint").hidden = true; }, 2000);
}

const acts = {
  back: () => show(state.at - 1),
  next: () => show(state.at + 1),
  pause: () => { state.paused = !state.paused; },
  clean: () => clean(!state.clean),
  full: () => (document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen?.()?.catch(() => {})),
  shade: () => { state.dark = !state.dark; shade(); words(); },
  first: () => show(0),
};
const keys = {
  ArrowLeft: "back", PageUp: "back", b: "back", ArrowRight: "next", PageDown: "next", n: "next", " ": "pause", p: "pause",
  c: "clean", f: "full", d: "shade", Home: "first",
};
addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === " " && event.target instanceof HTMLButtonElement) return;
  if (event.key === "Escape" && state.clean) return clean(false);
  const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act) return;
  event.preventDefault();
  acts[act]();
});
for (const id of ["back", "pause", "next", "clean", "full", "shade"]) byId(id).addEventListener("click", acts[id]);
canvas.addEventListener("click", () => { if (state.clean) clean(false); });

let before = null;
function frameAt(now) {
  const seconds = before === null ? 0 : Math.min((now - before) / 1000, 0.1);
  before = now;
  if (!state.paused) advance(seconds);
  draw();
  requestAnimationFrame(frameAt);
}

shade();
words();
show(0);
requestAnimationFrame(frameAt);
