// The running chapter: logs brought and mapped, the watch, what it compares with, the test.
import { renew, Watch } from "./tasks.js";

const sentence = (fault) => `Got ${fault.got}. Allowed: ${fault.allowed}. Try: ${fault.try_this}.`;

export function startRunning(ask, say, token) {
  const place = document.getElementById("running");
  if (!place) return;
  const base = place.dataset.base;
  const at = (id) => document.getElementById(id);
  let upload = null;
  let watch = null;

  function watching() {
    watch = new Watch(at("running-watch"), ask, (told) => {
      if (told.state === "done") say("The logs are read.");
      if (told.state === "done") renew(["results", "running-watch"]);
    });
  }

  function testing() {
    return new Watch(at("running-test"), ask, (told) => {
      if (told.state === "done") say("The test is judged.");
      if (told.state === "done") renewTest();
    });
  }

  // What was pasted stays in its boxes.
  async function renewTest() {
    const typed = [at("test-samples").value, at("test-protocol").value];
    await renew(["results", "running-test"]);
    [at("test-samples").value, at("test-protocol").value] = typed;
  }

  document.addEventListener("cakewright-renewed", (event) => {
    if (event.detail.includes("running-watch")) watching();
    if (event.detail.includes("running-test")) test = testing();
    if (event.detail.includes("running-logs")) siteNames();
  });

  // ------------------------------------------------------------ bringing a log
  function tell(words, share, running) {
    const box = at("log-said");
    box.hidden = !words;
    box.querySelector("p").textContent = words;
    const bar = box.querySelector("progress");
    bar.hidden = !running;
    if (share === null) bar.removeAttribute("value");
    else bar.value = share;
    box.querySelector("[data-upload-stop]").hidden = !running;
  }

  function bring(file) {
    upload = new XMLHttpRequest();
    upload.open("POST", `${base}/logs?name=${encodeURIComponent(file.name.slice(0, 200))}`);
    upload.setRequestHeader("x-cakewright-token", token);
    upload.setRequestHeader("content-type", "application/octet-stream");
    upload.upload.onprogress = (event) => tell(`Bringing ${file.name}`, event.lengthComputable ? event.loaded / event.total : null, true);
    upload.upload.onload = () => tell(`Reading the titles of ${file.name}`, null, true);
    upload.onerror = () => tell(`${file.name} was not taken: the server does not answer.`, null, false);
    upload.onabort = () => tell("Cancelled; nothing was kept.", null, false);
    upload.onload = async () => {
      if (upload.status === 200) {
        tell("", null, false);
        await renew(["running-logs", "running-watch"]);
        document.querySelector(".log:last-of-type .map-row select")?.focus({ preventScroll: true });
        return;
      }
      let given = {};
      try {
        given = JSON.parse(upload.responseText);
      } catch {
        // A refusal without words of its own.
      }
      const faults = (given.faults || []).map((fault) => `${fault.where}: ${sentence(fault)}`);
      tell([given.error || `the server answered ${upload.status}`, ...faults].join(" "), null, false);
    };
    tell(`Bringing ${file.name}`, 0, true);
    upload.send(file);
  }

  // ------------------------------------------------------------ the columns of a log
  function siteNames() {
    for (const form of document.querySelectorAll(".map-form")) {
      const named = [...form.querySelectorAll(".map-row select")].some((each) => each.value === "site");
      form.querySelector(".site-name").hidden = !named;
    }
  }

  function read(form) {
    const of = (key) => form.querySelector(`[data-map-key="${key}"]`).value;
    const rows = [...form.querySelectorAll(".map-row")].map((row) => ({
      title: row.dataset.title,
      signal: row.querySelector("select").value,
      unit: row.querySelector("input:not([type])").value,
      held: row.querySelector("[type=checkbox]").checked,
    }));
    return {
      time: rows.filter((row) => row.signal === "time").map((row) => row.title).slice(0, 2),
      format: of("time.format"),
      zone: of("time_zone"),
      grain: of("grain"),
      decimal: of("decimal"),
      site: of("site"),
      site_column: rows.find((row) => row.signal === "site")?.title || "",
      columns: rows.filter((row) => row.signal && row.signal !== "time" && row.signal !== "site"),
    };
  }

  function showFaults(form, error) {
    for (const line of form.querySelectorAll(".fault")) line.hidden = true;
    for (const each of form.querySelectorAll(".wrong")) each.classList.remove("wrong");
    const loose = [];
    let first = null;
    for (const fault of error.given?.faults || []) {
      const signal = /^columns\.([a-z_0-9]+)/.exec(fault.where)?.[1];
      const row = [...form.querySelectorAll(".map-row")].findLast((each) => signal && each.querySelector("select").value === signal);
      const beside = row || form.querySelector(`[data-map-key="${CSS.escape(fault.where)}"]`)?.closest(".field");
      if (!beside) {
        loose.push(`${fault.where}: ${sentence(fault)}`);
        continue;
      }
      beside.classList.add("wrong");
      const line = beside.querySelector(".fault");
      line.textContent = sentence(fault);
      line.hidden = false;
      first ||= beside;
    }
    first?.scrollIntoView({ block: "center" });
    const words = form.querySelector(".map-fault");
    words.textContent = loose.join(" ") || (error.given?.faults?.length ? "" : error.message);
    words.hidden = !words.textContent;
  }

  async function keepMap(form) {
    try {
      const { ready } = await ask("PUT", `${base}/logs/${form.dataset.mapOf}/map`, read(form));
      await renew(["running-logs", "running-watch"]);
      if (ready) watch.go("POST");
      else say("Kept. Another log waits for its columns.");
    } catch (error) {
      showFaults(form, error);
    }
  }

  place.addEventListener("change", (event) => {
    const select = event.target.closest(".map-row select");
    if (select) {
      const unit = select.parentElement.querySelector("input:not([type])");
      unit.value = select.selectedOptions[0].dataset.unit || "";
      siteNames();
    } else if (event.target.id === "log-file") {
      const file = event.target.files[0];
      event.target.value = "";
      if (file) bring(file);
    } else if (event.target.id === "test-file") {
      const file = event.target.files[0];
      event.target.value = "";
      file?.text().then((text) => (at("test-samples").value = text));
    }
  });

  // ------------------------------------------------------------ what it is compared with
  const site = () => at("site-text");

  function siteFault(error) {
    const box = at("site-fault");
    const faults = error?.given?.faults || [];
    box.hidden = !error;
    box.textContent = error ? (faults.length ? "" : error.message) : "";
    const list = document.createElement("ul");
    for (const fault of faults) {
      const item = document.createElement("li");
      item.textContent = `${fault.where}: ${sentence(fault)}`;
      list.append(item);
    }
    if (faults.length) box.append(list);
  }

  async function loadSite() {
    try {
      site().value = (await ask("GET", `${base}/site`)).text;
      siteFault(null);
    } catch (error) {
      siteFault(error);
    }
  }

  async function keepSite(text) {
    try {
      site().value = (await ask("PUT", `${base}/site`, { text })).text;
      siteFault(null);
      say("Kept.");
      if (!at("running-watch").hidden) watch.go("POST");
    } catch (error) {
      siteFault(error);
    }
  }

  place.querySelector("[data-site]").addEventListener("toggle", (event) => {
    if (event.target.open && !site().value) loadSite();
  });

  // ------------------------------------------------------------ buttons
  let test = testing();

  async function judge() {
    try {
      test.take(await ask("POST", `${base}/test`, { samples: at("test-samples").value, protocol: at("test-protocol").value }));
      if (test.was === "done") renewTest();
    } catch (error) {
      test.take({ state: "failed", problem: error.given?.faults?.length ? "This cannot be judged:" : error.message, faults: error.given?.faults || [], share: null });
    }
  }

  place.addEventListener("click", async (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.matches("[data-upload-stop]")) upload?.abort();
    else if (button.matches("[data-map-keep]")) keepMap(button.closest(".map-form"));
    else if (button.matches("[data-site-keep]")) keepSite(site().value);
    else if (button.matches("[data-site-study]")) keepSite("");
    else if (button.matches("[data-test-judge]")) judge();
    else if (button.matches("[data-test-away]")) {
      await ask("DELETE", `${base}/test`);
      renewTest();
    } else if (button.dataset.logOut) {
      try {
        await ask("DELETE", `${base}/logs/${button.dataset.logOut}`);
      } catch (error) {
        tell(error.message, null, false);
      }
      await renew(["results", "running-logs", "running-watch"]);
    }
  });

  watching();
  siteNames();
}
