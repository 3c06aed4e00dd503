// The ride log: one ride under way per watch, kept after every press. Names are only ever set as text.
"use strict";

const at = (id) => document.getElementById(id);
const GIVEN = JSON.parse(at("data").textContent);
const KEY = "trackspread ride log";
const COLUMNS = ["file", "receiver", "ride", "start_pressed", "fix_seen", "firmware", "note", "stopped"];
const STEPS = { start: "start_pressed", fix: "fix_seen", stop: "stopped" };
const WORDS = { start: "Start pressed", fix: "Fix shown", stop: "Stopped" };

let log = { watches: [], chosen: "", rides: [] };

// --- keeping ---------------------------------------------------------------------------------------

function read() {
  let kept = null;
  try {
    kept = JSON.parse(localStorage.getItem(KEY));
  } catch {
    at("unkept").hidden = false;
  }
  if (sound(kept)) log = kept;
  for (const name of GIVEN.watches) if (!log.watches.includes(name)) log.watches.push(name);
  if (!log.watches.includes(log.chosen)) log.chosen = log.watches[0] ?? "";
}

function sound(kept) {
  const text = (value) => typeof value === "string";
  return (
    Array.isArray(kept?.watches) && kept.watches.every(text) && text(kept.chosen) &&
    Array.isArray(kept.rides) && kept.rides.every((ride) => text(ride?.receiver) && Array.isArray(ride.order))
  );
}

function keep() {
  try {
    localStorage.setItem(KEY, JSON.stringify(log));
    at("unkept").hidden = true;
  } catch {
    at("unkept").hidden = false;
  }
  show();
}

// --- times -----------------------------------------------------------------------------------------

const two = (number) => String(Math.floor(number)).padStart(2, "0");

// Local time with its offset, to the second: 2031-03-03T08:25:56+01:00.
function stamp(moment) {
  const minutes = -moment.getTimezoneOffset();
  const day = `${moment.getFullYear()}-${two(moment.getMonth() + 1)}-${two(moment.getDate())}`;
  const time = [moment.getHours(), moment.getMinutes(), moment.getSeconds()].map(two).join(":");
  const size = Math.abs(minutes);
  return `${day}T${time}${minutes < 0 ? "-" : "+"}${two(size / 60)}:${two(size % 60)}`;
}

const clock = (text) => text.slice(11, 19);
const seconds = (from, to) => Math.round((new Date(to) - new Date(from)) / 1000);

function lasted(from, to) {
  const whole = Math.max(0, seconds(from, to));
  return whole < 60 ? `${whole} s` : `${Math.floor(whole / 60)} min ${whole % 60} s`;
}

// --- pressing --------------------------------------------------------------------------------------

// A ride that nobody stopped ends by itself, so that the next one can begin.
const LONGEST_RIDE_S = 12 * 3600;
const open = (watch) =>
  log.rides.findLast(
    (ride) => ride.receiver === watch && !ride.stopped && seconds(ride.start_pressed, stamp(new Date())) < LONGEST_RIDE_S,
  );

function press(step) {
  const now = stamp(new Date());
  let ride = open(log.chosen);
  if (step === "start") {
    ride = { receiver: log.chosen, order: [] };
    log.rides.push(ride);
  }
  ride[STEPS[step]] = now;
  ride.order.push(step);
  log.last = log.rides.indexOf(ride);
  at("said").textContent = `${WORDS[step]}: ${log.chosen}, ${clock(now)}`;
  keep();
  at(step === "start" ? "fix" : step === "fix" ? "stop" : "start").focus({ preventScroll: true });
}

function takeBack() {
  const ride = log.rides[log.last];
  const step = ride.order.pop();
  delete ride[STEPS[step]];
  if (!ride.order.length) log.rides.splice(log.last, 1);
  log.chosen = ride.receiver;
  delete log.last;
  at("said").textContent = `Taken back: ${WORDS[step]}, ${ride.receiver}`;
  keep();
}

// --- the table -------------------------------------------------------------------------------------

function cell(text) {
  const formula = GIVEN.formula_starts.some((sign) => text.trimStart().startsWith(sign));
  const guarded = formula ? `'${text}` : text;
  return /[",\r\n;\t]/.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded;
}

function table() {
  const lines = log.rides.map((ride) => COLUMNS.map((column) => cell(ride[column] ?? "")).join(","));
  return `${[COLUMNS.join(","), ...lines].join("\n")}\n`;
}

function save() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([table()], { type: "text/csv" }));
  link.download = "rides.csv";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  at("said").textContent = "Saved as rides.csv. The log stays here until you empty it.";
}

// --- showing ---------------------------------------------------------------------------------------

function make(tag, text, ...children) {
  const element = document.createElement(tag);
  element.append(text, ...children);
  return element;
}

function showWatches() {
  const chips = log.watches.map((name) => {
    const input = document.createElement("input");
    Object.assign(input, { type: "radio", name: "watch", value: name, checked: name === log.chosen });
    input.addEventListener("change", () => {
      log.chosen = name;
      at("said").textContent = "";
      keep();
      at("watches").querySelector("input:checked").focus();
    });
    const words = make("span", name);
    if (open(name)) words.append(make("small", "under way"));
    return make("label", input, words);
  });
  at("watches").replaceChildren(...chips);
}

function showSteps() {
  const ride = log.chosen ? open(log.chosen) : undefined;
  const next = !log.chosen ? "" : !ride ? "start" : ride.fix_seen ? "stop" : "fix";
  for (const step of Object.keys(STEPS)) {
    const button = at(step);
    const done = ride?.[STEPS[step]];
    button.disabled = !log.chosen || (step === "start" ? Boolean(ride) : !ride || Boolean(done));
    button.classList.toggle("next", step === next);
    button.querySelector(".at").textContent = done ? clock(done) : "";
  }
  at("why").textContent = !log.chosen
    ? "Add a watch first."
    : !ride
      ? "Before you leave: press start on the watch and here, at one moment."
      : !ride.fix_seen
        ? "Press when the watch says that it has a fix. If that came while you rode, leave it out."
        : "Press after you arrived and stopped the watch.";
  at("back").disabled = log.last === undefined;
  tick();
}

// How long the watch has been looking for its fix, while nobody pressed "Fix shown".
function tick() {
  const ride = log.chosen ? open(log.chosen) : undefined;
  if (ride && !ride.fix_seen) at("fix").querySelector(".at").textContent = lasted(ride.start_pressed, stamp(new Date()));
}

function showRides() {
  at("none").hidden = log.rides.length > 0;
  at("save").disabled = at("empty").disabled = log.rides.length === 0;
  at("rides").replaceChildren(
    ...log.rides.map((ride) => {
      const fix = ride.fix_seen ? `fix after ${lasted(ride.start_pressed, ride.fix_seen)}` : "no fix noted";
      const end = ride.stopped ? `stopped ${clock(ride.stopped)}` : ride === open(ride.receiver) ? "under way" : "end not noted";
      const start = `${ride.start_pressed.slice(0, 10)}, start ${clock(ride.start_pressed)}`;
      const remove = make("button", "Remove");
      remove.type = "button";
      remove.setAttribute("aria-label", `Remove ${ride.receiver}, ${start}`);
      remove.addEventListener("click", () => {
        log.rides.splice(log.rides.indexOf(ride), 1);
        delete log.last;
        at("said").textContent = `Removed: ${ride.receiver}, ${start}`;
        keep();
        at("log-head").scrollIntoView({ block: "start" });
      });
      return make("li", make("span", ride.receiver, make("small", `${start} · ${fix} · ${end}`)), remove);
    }).reverse(),
  );
  at("text").value = table();
}

function show() {
  showWatches();
  showSteps();
  showRides();
}

// --- start -----------------------------------------------------------------------------------------

for (const step of Object.keys(STEPS)) at(step).addEventListener("click", () => press(step));
at("back").addEventListener("click", takeBack);
at("save").addEventListener("click", save);
at("add").addEventListener("submit", (event) => {
  event.preventDefault();
  const name = at("name").value.trim().replace(/\s+/g, " ");
  if (!name) return;
  if (!log.watches.includes(name)) log.watches.push(name);
  log.watches = log.watches.slice(-GIVEN.most_watches);
  log.chosen = name;
  at("name").value = "";
  at("more").open = false;
  at("said").textContent = `${name} is chosen.`;
  keep();
});
at("empty").addEventListener("click", () => {
  at("sure-words").textContent = `${log.rides.length === 1 ? "1 ride is" : `${log.rides.length} rides are`} in the log. What you saved stays.`;
  at("sure").hidden = false;
  at("keep").focus();
});
at("keep").addEventListener("click", () => {
  at("sure").hidden = true;
});
at("empty-now").addEventListener("click", () => {
  log.rides = [];
  delete log.last;
  at("sure").hidden = true;
  at("said").textContent = "The log is empty.";
  keep();
});
addEventListener("storage", () => {
  read();
  show();
});
setInterval(tick, 1000);
read();
show();
at("more").open = !log.watches.length;
