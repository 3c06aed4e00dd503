// The settings of the analysis: drawn from what the server offers, read, and blamed where they are wrong.

import { at, make } from "./talk.js";

export function settings() {
  const values = {};
  for (const input of at("options").elements) {
    if (!input.name) continue;
    values[input.name] = input.type === "checkbox" ? input.checked : input.type === "number" ? input.valueAsNumber : input.value;
  }
  return values;
}

export function blame(field, text) {
  for (const input of at("options").elements) {
    input.removeAttribute("aria-invalid");
    at(`${input.name}-error`)?.remove();
  }
  const input = field && at(field);
  if (!input) return false;
  const error = make("p", { class: "wrong", id: `${field}-error`, role: "alert" }, text);
  input.closest("details")?.setAttribute("open", "");
  input.setAttribute("aria-invalid", "true");
  input.parentElement.append(error);
  input.focus();
  return true;
}

export function field({ name, label, hint, value, kind, choices }) {
  const described = { id: name, name, "aria-describedby": `${name}-hint` };
  const words = make("label", { for: name }, label);
  const note = make("p", { class: "hint", id: `${name}-hint` }, hint);
  if (kind === "tick") {
    return make("div", { class: "field tick" }, make("input", { ...described, type: "checkbox", checked: value }), words, note);
  }
  const input =
    kind === "choice"
      ? make("select", described, ...choices.map(([key, text]) => make("option", { value: key }, text)))
      : make("input", { ...described, type: "number", inputmode: "decimal", step: "any", value });
  return make("div", { class: "field" }, words, input, note);
}
