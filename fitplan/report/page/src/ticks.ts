// Steps that were ticked off at the bench; they are kept in the browser for this very sequence of steps.
import type { PageData } from "./data";

export function wireTicks(data: PageData): void {
  const boxes = [...document.querySelectorAll<HTMLInputElement>("#ticks input[data-tick]")];
  if (!boxes.length) return;
  const name = `fitplan-ticks-${digest(data.steps.join("\n"))}`;
  const ticked = new Set<string>(read(name));
  const says = document.getElementById("ticks-says");
  const tell = () => {
    if (says) says.textContent = `${ticked.size} of ${boxes.length} done`;
  };
  for (const box of boxes) {
    box.checked = ticked.has(box.dataset.tick ?? "");
    box.addEventListener("change", () => {
      if (box.checked) ticked.add(box.dataset.tick ?? "");
      else ticked.delete(box.dataset.tick ?? "");
      write(name, [...ticked]);
      tell();
    });
  }
  tell();
}

function read(name: string): string[] {
  try {
    const found: unknown = JSON.parse(localStorage.getItem(name) ?? "[]");
    return Array.isArray(found) ? found.map(String) : [];
  } catch {
    return [];
  }
}

function write(name: string, ticked: string[]): void {
  try {
    localStorage.setItem(name, JSON.stringify(ticked));
  } catch {
    // A browser may keep nothing for a page from a disk; then the ticks last as long as the page.
  }
}

// A short name for a text (FNV-1a): another plan has other steps and begins unticked.
function digest(text: string): string {
  let hash = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193) >>> 0;
  return hash.toString(16);
}
