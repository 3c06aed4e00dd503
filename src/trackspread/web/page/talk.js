// What all parts of the page share: asking the server, telling the user, making elements.

export const at = (id) => document.getElementById(id);
export const counted = (count, one) => `${count.toLocaleString("en")} ${count === 1 ? one : `${one}s`}`;

export function timeLeft(seconds) {
  if (seconds === null) return "";
  if (seconds < 60) return `about ${Math.max(1, Math.round(seconds))} s left`;
  return `about ${Math.round(seconds / 60)} min left`;
}

// Children that are text become text nodes; nothing on this page is ever parsed as markup.
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "class") element.className = value;
    else if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

export async function ask(path, method = "GET", body = undefined) {
  let answer;
  try {
    answer = await fetch(`.${path}`, { method, body: body === undefined ? undefined : JSON.stringify(body) });
  } catch {
    ended("The session has ended: its terminal was closed, or the program stopped. Start trackspread drop again.");
    throw new Error("The session has ended.");
  }
  if (answer.status === 204) return null;
  const words = answer.headers.get("content-type")?.includes("json") ? await answer.json() : { error: await answer.text() };
  if (!answer.ok) throw Object.assign(new Error(words.error), { field: words.field });
  return words;
}

export function say(text) {
  at("status").textContent = text;
}

export function alarm(text) {
  at("alert").textContent = text;
  at("alert").hidden = !text;
}

// Nothing of the traces stays on the screen once the session is over.
export function ended(text, asked = false) {
  if ("over" in document.body.dataset) return;
  document.body.dataset.over = "";
  at("promise").remove();
  if (asked) at("alert").classList.add("note");
  at("work").prepend(at("alert"));
  alarm(text);
  for (const part of document.querySelectorAll("section, footer, .steps-bar")) part.remove();
}

// Does something for the user; what goes wrong is said, under the heading `near` if there is one.
export function attempt(work, near) {
  return async (...given) => {
    if ("over" in document.body.dataset) return;
    if (near) at(near).after(at("alert"));
    else at("work").prepend(at("alert"));
    alarm("");
    try {
      await work(...given);
    } catch (problem) {
      if (at("alert").hidden) alarm(problem.message);
      at("alert").scrollIntoView({ block: "nearest" });
    }
  };
}

// Lines beyond the first ones are counted: a list of thousands says no more than its length.
export function list(id, lines, most = 50) {
  const shown = lines.slice(0, most).map((line) => make("li", {}, ...[line].flat()));
  if (lines.length > most) shown.push(make("li", {}, `and ${(lines.length - most).toLocaleString("en")} more`));
  at(id).hidden = !lines.length;
  at(id).querySelector("ul").replaceChildren(...shown);
}

export function arrive(id) {
  at(`${id}-head`).focus({ preventScroll: true });
  at(id).scrollIntoView({ block: "start" });
}
