// The operating map: a point that is moved over the figure, and what the press does there.
const NS = "http://www.w3.org/2000/svg";

function place(axis, value) {
  let at = 0;
  while (at < axis.length - 2 && axis[at + 1] < value) at += 1;
  const share = (value - axis[at]) / (axis[at + 1] - axis[at]);
  return [at, Math.min(1, Math.max(0, share))];
}

// Between the worked-out points the map is read linearly; next to a point without an answer it
// gives none.
function read(map, grid, x, y) {
  const [i, u] = place(map.x, x);
  const [j, v] = place(map.y, y);
  const corners = [[j, i, (1 - u) * (1 - v)], [j, i + 1, u * (1 - v)], [j + 1, i, (1 - u) * v], [j + 1, i + 1, u * v]];
  let sum = 0;
  for (const [row, column, weight] of corners) {
    if (weight < 1e-9) continue;
    const value = grid[row][column];
    if (value === null || (grid !== map.grids.margin && !map.runs[row][column])) return null;
    sum += weight * value;
  }
  return sum;
}

function start(box) {
  const map = JSON.parse(box.dataset.map);
  const svg = box.querySelector("svg");
  const frame = box.querySelector('[id$="patch_2"]')?.getBBox();
  if (!frame) return;
  const [left, right] = [map.x[0], map.x.at(-1)];
  const [low, high] = [map.y[0], map.y.at(-1)];
  const handle = document.createElementNS(NS, "g");
  handle.setAttribute("class", "handle");
  handle.setAttribute("tabindex", "0");
  handle.setAttribute("role", "slider");
  handle.setAttribute("aria-label", "Operating point");
  handle.innerHTML = '<path fill="none" stroke="var(--quiet)" stroke-width="0.6" stroke-dasharray="3 3"/><circle r="16" fill="transparent"/><circle r="6" fill="var(--accent)" stroke="var(--paper)" stroke-width="2"/>';
  svg.append(handle);
  let [x, y] = map.point;

  function show() {
    x = Math.min(right, Math.max(left, x));
    y = Math.min(high, Math.max(low, y));
    const cx = frame.x + ((x - left) / (right - left)) * frame.width;
    const cy = frame.y + frame.height - ((y - low) / (high - low)) * frame.height;
    for (const circle of handle.querySelectorAll("circle")) {
      circle.setAttribute("cx", cx);
      circle.setAttribute("cy", cy);
    }
    handle.querySelector("path").setAttribute("d", `M${frame.x} ${cy}H${cx}V${frame.y + frame.height}`);
    const said = [];
    const values = { screw_speed: x, back_pressure: y };
    const home = x === map.point[0] && y === map.point[1];
    for (const key of Object.keys(map.grids)) values[key] = home && key in map.here ? map.here[key] : read(map, map.grids[key], x, y);
    for (const [key, value] of Object.entries(values)) {
      const target = box.closest("section").querySelector(`[data-read="${key}"]`);
      const text = value === null ? "cannot run" : value.toFixed(map.decimals[key]).replace("-", "\u2212");
      target.textContent = text;
      const unit = target.parentElement.querySelector(".unit");
      if (unit) unit.hidden = value === null;
      said.push(`${target.closest("div").querySelector("dt").textContent} ${text}`);
    }
    handle.setAttribute("aria-valuetext", said.join(", "));
    handle.setAttribute("aria-valuenow", x.toFixed(map.decimals.screw_speed));
  }

  function move(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    x = left + ((at.x - frame.x) / frame.width) * (right - left);
    y = low + ((frame.y + frame.height - at.y) / frame.height) * (high - low);
    show();
  }

  svg.addEventListener("pointerdown", (event) => {
    svg.setPointerCapture(event.pointerId);
    move(event);
    svg.addEventListener("pointermove", move);
    event.preventDefault();
    handle.focus({ preventScroll: true });
  });
  for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, () => svg.removeEventListener("pointermove", move));
  handle.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (!step) return;
    event.preventDefault();
    x += (step[0] * (right - left)) / 50;
    y += (step[1] * (high - low)) / 50;
    show();
  });
  show();
}

export function startMaps(root) {
  for (const box of root.querySelectorAll("[data-map]")) start(box);
}
