// The table of what was read: one row a trace, four cells of it to correct. Text from files is only ever text.

import { make } from "./talk.js";

const COLUMNS = [
  ["file", "File"],
  ["receiver", "Watch"],
  ["ride", "Ride"],
  ["start_pressed", "Start pressed"],
  ["way", "Way and first point"],
  ["points", "Points"],
  ["findings", "Findings"],
  ["note", "Note"],
  ["remove", "Remove"],
];
const EDITABLE = { receiver: "Watch", ride: "Ride", start_pressed: "Start pressed", note: "Note" };
const FROM = {
  sheet: "as stated",
  folder: "from the folder",
  file: "from the file",
  pattern: "from the file's name",
  overlap: "from the times",
  declared: "as stated",
  timer: "from the watch's timer",
  none: "not known",
};

// `correct(row, column, value)` saves a cell and returns the table anew, or throws an error with words.
export function tableOf(rows, { correct, remove, pick }) {
  const head = make("tr", { role: "row" });
  for (const [name, title] of COLUMNS) {
    head.append(make("th", { scope: "col", role: "columnheader", class: `is-${name}` }, title));
  }
  const body = make("tbody", { role: "rowgroup" });
  rows.forEach((row, number) => body.append(rowOf(row, number, { correct, remove, pick })));
  return make(
    "table",
    { role: "table", "aria-labelledby": "check-head" },
    make("thead", { role: "rowgroup" }, head),
    body,
  );
}

// Puts new values into the cells, except the one in which the user is typing.
export function refresh(table, rows) {
  rows.forEach((row, number) => {
    for (const column of Object.keys(EDITABLE)) {
      const input = table.querySelector(`#${column}-${number}`);
      if (!input) continue;
      if (input !== document.activeElement) input.value = row[column];
      input.dataset.saved = row[column];
      judge(input, row[`${column}_wrong`]);
      const from = table.querySelector(`#${column}-from-${number}`);
      if (from) from.textContent = sourceOf(row, column);
    }
    table.querySelector(`#first_point-${number}`).textContent = firstPoint(row);
  });
}

// Says what is wrong with a cell, or that nothing is.
function judge(input, words) {
  if (words) input.setAttribute("aria-invalid", "true");
  else input.removeAttribute("aria-invalid");
  input.parentElement.querySelector(".wrong").textContent = words ?? "";
}

function rowOf(row, number, { correct, remove, pick }) {
  const label = row.part ? `${row.file}, trace ${row.part + 1}` : row.file;
  const tr = make("tr", {
    role: "row",
    onclick: (event) => {
      if (!event.target.closest("input, button, details, a")) pick(number, event.shiftKey);
    },
    onmousedown: (event) => {
      if (event.shiftKey && !event.target.closest("input")) event.preventDefault();
    },
  });
  tr.append(
    make(
      "th",
      { scope: "row", role: "rowheader", class: "is-file" },
      make("input", {
        type: "checkbox",
        class: "pick",
        "aria-label": `Select ${label}`,
        onclick: (event) => pick(number, event.shiftKey),
      }),
      ...fileName(row.file),
      make("span", { class: "tag" }, row.part ? `trace ${row.part + 1}, ${row.format}` : row.format),
    ),
  );
  for (const [name, title] of COLUMNS.slice(1)) {
    const cell = make("td", { role: "cell", class: `is-${name}`, "data-title": title });
    if (name in EDITABLE) cell.append(...inputOf(row, number, name, label, correct));
    else if (name === "way") cell.append(row.way, make("span", { class: "tag", id: `first_point-${number}` }, firstPoint(row)));
    else if (name === "points") cell.append(row.points.toLocaleString("en"));
    else if (name === "findings") cell.append(findingsOf(row, label));
    else if (row.dropped) cell.append(removeOf(row.dropped, remove));
    tr.append(cell);
  }
  return tr;
}

function fileName(file) {
  const parts = file.split(/(?<=[/_.\-])/);
  return parts.flatMap((part, i) => (i < parts.length - 1 ? [part, document.createElement("wbr")] : [part]));
}

// What stands under a cell: where it comes from, and what goes with it.
function sourceOf(row, column) {
  const parts = [FROM[row[`${column}_from`]]];
  if (column === "receiver" && row.firmware) parts.push(`firmware ${row.firmware}`);
  if (column === "start_pressed") {
    parts.unshift(row.start_pressed_utc);
    if (row.fix_seen) parts.push(row.fix_seen_wrong || `fix shown ${row.fix_seen.slice(11)}`);
  }
  return parts.filter(Boolean).join(", ");
}

function firstPoint(row) {
  return [row.first_point, row.first_point_utc].filter(Boolean).join(", ");
}

function inputOf(row, number, column, label, correct) {
  const id = `${column}-${number}`;
  const error = make("span", { class: "wrong", id: `${id}-error` });
  const input = make("input", {
    id,
    type: "text",
    value: row[column],
    autocomplete: "off",
    spellcheck: "false",
    maxlength: 200,
    list: column === "receiver" ? "receivers" : undefined,
    "aria-label": `${EDITABLE[column]}, ${label}`,
    "aria-describedby": column === "note" ? `${id}-error` : `${column}-from-${number} ${id}-error`,
    onchange: async () => {
      try {
        await correct(row, column, input.value);
      } catch (problem) {
        judge(input, problem.message);
      }
    },
    onkeydown: (event) => {
      if (event.key === "Escape") input.value = input.dataset.saved;
      if (event.key === "Enter") document.getElementById(`${column}-${number + 1}`)?.focus();
    },
  });
  input.dataset.saved = row[column];
  const from = make("span", { class: "tag", id: `${column}-from-${number}` }, sourceOf(row, column));
  const cell = column === "note" ? [input, error] : [input, from, error];
  judge(make("div", {}, ...cell).firstChild, row[`${column}_wrong`]);
  return cell;
}

function findingsOf(row, label) {
  if (!row.findings.length) return make("span", { class: "none" }, "none");
  const count = row.findings.length;
  const list = make("ul");
  for (const { text, first_place } of row.findings) {
    list.append(make("li", {}, text, first_place ? make("span", { class: "tag" }, `first: ${first_place}`) : ""));
  }
  return make(
    "details",
    {},
    make("summary", {}, `${count} ${count === 1 ? "finding" : "findings"}`, make("span", { class: "unseen" }, ` in ${label}`)),
    list,
  );
}

export function removeOf(file, remove) {
  return make("button", { type: "button", class: "quiet", "aria-label": `Remove ${file}`, onclick: () => remove(file) }, "Remove");
}
