// Joins the page's tables with its view: what is chosen in one is shown in the other.
import { readData } from "./data";
import type { Looks } from "./gaze";
import { wireTicks } from "./ticks";
import { Tools } from "./tools";
import { View } from "./view";

const data = readData();
const byId = <T extends HTMLElement>(id: string) => document.getElementById(id) as T;
const all = <T extends Element>(query: string) => [...document.querySelectorAll<T>(query)];

let view: View | null = null;
let tools: Tools | null = null;
let chosen: string | null = null;

function start(): void {
  document.documentElement.classList.add("scripted");
  wireTables();
  wireTicks(data);
  lineMap();
  const stage = byId("stage");
  if (!stage) return;
  stage.classList.add("live");
  try {
    view = new View(stage, data.scene, (key) => data.words[key]?.name ?? "");
  } catch {
    stage.classList.remove("live");
    byId("stage-note").textContent = "This browser cannot draw the turning view; the flat drawing says the same.";
    return;
  }
  byId("view-tools").hidden = false;
  fitScreen();
  view.pointing.onPick = (key) => choose(key, "view");
  tools = new Tools(view, data, note);
  recall(view);
  window.addEventListener("hashchange", () => recall(view));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => view?.theme());
}

// The picture is as high as verdict and controls leave on one screen, however long the verdict is.
function fitScreen(): void {
  const stage = byId("stage");
  const tools = byId("view-tools");
  const set = () => {
    const above = stage.getBoundingClientRect().top + window.scrollY;
    document.documentElement.style.setProperty("--around", `${Math.ceil(above + tools.offsetHeight + 6)}px`);
  };
  set();
  const watch = new ResizeObserver(set);
  for (const part of [document.querySelector("header"), tools]) if (part) watch.observe(part);
}

// Rows and drawings with a key choose it; the chosen one is marked everywhere.
function wireTables(): void {
  document.addEventListener("click", (event) => {
    const target = event.target as Element;
    const net = target.closest<HTMLElement>("#chosen-net");
    if (net) return choose(net.dataset.net ?? null, "page");
    const link = target.closest<HTMLElement>("#chosen-links button");
    if (link) return choose(link.dataset.to ?? null, "page");
    const holder = target.closest<HTMLElement>("[data-key]");
    if (!holder || target.closest("a, summary, input, select, label")) return;
    const key = holder.dataset.key ?? "";
    if (!data.words[key]) return;
    choose(key === chosen && !target.closest("button.find") ? null : key, "page");
    if (target.closest("button.find")) byId("picture").scrollIntoView({ block: "start" });
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    choose(null, "page");
    view?.hold(false);
    tools?.endMeasuring();
  });
}

// What a key stands for in the picture: itself, the whole line of a wire, all wires of a net.
function members(key: string | null): string[] {
  if (key === null) return [];
  return data.words[key]?.keys ?? [key];
}

function choose(key: string | null, from: "view" | "page" | "address"): void {
  chosen = key;
  const keys = members(key);
  for (const entry of all<HTMLElement>("[data-key]")) {
    const own = entry.dataset.key ?? "";
    const on = own === key || keys.includes(own);
    entry.classList.toggle("chosen", on);
    const button = entry.tagName === "BUTTON" ? entry : /^(TR|LI)$/.test(entry.tagName) ? entry.querySelector("button") : null;
    button?.setAttribute("aria-pressed", String(on));
  }
  const words = key ? data.words[key] : undefined;
  view?.select(keys, from !== "view", words?.at ?? null);
  document.querySelector(".chosen-card")?.classList.toggle("picked", words !== undefined);
  byId("chosen-name").textContent = words?.name ?? "Nothing chosen";
  byId("chosen-detail").textContent = words?.detail ?? "Choose a part or a wire in the picture, in the list or in a table.";
  byId("chosen-links").replaceChildren(...(words?.links ?? []).map(([to, said]) => linkTo(to, said)));
  const sheets = new Set([key ?? "", ...keys].flatMap((one) => data.words[one]?.sheets ?? []));
  byId("chosen-sheets").replaceChildren(...sheetLinks([...sheets].sort((a, b) => a - b)));
  for (const row of all<HTMLElement>("[data-sheet]")) row.classList.toggle("chosen", sheets.has(Number(row.dataset.sheet)));
  const net = byId("chosen-net");
  net.hidden = words?.net === undefined || members(words.net).length < 2;
  net.dataset.net = words?.net ?? "";
  const inList = document.querySelector<HTMLElement>(`#finder [data-key="${CSS.escape(keys[0] ?? "")}"]`);
  if (from === "view" && inList) {
    const list = byId("finder");
    list.scrollTop = inList.offsetTop - list.clientHeight / 2;
  }
  if (from !== "address") remember();
}

// A way from what is chosen to what hangs on it.
function linkTo(key: string, said: string): HTMLElement {
  const button = document.createElement("button");
  button.type = "button";
  button.dataset.to = key;
  button.textContent = said;
  return button;
}

// The printed sheets that show what is chosen, each opened at its page.
function sheetLinks(numbers: number[]): (HTMLElement | string)[] {
  if (!numbers.length) return [];
  const links = numbers.flatMap((number) => {
    const link = document.createElement("a");
    link.href = `sheets.pdf#page=${number}`;
    link.textContent = String(number);
    return [" ", link];
  });
  return [numbers.length === 1 ? "drawn on sheet" : "drawn on sheets", ...links];
}

// The address bears the state of the view, so that it can be kept, sent and opened again.
const state: Record<string, string> = {};

function remember(): void {
  if (chosen) state.see = chosen;
  else delete state.see;
  const words = Object.entries(state).map(([name, value]) => `${name}=${encodeURIComponent(value)}`);
  try {
    history.replaceState(null, "", words.length ? `#view?${words.join("&")}` : location.pathname + location.search);
  } catch {
    // A page opened from a disk may not be allowed to; then the address stays as it is.
  }
}

function recall(target: View | null): void {
  const found = /^#view\?(.*)$/.exec(location.hash);
  if (!found) return;
  for (const [name, value] of new URLSearchParams(found[1])) {
    if (name === "see" && data.words[value]) choose(value, "address");
    if (name === "look" && target && looks.includes(value)) target.look(value as Looks);
    tools?.recall(name, value);
    state[name] = value;
  }
  byId("picture").scrollIntoView({ block: "start" });
}
const looks = ["three-quarter", "side", "above", "front"];

function note(name: string, value: string, usual: string): void {
  if (value === usual) delete state[name];
  else state[name] = value;
  remember();
}

// Marks on the line map the station that the reader is at.
function lineMap(): void {
  const stops = new Map(all<HTMLAnchorElement>("#line a").map((link) => [link.hash.slice(1), link]));
  const watch = new IntersectionObserver(
    (entries) => {
      for (const entry of entries) {
        if (!entry.isIntersecting) continue;
        for (const [id, link] of stops) {
          if (id === entry.target.id) link.setAttribute("aria-current", "true");
          else link.removeAttribute("aria-current");
        }
      }
    },
    { rootMargin: "-20% 0px -70% 0px" },
  );
  for (const id of stops.keys()) {
    const section = document.getElementById(id);
    if (section) watch.observe(section);
  }
}

start();
// For tests and for curious readers: what is chosen, and the means to choose.
Object.assign(window, {
  fitplan: { choose: (key: string | null) => choose(key, "page"), chosen: () => chosen, render: () => view?.render(), live: () => view !== null, view: () => view },
});
