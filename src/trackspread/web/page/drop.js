// The drop page: three actions (drop, check, run), one state on the server, asked for while a job runs.

import { chosen, dropped, send } from "./files.js";
import { BUSY, hold, many, pick, took } from "./many.js";
import { clearResult, showResult } from "./result.js";
import { blame, field, settings } from "./settings.js";
import { refresh, removeOf, tableOf } from "./table.js";
import { alarm, arrive, ask, at, attempt, counted, ended, list, make, say, timeLeft } from "./talk.js";

const PACE_MS = 300;

let state = null;
let busy = false;
let saving = Promise.resolve();
let shown = null;
let begun = null;

// --- drop ----------------------------------------------------------------------------------------

async function take(gathering) {
  await begun;
  if (busy) return;
  if (state.job?.state === "running") throw new Error("Wait for the work under way, or cancel it.");
  busy = true;
  try {
    const files = await gathering;
    if (!files.length) throw new Error("There was no file in what was dropped.");
    at("copying").hidden = false;
    at("copying-bar").removeAttribute("value");
    say(`Taking ${counted(files.length, "file")}.`);
    const refused = await send(files, state, (sent, all) => {
      at("copying-words").textContent = `Taking file ${sent} of ${all}`;
      at("copying-bar").value = sent / all;
    });
    list("refused", refused);
    busy = false;
    await read();
  } finally {
    busy = false;
    at("copying").hidden = true;
  }
}

async function read() {
  if ((await ask("/state")).files === 0) return show(true);
  await ask("/read", "POST");
  await finishReading();
}

async function finishReading() {
  const job = await follow();
  await show(job?.state !== "failed");
  if (job?.state === "failed") throw new Error(job.error);
  if (job) arrive("check");
}

// --- a job ---------------------------------------------------------------------------------------

async function follow() {
  let steps = 0;
  for (;;) {
    state = await ask("/state");
    showJob(state.job);
    if (state.job?.state === "running" && state.steps > steps) {
      steps = state.steps;
      await showFound();
    }
    if (state.job?.state !== "running") return state.job;
    await new Promise((wake) => setTimeout(wake, PACE_MS));
  }
}

// What is known already is shown while the rest is still being made.
async function showFound() {
  const first = at("result").hidden;
  const found = await ask("/result").catch(() => null);
  if (!found) return; // it was cancelled meanwhile
  showResult(found);
  at("result").hidden = false;
  if (first) say("The result is there; its files are being written.");
}

function showJob(job) {
  const on = job?.state === "running";
  const reading = on && job.kind === "read";
  const running = on && job.kind === "run";
  at("copying").hidden = !reading;
  at("running").hidden = !running;
  at("options").hidden = running;
  at("stopped").hidden = !(job?.kind === "run" && job.state === "cancelled");
  for (const control of document.querySelectorAll("#drop button, #table-place button, #table-place input, #clear")) {
    control.disabled = on;
    control.title = on ? BUSY : "";
  }
  hold(on);
  if (reading) {
    at("copying-words").textContent = job.phase ? `Reading: ${job.phase}` : "Reading the traces";
    at("copying-bar").value = job.share;
  }
  if (running) {
    if (at("phase").textContent !== job.phase) say(job.phase);
    at("phase").textContent = at("cancel").disabled ? "Stopping" : job.phase || "Starting";
    at("left").textContent = timeLeft(job.seconds_left);
    at("bar").value = job.share;
  }
  advance(running ? job.share : 0);
}

// Moves along the strands of the head: a third a step.
function advance(share) {
  const finished = state.result && state.job?.state !== "running";
  const done = finished ? 3 : state.traces !== null ? 2 + share : state.files ? 1 : 0;
  at("gone-to").setAttribute("width", String((1200 * done) / 3));
  const current = state.result || state.job?.kind === "run" ? "run" : state.traces !== null ? "check" : "drop";
  const words = {
    drop: state.files ? counted(state.files, "file") : "",
    check: state.traces !== null ? counted(state.traces, "trace") : "",
    run: finished ? "done" : state.job?.kind === "run" ? { failed: "failed", cancelled: "cancelled" }[state.job.state] ?? "under way" : "",
  };
  for (const step of ["drop", "check", "run"]) {
    at(`at-${step}`).querySelector("span").textContent = words[step] ?? "";
    const link = at(`at-${step}`).querySelector("a");
    if (step === current) link.setAttribute("aria-current", "step");
    else link.removeAttribute("aria-current");
    if (at(step).hidden) link.removeAttribute("href");
    else link.href = `#${step}`;
  }
}

// --- what there is -------------------------------------------------------------------------------

// Asks for everything first, so that nothing is shown before what belongs to it.
async function show(withTable) {
  state = await ask("/state");
  const table = state.traces !== null && withTable ? await ask("/table") : null;
  const result = state.result ? await ask("/result") : null;
  for (const id of ["check", "run"]) at(id).hidden = state.traces === null;
  at("result").hidden = !state.result;
  at("stale").hidden = !state.stale;
  at("zone").classList.toggle("has-files", state.files > 0);
  at("zone-words").textContent = state.files
    ? `${counted(state.files, "file")}, ${(state.bytes / 1e6).toFixed(1)} MB. Drop more, or choose them.`
    : "Drag files or whole folders here, or choose them.";
  if (table) showTable(table);
  if (result) showResult(result);
  showJob(state.job);
}

function showTable({ rows, unread, undo }) {
  const focused = document.activeElement?.id;
  const remove = attempt(async (file) => {
    await ask(`/files?name=${encodeURIComponent(file)}`, "DELETE");
    await read();
  });
  const table = tableOf(rows, {
    remove,
    pick,
    correct: (row, column, value) => change(() => ask("/correction", "POST", { keys: [row.key], column, value })),
  });
  shown = table;
  at("table-place").replaceChildren(table);
  list("unread", unread.map(({ text, dropped }) => [text, dropped ? removeOf(dropped, remove) : ""]));
  took({ rows, undo });
  checked({ rows });
  if (focused) at(focused)?.focus();
}

// Saves one change after the other and puts what follows from it into the table.
async function change(request, words = "Corrected.") {
  saving = saving.catch(() => {}).then(request);
  const fresh = await saving;
  refresh(shown, fresh.rows);
  took(fresh);
  checked(fresh);
  at("stale").hidden = false;
  say(words);
}

function checked({ rows }) {
  const receivers = [...new Set(rows.map((row) => row.receiver).filter(Boolean))].sort();
  const rides = new Set(rows.map((row) => row.ride).filter(Boolean));
  const findings = rows.filter((row) => row.findings.some(({ of_note }) => of_note)).length;
  const unknown = rows.filter((row) => !row.receiver).length;
  const words = [counted(rows.length, "trace"), receivers.length === 1 ? "1 watch" : `${receivers.length} watches`, counted(rides.size, "ride")];
  if (findings) words.push(`${counted(findings, "trace")} with findings`);
  if (unknown) words.push(`${unknown} without a watch`);
  at("receivers").replaceChildren(...receivers.map((name) => make("option", { value: name })));
  at("check-words").textContent = words.join(" · ");
  at("start").textContent = `Analyse ${counted(rows.length, "trace")}`;
  at("start").disabled = rows.length < 2;
  at("start-why").textContent = rows.length < 2 ? `Two traces are needed; there ${rows.length === 1 ? "is 1" : "are 0"}.` : "";
}

// The zone of the browser is offered first; what is chosen holds for the session.
async function chooseClock() {
  const own = Intl.DateTimeFormat().resolvedOptions().timeZone || "UTC";
  const zones = [...new Set([own, "UTC", ...(Intl.supportedValuesOf?.("timeZone") ?? [])])];
  at("clock").replaceChildren(
    ...zones.map((zone) => make("option", { value: zone }, zone === own ? `${zone} (this browser)` : zone)),
  );
  for (const zone of [state.zone ?? own, "UTC"]) {
    try {
      if (zone !== state.zone) await ask("/zone", "POST", { zone });
      at("clock").value = zone;
      break;
    } catch {
      // a zone that this machine does not know: UTC it is
    }
  }
  at("clock").addEventListener("change", attempt(async () => {
    await saving.catch(() => {});
    await ask("/zone", "POST", { zone: at("clock").value });
    refresh(shown, (await ask("/table")).rows);
    say(`Times are in ${at("clock").value}.`);
  }, "check-head"));
}

// --- run -----------------------------------------------------------------------------------------

async function run(event) {
  event.preventDefault();
  blame();
  try {
    await saving.catch(() => {});
    await ask("/run", "POST", settings());
  } catch (problem) {
    if (blame(problem.field, problem.message)) return;
    throw problem;
  }
  clearResult();
  say("The analysis has started.");
  await watch();
}

async function watch() {
  const following = follow();
  at("cancel").disabled = false;
  setTimeout(() => at("cancel").focus(), PACE_MS);
  const job = await following;
  await show(false);
  if (job?.state === "failed") throw new Error(job.error);
  if (job?.state !== "done") {
    say("Cancelled.");
    at("start").focus();
  } else {
    say("The result is there.");
    arrive("result");
  }
}

// --- start ---------------------------------------------------------------------------------------

function listen() {
  const zone = at("zone");
  at("choose-files").addEventListener("click", () => at("files").click());
  at("choose-folder").addEventListener("click", () => at("folder").click());
  for (const id of ["files", "folder"]) {
    at(id).addEventListener("change", attempt(async () => {
      const files = chosen(at(id).files);
      at(id).value = "";
      await take(files);
    }));
  }
  document.addEventListener("dragover", (event) => {
    event.preventDefault();
    zone.classList.add("over");
  });
  document.addEventListener("dragleave", (event) => {
    if (!event.relatedTarget) zone.classList.remove("over");
  });
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    zone.classList.remove("over");
    const files = dropped(event.dataTransfer);
    attempt(() => take(files))();
  });
  at("options").addEventListener("submit", attempt(run, "run-head"));
  at("cancel").addEventListener("click", attempt(async () => {
    at("cancel").disabled = true;
    await ask("/cancel", "POST");
  }));
  at("clear").addEventListener("click", attempt(async () => {
    await ask("/files", "DELETE");
    await show(false);
    arrive("drop");
  }));
  many({
    change: attempt((keys, column, value) =>
      change(() => ask("/correction", "POST", { keys, column, value }), `Set for ${counted(keys.length, "row")}.`), "check-head"),
    undo: attempt(() => change(() => ask("/undo", "POST"), "Undone."), "check-head"),
  });
  at("stay").addEventListener("click", () => {
    at("unsaved").hidden = true;
    arrive("result");
  });
  at("end").addEventListener("click", attempt(async () => {
    const now = await ask("/state");
    if (!now.result || now.saved || now.kept) return end();
    at("unsaved").hidden = false;
    at("stay").focus();
  }));
  const end = attempt(async () => {
    await ask("/end", "POST");
    const rest = state.kept ? "Everything is in the folder you named." : "Everything was deleted.";
    ended(`The session has ended. ${rest} You can close this page.`, true);
  });
  at("end-unsaved").addEventListener("click", end);
  at("share").addEventListener("click", attempt(async () => {
    await ask("/share", "POST");
    at("share").textContent = "Making the copy";
    const job = await follow();
    at("share").textContent = "Shareable copy";
    await show(false);
    if (job?.state === "failed") throw new Error(job.error);
    say("The shareable copy is there.");
    at("open-shared").focus();
  }, "result-head"));
}

async function begin() {
  state = await ask("/state");
  at("limits").textContent = `Up to ${state.limits.files.toLocaleString("en")} files, ${state.limits.file_bytes / 1e6} MB each, ${(state.limits.total_bytes / 1e6).toLocaleString("en")} MB together.`;
  if (state.kept) {
    at("keeping").textContent = "; this session keeps its files in the folder you named";
    at("end-hint").textContent = "The traces and the result stay in the folder you named.";
  }
  at("segment_m").value = state.segment_m;
  at("more").prepend(...state.settings.map(field));
  if (state.no_stills) {
    at("film").checked = false;
    at("film").disabled = true;
    at("film-hint").textContent = `${state.no_stills}.`;
  }
  await chooseClock();
  await show(true);
}

async function resume() {
  if (state.job?.state !== "running") {
    if (state.files && state.traces === null && !state.job && !busy) await read();
  } else if (state.job.kind === "run") {
    await watch();
  } else {
    await finishReading();
  }
}

listen(); // at once: until then a browser opens a dropped file in the place of this page
begun = begin();
attempt(() => begun.then(resume))();
