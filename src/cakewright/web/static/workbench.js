// The page keeps itself true: what is typed is saved at once, what moved is put in place, and
// anything not yet confirmed waits in this browser until the server answers.
import { startBench } from "./bench.js";
import { startCards } from "./cards.js";
import { startMaps } from "./map.js";
import { startTables, tablesKept } from "./tables.js";
import { startHome } from "./home.js";
import { startRunning } from "./running.js";
import { startTuning } from "./tuning.js";
import { startWeeks } from "./tasks.js";

const token = document.querySelector('meta[name="cakewright-token"]').content;
const body = document.body;
const study = body.dataset.study;
const chapter = body.dataset.chapter;
// Pages without inputs: their headline stays true, their content is as it was loaded.
const still = ["text", "history", "tuning"].includes(chapter);
let version = Number(body.dataset.version || 0);
const loaded = version;
let stage = body.dataset.stage;

export async function ask(method, path, data) {
  const raw = data instanceof Blob;
  const answer = await fetch(path, {
    method,
    headers: { "content-type": raw ? "application/octet-stream" : "application/json", "x-cakewright-token": token },
    body: data === undefined ? undefined : raw ? data : JSON.stringify(data),
  });
  const given = answer.status === 204 ? null : await answer.json();
  if (!answer.ok) {
    const error = new Error(given?.error || `the server answered ${answer.status}`);
    error.status = answer.status;
    error.given = given;
    throw error;
  }
  return given;
}

export function say(words) {
  document.getElementById("said").textContent = words;
}

function state(words, kind = "") {
  const place = document.getElementById("state");
  if (!place) return;
  place.textContent = words;
  place.className = `state ${kind}`;
}

// ---------------------------------------------------------------- edits that wait for the server
const drawer = `cakewright-waiting-${study}`;
let waiting = [];
let saving = false;
let timer = 0;

function keepWaiting() {
  try {
    if (waiting.length) localStorage.setItem(drawer, JSON.stringify({ version, waiting }));
    else localStorage.removeItem(drawer);
  } catch {
    // Private windows may refuse: the edits still wait in this page.
  }
}

function same(a, b) {
  return a.action === "set" && b.action === "set" && a.place === b.place && a.part === b.part;
}

function queue(edit, at_once) {
  waiting = waiting.filter((each) => !same(each, edit));
  waiting.push(edit);
  keepWaiting();
  state("saving", "busy");
  clearTimeout(timer);
  timer = setTimeout(flush, at_once ? 0 : 180);
}

async function flush() {
  if (saving || !waiting.length) return;
  saving = true;
  const sent = waiting.slice(0, 60);
  try {
    const live = await ask("POST", `/studies/${study}/${chapter}/edit`, { base: version, edits: sent });
    waiting = waiting.filter((each) => !sent.includes(each));
    keepWaiting();
    saving = false;
    takeIn(live);
    if (live.merged) say("Saved; changes made elsewhere were merged in.");
  } catch (error) {
    saving = false;
    if (error.status === undefined || error.status >= 500) {
      state(error.status ? error.message : "not saved: the server does not answer; trying again", "bad");
      timer = setTimeout(flush, 1500);
      return;
    }
    waiting = waiting.filter((each) => !sent.includes(each));
    keepWaiting();
    refuse(sent, error);
  }
  if (waiting.length) timer = setTimeout(flush, 0);
}

function refuse(sent, error) {
  state("not saved", "bad");
  say(error.message);
  const conflict = error.status === 409;
  for (const edit of sent) showFault(edit.place, error.message, true);
  if (conflict) refresh(sent.map((edit) => edit.place));
}

// ---------------------------------------------------------------- putting what is new in place
function takeIn(live, keep = []) {
  if (live.version < version) return schedule(150); // An answer overtaken by a newer one.
  version = live.version;
  stage = live.stage;
  for (const place of document.querySelectorAll("[data-study-title]")) place.textContent = live.title || "Untitled study";
  setWalk("undo", live.can_undo);
  setWalk("redo", live.can_redo);
  if (live.headline) takeHeadline(live);
  if (live.headline) takeResults(live);
  if (live.inputs) takeInputs(live.inputs, keep);
  else takeFaults(live.faults || {});
  const loose = document.getElementById("loose");
  if (loose && live.headline) loose.innerHTML = live.loose;
  if (!waiting.length) state(`saved, version ${version}`);
  schedule(rest());
}

function setWalk(kind, possible) {
  const button = document.querySelector(`[data-walk="${kind}"]`);
  if (button) button.disabled = !possible;
}

function takeHeadline(live) {
  const place = document.getElementById("headline");
  if (!place) return;
  const row = place.querySelector(".head-figures");
  const left = row ? row.scrollLeft : 0;
  place.innerHTML = live.headline;
  const now = place.querySelector(".head-figures");
  if (now) now.scrollLeft = left;
  place.classList.remove("stale");
}

function takeResults(live) {
  const place = document.getElementById("results");
  if (!place) return;
  place.classList.toggle("stale", !live.results);
  if (!live.results) return; // They follow with the bands.
  const open = [...place.querySelectorAll("details[open][id]")].map((each) => each.id);
  const again = tablesKept(place);
  place.innerHTML = live.results;
  for (const id of open) place.querySelector(`#${CSS.escape(id)}`)?.setAttribute("open", "");
  startTables(place);
  again();
  startMaps(place);
  document.dispatchEvent(new CustomEvent("cakewright-results"));
}

function takeInputs(html, keep) {
  const form = document.getElementById("inputs");
  if (!form) return;
  const here = document.activeElement;
  const at = here && form.contains(here) ? { id: here.id, value: here.value, start: here.selectionStart, end: here.selectionEnd } : null;
  const open = [...form.querySelectorAll(".more:not([hidden])")].map((each) => each.id);
  const faults = [...form.querySelectorAll(".field.refused")].map((f) => [f.dataset.field, f.querySelector(".fault").textContent]);
  form.innerHTML = html;
  for (const id of open) openMore(document.querySelector(`[aria-controls="${CSS.escape(id)}"]`), true);
  for (const [place, words] of faults) if (keep.includes(place)) showFault(place, words, true);
  if (!at?.id) return;
  const again = document.getElementById(at.id);
  if (!again) return;
  if (waiting.some((each) => each.place === again.dataset.place) && "value" in again) again.value = at.value;
  again.focus({ preventScroll: true });
  try {
    if (at.start !== null && at.start !== undefined) again.setSelectionRange(at.start, at.end);
  } catch {
    // Choices have no selection.
  }
}

function fieldOf(place) {
  return document.querySelector(`[data-field="${CSS.escape(place)}"]`);
}

function takeFaults(faults) {
  for (const field of document.querySelectorAll("[data-field]")) {
    const control = field.querySelector("[data-place]:not([data-part]), [data-words]");
    if (control && "value" in control && control.tagName !== "BUTTON") field.classList.toggle("stands-in", !control.value);
    const words = faults[field.dataset.field];
    if (words) showFault(field.dataset.field, words);
    else clearFault(field);
  }
}

function showFault(place, words, refused = false) {
  const field = fieldOf(place);
  if (!field) return;
  const line = field.querySelector(".fault");
  line.textContent = words;
  line.hidden = false;
  field.classList.add("wrong");
  field.classList.toggle("refused", refused);
  field.querySelector("[data-place]")?.setAttribute("aria-invalid", "true");
}

function clearFault(field) {
  field.querySelector(".fault").hidden = true;
  field.classList.remove("wrong", "refused");
  field.querySelector("[data-place]")?.removeAttribute("aria-invalid");
}

// ---------------------------------------------------------------- asking what is new
let next = 0;

// The answer to an edit is the headline alone: the chapter is asked for at once.
const rest = () => ({ head: 0, point: 80, bands: 300, decided: 900 })[stage] ?? 1500;

function schedule(wait) {
  clearTimeout(next);
  if (study) next = setTimeout(look, wait);
}

let lost = false;

async function look() {
  if (document.hidden || saving || waiting.length) return schedule(1500);
  try {
    const live = await ask("GET", `/studies/${study}/${chapter}/live?version=${version}&stage=${stage}`);
    if (lost && !waiting.length) state(`saved, version ${version}`);
    lost = false;
    if (saving || waiting.length || !live) return schedule(rest());
    if (!live.headline) {
      if (live.version === version && live.step) state(`saved, version ${version}; ${live.step}`, "busy");
      return schedule(rest());
    }
    takeIn(live);
  } catch (error) {
    lost = true;
    state(error.status ? error.message : "the server does not answer; what you type waits here", "bad");
    schedule(2000);
  }
}

async function refresh(keep = []) {
  try {
    const live = await ask("GET", `/studies/${study}/${chapter}/live?version=0&stage=`);
    takeIn(live, keep);
  } catch {
    schedule(1500);
  }
}

// ---------------------------------------------------------------- what a person does
function editOf(control) {
  return { place: control.dataset.place, typed: control.value, part: control.dataset.part || "value", action: "set" };
}

document.addEventListener("input", (event) => {
  const control = event.target;
  if (!control.dataset?.place || control.tagName === "SELECT") return;
  queue(editOf(control), false);
});

document.addEventListener("change", (event) => {
  const control = event.target;
  if (control.closest?.("[data-words]")) {
    const group = control.closest("[data-words]");
    const typed = [...group.querySelectorAll("input:checked")].map((each) => each.value);
    queue({ place: group.dataset.words, typed, part: "value", action: "set" }, true);
  } else if (control.dataset?.place && control.tagName === "SELECT") {
    queue(editOf(control), true);
  }
});

document.addEventListener("cakewright-renewed", (event) => {
  for (const id of event.detail) {
    const place = document.getElementById(id);
    startTables(place);
    startMaps(place);
  }
});

// Paper cannot be unfolded: what is folded away is printed open.
let folded = [];
window.addEventListener("beforeprint", () => {
  folded = [...document.querySelectorAll("#results details:not([open])")];
  for (const each of folded) each.open = true;
});
window.addEventListener("afterprint", () => {
  for (const each of folded) each.open = false;
});

document.addEventListener("submit", (event) => {
  if (event.target.matches("[data-inputs]")) event.preventDefault();
});

function openMore(button, open) {
  if (!button) return;
  button.setAttribute("aria-expanded", String(open));
  document.getElementById(button.getAttribute("aria-controls")).hidden = !open;
}

async function walk(kind) {
  if (waiting.length) await flush();
  state(kind === "undo" ? "undoing" : "redoing", "busy");
  try {
    const live = await ask("POST", `/studies/${study}/${chapter}/${kind}`, { base: version });
    if (still) return location.reload();
    takeIn(live);
    say(kind === "undo" ? "Undone." : "Done again.");
  } catch (error) {
    state(error.message, "bad");
    say(error.message);
    if (error.status === 409) refresh();
  }
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.matches(".more-button")) {
    openMore(button, button.getAttribute("aria-expanded") !== "true");
  } else if (button.dataset.walk) {
    walk(button.dataset.walk);
  } else if (button.dataset.act) {
    queue({ place: button.dataset.at, typed: "", part: "value", action: button.dataset.act }, true);
  } else if (button.dataset.units) {
    document.cookie = `cakewright_units=${button.dataset.units}; path=/; max-age=31536000; samesite=strict`;
    for (const each of document.querySelectorAll("[data-units]")) each.setAttribute("aria-pressed", String(each === button));
    if (study && !still) refresh();
    else location.reload();
  } else if (button.dataset.variant) {
    const made = await ask("POST", `/api/studies/${button.dataset.variant}/duplicate`);
    location.href = `/studies/${made.id}/${still ? "sludge" : chapter}`;
  }
});

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || !study) return;
  if (event.target.matches("textarea")) return;
  event.preventDefault();
  walk(event.shiftKey ? "redo" : "undo");
});

// ---------------------------------------------------------------- the study as text
const whole = document.getElementById("whole-text");
if (whole) {
  const first = whole.value;
  const problem = document.getElementById("text-problem");
  document.getElementById("save-text").addEventListener("click", async () => {
    problem.hidden = true;
    if (whole.value === first) return state(`saved, version ${version}`);
    const text = (whole.dataset.mark || "") + (whole.dataset.newline === "crlf" ? whole.value.replaceAll("\n", "\r\n") : whole.value);
    try {
      await ask("PUT", `/api/studies/${study}/text`, { base: loaded, text });
      location.reload();
    } catch (error) {
      problem.textContent = error.message;
      problem.hidden = false;
    }
  });
  document.addEventListener("click", (event) => {
    const line = Number(event.target.dataset?.goto);
    if (!line) return;
    const lines = whole.value.split("\n");
    const start = lines.slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
    whole.focus();
    whole.setSelectionRange(start, start + (lines[line - 1] || "").length);
    whole.scrollTop = (line - 5) * parseFloat(getComputedStyle(whole).lineHeight);
  });
}

// ---------------------------------------------------------------- at the start
function bringBack() {
  let kept = null;
  try {
    kept = JSON.parse(localStorage.getItem(drawer));
  } catch {
    return;
  }
  if (!kept?.waiting?.length) return;
  waiting = kept.waiting;
  version = kept.version;
  for (const edit of waiting) {
    const control = document.querySelector(`[data-place="${CSS.escape(edit.place)}"]${edit.part === "value" ? ":not([data-part])" : `[data-part="${edit.part}"]`}`);
    if (control && typeof edit.typed === "string") control.value = edit.typed;
  }
  state("saving what was typed before", "busy");
  flush();
}

startCards(study);
startTables(document);
startMaps(document);
startHome(ask);
startBench(ask, study, () => version);
startWeeks(ask, say);
startRunning(ask, say, token);
startTuning(ask, say, study);
if (study) {
  if (!still) bringBack();
  schedule(stage === "point" ? 60 : rest());
}
