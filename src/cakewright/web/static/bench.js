// The bench chapter: readings pasted from a spreadsheet, kept beside the study, and their law.
export function startBench(ask, study, version) {
  const place = document.getElementById("bench");
  if (!place) return;
  const box = document.getElementById("bench-paste");
  const said = document.getElementById("bench-said");

  function tell(words, faults = []) {
    said.replaceChildren();
    const line = document.createElement("p");
    line.textContent = words;
    said.append(line);
    const list = document.createElement("ul");
    for (const fault of faults.slice(0, 20)) {
      const item = document.createElement("li");
      item.textContent = `${fault.where}: got ${fault.got}. Allowed: ${fault.allowed}. Try: ${fault.try_this}.`;
      list.append(item);
    }
    if (faults.length) said.append(list);
    said.hidden = false;
  }

  async function doing(button, work) {
    if (button) button.disabled = true;
    tell("Reading and fitting the tests …");
    try {
      const kept = await work();
      if (kept?.faults?.length) return tell(`Kept ${kept.tests.join(", ")}; these could not be used:`, kept.faults);
      location.reload();
    } catch (error) {
      const faults = error.given?.faults || [];
      tell(faults.length ? "These readings cannot be used:" : error.message, faults);
    } finally {
      if (button) button.disabled = false;
    }
    return undefined;
  }

  place.addEventListener("click", async (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.matches("[data-bench-sheet]")) {
      const kind = document.getElementById("bench-kind").value;
      const sheet = await (await fetch(`/bench-sheet/${kind}`)).text();
      box.value = box.value.trim() ? `${box.value.trimEnd()}\n\n${sheet}` : sheet;
      box.focus();
    } else if (button.matches("[data-bench-keep]")) {
      doing(button, () => ask("POST", `/studies/${study}/bench/paste`, { text: box.value }));
    } else if (button.dataset.benchOut) {
      doing(button, () => ask("DELETE", `/studies/${study}/bench/${button.dataset.benchOut}`));
    } else if (button.matches("[data-bench-adopt]")) {
      doing(button, () => ask("POST", `/studies/${study}/bench/adopt`, { base: version() }));
    }
  });

  document.getElementById("bench-file").addEventListener("change", (event) => {
    const file = event.target.files[0];
    event.target.value = "";
    if (file) doing(null, () => ask("POST", `/studies/${study}/bench/upload?name=${encodeURIComponent(file.name)}`, file));
  });
}
