// The tuning runs: what may be tried, the sheet of runs filled in, and what it shows.
import { renew, Watch } from "./tasks.js";

export function startTuning(ask, say, study) {
  const place = document.getElementById("tuning");
  if (!place) return;
  const base = place.dataset.base;
  const drawer = `cakewright-tuning-${study}`;
  const at = (id) => document.getElementById(id);
  const sentence = (fault) => `Got ${fault.got}. Allowed: ${fault.allowed}. Try: ${fault.try_this}.`;
  let timers = {};
  let watch = watching();

  function watching() {
    return new Watch(at("tuning-runs"), ask, (told) => {
      if (told.state !== "done") return marks(told.faults || []);
      say("The runs are judged.");
      return fresh();
    });
  }

  async function fresh() {
    await renew(["tuning-plan", "tuning-runs", "tuning-away", "tuning-results"]);
    watch = watching();
  }

  // ---------------------------------------------------------------- what was typed
  const of = (root, key) => root.querySelector(`[data-typed="${key}"]`);

  function given() {
    const settings = [...place.querySelectorAll("[data-setting]")].map((row) => ({
      key: row.dataset.setting,
      tried: of(row, "tried").checked,
      ...Object.fromEntries(["low", "high", "today"].map((key) => [key, of(row, key).value])),
    }));
    const order = Number(of(place, "order").value.trim());
    return {
      settings,
      curved: of(place, "curved").value === "yes",
      centres: Number(of(place, "centres").value),
      order: Number.isInteger(order) && order > 0 ? order : 1,
      least_capture: of(place, "least_capture").value,
      least_load: of(place, "least_load").value,
    };
  }

  // The sheet as it stands: titles as they are in the file, cells as typed.
  function sheet() {
    const quoted = (text) => (/[";\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
    const heads = [...place.querySelectorAll("[data-head]")].map((head) => head.dataset.head);
    const rows = [...at("tuning-grid").tBodies[0].rows].map((row) => [...row.cells].map((cell) => cell.querySelector("input")?.value ?? cell.textContent));
    return `${[heads, ...rows].map((row) => row.map(quoted).join(";")).join("\n")}\n`;
  }

  // ---------------------------------------------------------------- kept as it is typed
  const keeping = {
    given: () => ask("PUT", `${base}/given`, given()),
    sheet: async () => {
      const text = sheet();
      const { mark } = await ask("PUT", `${base}/sheet`, { text, base: at("tuning-runs").dataset.mark });
      at("tuning-runs").dataset.mark = mark;
      if (sheet() === text) localStorage.removeItem(drawer);
    },
  };

  // One after the other: each sheet is kept on top of the one before.
  let before = Promise.resolve();
  // Why the cells on this page cannot be kept; they are never drawn over then.
  let refused = "";

  function refuse(words) {
    refused = words;
    at("tuning-refused").textContent = words;
    at("tuning-refused").hidden = !words;
  }

  async function keep(what) {
    clearTimeout(timers[what]);
    delete timers[what];
    try {
      const mine = before.then(keeping[what]);
      before = mine.catch(() => {});
      await mine;
      if (what === "sheet") refuse("");
      tell(Object.keys(timers).length ? "saving" : "kept");
    } catch (error) {
      tell(error.status ? error.message : "not kept: the server does not answer; trying again", true);
      if (!error.status || error.status >= 500) soon(what, 1500);
      else if (what === "sheet") refuse(error.message);
      throw error;
    }
  }

  function soon(what, wait = 350) {
    clearTimeout(timers[what]);
    timers[what] = setTimeout(() => keep(what).catch(() => {}), wait);
    try {
      if (what === "sheet") localStorage.setItem(drawer, sheet());
    } catch {
      // Private windows may refuse: the cells still wait in this page.
    }
  }

  function tell(words, bad = false) {
    const state = at("state");
    state.textContent = words;
    state.className = `state${bad ? " bad" : ""}`;
  }

  async function settle() {
    await before;
    if (refused) throw new Error(refused);
    for (const what of Object.keys(timers)) await keep(what);
  }

  place.addEventListener("input", (event) => {
    if (event.target.dataset.typed) soon("given");
    else if (event.target.closest("#tuning-grid")) soon("sheet");
  });

  // ---------------------------------------------------------------- pasted from a spreadsheet
  place.addEventListener("paste", async (event) => {
    const cell = event.target.closest?.("#tuning-grid td");
    const text = event.clipboardData.getData("text/plain");
    const rows = text.replaceAll("\r", "").replace(/\n$/, "").split("\n").map((line) => line.split("\t"));
    if (!cell || (rows.length < 2 && rows[0].length < 2)) return;
    event.preventDefault();
    const heads = [...place.querySelectorAll("[data-head]")].map((head) => head.dataset.head);
    if (rows[0].some((title) => heads.includes(title.trim()))) return replaceBy(text);
    const body = [...at("tuning-grid").tBodies[0].rows];
    rows.forEach((row, i) => row.forEach((value, k) => {
      const input = body[body.indexOf(cell.parentElement) + i]?.cells[cell.cellIndex + k]?.querySelector("input");
      if (input) input.value = value.trim();
    }));
    soon("sheet");
  });

  async function replaceBy(text) {
    const grid = at("tuning-grid");
    grid.inert = true; // What is typed now would be meant for the old sheet.
    clearTimeout(timers.sheet);
    delete timers.sheet;
    try {
      await before;
      await ask("PUT", `${base}/sheet`, { text, base: at("tuning-runs").dataset.mark });
    } catch (error) {
      grid.inert = false;
      return tell(error.message, true);
    }
    localStorage.removeItem(drawer);
    while (grid.isConnected) await fresh().catch(() => new Promise((done) => setTimeout(done, 1500)));
    say("The sheet is taken.");
    return undefined;
  }

  // ---------------------------------------------------------------- faults at their places
  function clear() {
    for (const row of place.querySelectorAll("[data-fault-of]")) row.hidden = true;
    for (const line of place.querySelectorAll("[data-field-of] .fault")) line.hidden = true;
    for (const each of place.querySelectorAll(".wrong")) each.classList.remove("wrong");
    at("tuning-fault").hidden = true;
  }

  function show(error) {
    clear();
    const loose = [];
    for (const fault of error.given?.faults || []) {
      const key = fault.where.split(".").at(-1);
      const row = place.querySelector(`[data-fault-of="${CSS.escape(key)}"]`);
      const field = place.querySelector(`[data-field-of="${CSS.escape(key)}"]`);
      if (!row && !field) {
        loose.push(sentence(fault));
        continue;
      }
      (row || field.querySelector(".fault")).hidden = false;
      (row?.querySelector(".fault") || field.querySelector(".fault")).textContent = sentence(fault);
      (row?.previousElementSibling || field).classList.add("wrong");
    }
    const words = at("tuning-fault");
    words.textContent = loose.join(" ") || (error.given?.faults?.length ? "" : error.message);
    words.hidden = !words.textContent;
    place.querySelector(".wrong")?.scrollIntoView({ block: "center" });
  }

  // Cells that could not be read: told in the list of the task, and marked where they stand.
  function marks(faults) {
    const heads = [...place.querySelectorAll("[data-head]")].map((head) => head.dataset.head.split(" ")[0]);
    for (const fault of faults) {
      const [, key, row] = /^([a-z_0-9]+), row (\d+)$/.exec(fault.where) || [];
      at("tuning-grid").tBodies[0].rows[row - 2]?.cells[heads.indexOf(key)]?.classList.add("wrong");
    }
  }

  // ---------------------------------------------------------------- buttons
  async function plan(button) {
    button.disabled = true;
    try {
      await settle();
      await ask("POST", `${base}/plan`, given());
      await fresh();
      say("The runs are planned.");
      at("tuning-runs").scrollIntoView({ block: "start" });
      at("tuning-grid").querySelector("input")?.focus({ preventScroll: true });
    } catch (error) {
      show(error);
    } finally {
      button.disabled = false;
    }
  }

  async function judge() {
    clear();
    try {
      await settle();
      watch.take(await ask("POST", `${base}/shown`));
      if (watch.was === "done") fresh();
    } catch (error) {
      show(error);
    }
  }

  async function putAway() {
    try {
      await settle();
      await ask("DELETE", `${base}/sheet`);
      await fresh();
      say("Put away; their sheet can still be downloaded.");
    } catch (error) {
      tell(error.message, true);
    }
  }

  place.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.matches("[data-plan]")) plan(button);
    else if (button.matches("[data-judge]")) judge();
    else if (button.matches("[data-put-away]")) putAway();
  });

  // What was typed while the server was gone and this page was left.
  const waiting = localStorage.getItem(drawer);
  if (waiting && waiting !== sheet()) replaceBy(waiting);
}
