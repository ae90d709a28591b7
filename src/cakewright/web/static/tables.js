// Tables can be sorted by a click on a head, and copied into a spreadsheet.
function valueOf(cell) {
  const text = cell.innerText.trim().replaceAll("\u202f", "").replaceAll("\u2212", "-");
  const number = parseFloat(text);
  return Number.isNaN(number) ? text.toLowerCase() : number;
}

function sortBy(table, head, down = head.getAttribute("aria-sort") === "ascending") {
  const at = [...head.parentElement.children].indexOf(head);
  for (const each of head.parentElement.children) each.removeAttribute("aria-sort");
  head.setAttribute("aria-sort", down ? "descending" : "ascending");
  const rows = [...table.tBodies[0].rows];
  rows.sort((a, b) => {
    const [x, y] = [valueOf(a.cells[at]), valueOf(b.cells[at])];
    const order = typeof x === typeof y ? (x < y ? -1 : x > y ? 1 : 0) : typeof x === "number" ? -1 : 1;
    return down ? -order : order;
  });
  table.tBodies[0].append(...rows);
}

// A cell that a spreadsheet would take for a formula is given as text.
function plain(text) {
  const words = text.trim().replaceAll(/\s+/g, " ").replaceAll("\u2212", "-");
  return /^[=+@\t]|^-(?![\d.])/.test(words) ? `'${words}` : words;
}

function textOf(cell) {
  const copy = cell.cloneNode(true);
  for (const part of copy.querySelectorAll("svg, .badge, .sr")) part.remove();
  return plain(copy.textContent);
}

async function copy(table, button) {
  const rows = [...table.rows].map((row) => [...row.cells].map(textOf).join("\t"));
  try {
    await navigator.clipboard.writeText(rows.join("\n"));
    tell(button, "Copied", Date.now() + 1600);
  } catch {
    tell(button, "The browser did not allow it", Date.now() + 1600);
  }
}

function tell(button, words, until) {
  button.textContent = words;
  button.dataset.until = until;
  setTimeout(() => (button.textContent = "Copy table"), until - Date.now());
}

// Sortable tables of a place by what their heads say, the second of a kind apart from the first.
function tablesOf(root) {
  const found = new Map();
  for (const table of root.querySelectorAll("table[data-sortable]")) {
    let name = table.tHead?.textContent ?? "";
    while (found.has(name)) name += "+";
    found.set(name, table);
  }
  return found;
}

function buttonsOf(table) {
  return [...(table.closest("figure") ?? table).querySelectorAll("button.sort, button.copy")];
}

// What a person did to the tables of a place outlives their replacement by newer ones: the
// function given back sorts the new tables as the old ones were, and returns to the same button.
export function tablesKept(root) {
  const kept = new Map();
  for (const [name, table] of tablesOf(root)) {
    const heads = [...(table.tHead?.rows[0]?.cells ?? [])];
    const buttons = buttonsOf(table);
    const told = buttons.at(-1);
    kept.set(name, {
      sorted: heads.findIndex((head) => head.hasAttribute("aria-sort")),
      down: heads.some((head) => head.getAttribute("aria-sort") === "descending"),
      at: buttons.indexOf(document.activeElement),
      words: told?.textContent,
      until: Number(told?.dataset.until ?? 0),
    });
  }
  return () => {
    for (const [name, table] of tablesOf(root)) {
      const was = kept.get(name);
      if (!was) continue;
      const head = table.tHead.rows[0].cells[was.sorted];
      if (head?.querySelector("button.sort")) sortBy(table, head, was.down);
      const buttons = buttonsOf(table);
      if (was.at >= 0) buttons[was.at]?.focus({ preventScroll: true });
      if (was.until > Date.now() && buttons.length) tell(buttons.at(-1), was.words, was.until);
    }
  };
}

export function startTables(root) {
  for (const table of root.querySelectorAll("table[data-sortable]")) {
    if (table.tBodies[0].rows.length > 2) {
      for (const head of table.tHead.rows[0].cells) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "sort";
        button.append(...head.childNodes);
        button.addEventListener("click", () => sortBy(table, head));
        head.append(button);
      }
    }
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet copy";
    button.textContent = "Copy table";
    button.addEventListener("click", () => copy(table, button));
    table.closest("figure")?.append(button);
  }
}
