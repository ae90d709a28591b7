// Home: new studies, files, variants and the bin.
export function startHome(ask) {
  const problem = document.getElementById("home-problem");
  const largest = 2_000_000;

  function tell(words) {
    problem.textContent = words;
    problem.hidden = false;
    problem.scrollIntoView({ block: "nearest" });
  }

  async function make(data) {
    try {
      const made = await ask("POST", "/api/studies", data);
      location.href = `/studies/${made.id}/sludge`;
    } catch (error) {
      tell(error.message);
    }
  }

  document.addEventListener("click", async (event) => {
    const { dataset } = event.target.closest?.("button") || { dataset: {} };
    try {
      if (dataset.new !== undefined) await make(dataset.new ? { demo: dataset.new } : {});
      else if (dataset.duplicate) await ask("POST", `/api/studies/${dataset.duplicate}/duplicate`);
      else if (dataset.remove) await ask("DELETE", `/api/studies/${dataset.remove}`);
      else if (dataset.restore) await ask("POST", `/api/studies/${dataset.restore}/restore`);
      else return;
      if (dataset.new === undefined) location.reload();
    } catch (error) {
      tell(error.message);
    }
  });

  document.getElementById("study-file")?.addEventListener("change", async (event) => {
    const file = event.target.files[0];
    event.target.value = "";
    if (!file) return;
    if (file.size > largest) return tell(`${file.name}: ${file.size} bytes; at most ${largest} are taken. Logs and readings go in files of their own.`);
    try {
      const text = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(await file.arrayBuffer());
      if (text.includes("\u0000")) return tell(`${file.name}: a binary file; a study is TOML text.`);
      await make({ text });
    } catch {
      tell(`${file.name}: is not UTF-8 text; save the study as UTF-8.`);
    }
  });
}
