// Long work behind a page: started, watched and stopped here; its result is put in place.
const REST = 350;

// Puts parts of the page as the server has it now in place of the old ones.
export async function renew(ids) {
  const answer = await fetch(location.href, { headers: { accept: "text/html" } });
  if (!answer.ok) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const id of ids) {
    const old = document.getElementById(id);
    const now = fresh.getElementById(id);
    if (old && now) old.replaceWith(document.importNode(now, true));
  }
  document.dispatchEvent(new CustomEvent("cakewright-renewed", { detail: ids }));
}

export class Watch {
  constructor(place, ask, ended) {
    Object.assign(this, { place, ask, ended, timer: 0 });
    this.was = this.part(".task").dataset.taskState;
    place.addEventListener("click", (event) => {
      if (event.target.closest("[data-task-start]")) this.go("POST");
      if (event.target.closest("[data-task-stop]")) this.go("DELETE");
    });
    if (this.was === "running") this.look();
  }

  part(name) {
    return this.place.querySelector(name);
  }

  async go(method) {
    clearTimeout(this.timer);
    try {
      this.take(await this.ask(method, this.place.dataset.task));
    } catch (error) {
      this.take({ state: "failed", problem: error.message, faults: error.given?.faults || [], share: null });
    }
  }

  async look() {
    clearTimeout(this.timer);
    try {
      this.take(await this.ask("GET", this.place.dataset.task));
    } catch {
      this.timer = setTimeout(() => this.look(), 4 * REST);
    }
  }

  take(told) {
    const task = this.part(".task");
    const running = told.state === "running";
    task.dataset.taskState = told.state;
    task.hidden = told.state === "none" || told.state === "done";
    this.part("[data-task-step]").textContent = running ? told.step : told.problem || (told.state === "stopped" ? "Stopped." : "");
    const bar = this.part("progress");
    bar.hidden = !running;
    if (told.share === null || told.share === undefined) bar.removeAttribute("value");
    else bar.value = told.share;
    this.part("[data-task-stop]").hidden = !running;
    const start = this.part("[data-task-start]");
    if (start) start.hidden = running || told.state === "done";
    const done = this.part("[data-task-done]");
    if (done) done.hidden = told.state !== "done";
    this.faults(told.faults || []);
    if (running) this.timer = setTimeout(() => this.look(), REST);
    if (told.state !== this.was) {
      const before = this.was;
      this.was = told.state;
      if (before === "running") this.ended(told);
    }
  }

  faults(faults) {
    const list = this.part("[data-task-faults]");
    list.hidden = !faults.length;
    list.replaceChildren(
      ...faults.slice(0, 20).map((fault) => {
        const item = document.createElement("li");
        item.textContent = `${fault.where}: got ${fault.got}. Allowed: ${fault.allowed}. Try: ${fault.try_this}.`;
        return item;
      }),
    );
  }
}

// The weeks of the line: their section appears among the results.
export function startWeeks(ask, say) {
  const place = document.getElementById("weeks");
  if (!place) return;
  const watch = new Watch(place, ask, (told) => {
    if (told.state !== "done") return;
    say("The weeks are played.");
    renew(["results"]);
  });
  // An edit makes the played weeks those of an older text.
  document.addEventListener("cakewright-results", () => {
    if (watch.was !== "none") watch.look();
  });
}
