// Many rows at once: which are selected, and one value for all of them.

import { at, counted, make } from "./talk.js";

const COLUMNS = { receiver: "Watch", ride: "Ride", firmware: "Firmware", fix_seen: "Fix shown", note: "Note" };

export const BUSY = "Nothing can be changed while work is under way: wait, or cancel it.";

const chosen = new Set();
let rows = [];
let undoable = false;
let last = null;
let held = false;

// Rows that look alike: one watch where it is known, else one format and one pattern of file names.
function kind(row) {
  return row.receiver || `${row.format} ${row.file.replace(/\d+/g, "#")}`;
}

function boxes() {
  return [...document.querySelectorAll("#table-place .pick")];
}

function show() {
  for (const [number, box] of boxes().entries()) {
    box.checked = chosen.has(rows[number]?.key);
    box.closest("tr").classList.toggle("picked", box.checked);
  }
  const some = chosen.size > 0;
  at("many-count").textContent = some ? `${counted(chosen.size, "row")} of ${rows.length} selected` : "No row is selected.";
  at("many").inert = held;
  at("many").classList.toggle("sticks", some && !held);
  at("pick-all").disabled = held;
  at("undo").disabled = held || !undoable;
  for (const id of ["pick-ride", "pick-alike", "pick-none", "set-many", "fill-down"]) at(id).disabled = held || !some;
  if (chosen.size < 2) at("fill-down").disabled = true;
  at("many-why").textContent = held ? BUSY : why();
}

function why() {
  if (!chosen.size) return "Select one row or more: then choose all of its ride or all alike, and set watch, ride, firmware, fix shown or note for them.";
  return chosen.size < 2 ? "Filling down needs two rows or more." : "";
}

// While work is under way nothing can be changed, and the page says why.
export function hold(on) {
  if (held === on) return;
  held = on;
  show();
}

export function pick(number, through = false) {
  const from = through && last !== null ? Math.min(last, number) : number;
  const to = through && last !== null ? Math.max(last, number) : number;
  const on = through || !chosen.has(rows[number].key);
  for (const row of rows.slice(from, to + 1)) {
    if (on) chosen.add(row.key);
    else chosen.delete(row.key);
  }
  last = number;
  show();
}

export function took(table) {
  rows = table.rows;
  const there = new Set(rows.map((row) => row.key));
  for (const key of chosen) if (!there.has(key)) chosen.delete(key);
  if (last !== null && last >= rows.length) last = null;
  undoable = Boolean(table.undo);
  at("undo").textContent = table.undo ? `Undo (${table.undo})` : "Nothing to undo";
  show();
}

function widen(feature) {
  const wanted = new Set(rows.filter((row) => chosen.has(row.key)).map(feature));
  for (const row of rows) if (wanted.has(feature(row))) chosen.add(row.key);
  show();
}

// `change(keys, column, value)` saves; `undo()` takes the last change back.
export function many({ change, undo }) {
  at("many-column").replaceChildren(...Object.entries(COLUMNS).map(([value, title]) => make("option", { value }, title)));
  at("pick-all").addEventListener("click", () => {
    for (const row of rows) chosen.add(row.key);
    show();
  });
  at("pick-none").addEventListener("click", () => {
    chosen.clear();
    last = null;
    show();
  });
  at("pick-ride").addEventListener("click", () => widen((row) => row.ride));
  at("pick-alike").addEventListener("click", () => widen(kind));
  at("many-column").addEventListener("change", () => {
    if (at("many-column").value === "receiver") at("many-value").setAttribute("list", "receivers");
    else at("many-value").removeAttribute("list");
  });
  at("set-many").addEventListener("click", () => change([...chosen], at("many-column").value, at("many-value").value));
  at("fill-down").addEventListener("click", () => {
    const column = at("many-column").value;
    const first = rows.find((row) => chosen.has(row.key));
    change([...chosen], column, first[column]);
  });
  at("undo").addEventListener("click", undo);
}
