// Names of the parts beside them in the view, kept apart from one another.
import * as three from "three";

interface Label {
  tag: HTMLElement;
  at: three.Vector3;
  home: three.Object3D;
}
const HIGH = 19;

export class Labels {
  chosen: string | null = null;
  private readonly labels = new Map<string, Label>();

  constructor(private readonly holder: HTMLElement) {}

  add(key: string, name: string, at: three.Vector3, home: three.Object3D): void {
    const tag = document.createElement("span");
    tag.className = "tag";
    tag.textContent = name;
    tag.setAttribute("aria-hidden", "true");
    this.holder.append(tag);
    this.labels.set(key, { tag, at, home });
  }

  choose(key: string | null): void {
    this.chosen = key;
    this.labels.forEach((label, name) => label.tag.classList.toggle("chosen", name === key));
  }

  // Puts each name over its part; names that would lie on one another go up.
  place(camera: three.Camera): void {
    const width = this.holder.clientWidth;
    const height = this.holder.clientHeight;
    const taken: [number, number, number][] = [];
    const order = [...this.labels].sort(([a], [b]) => Number(b === this.chosen) - Number(a === this.chosen));
    for (const [, label] of order) {
      const point = label.home.localToWorld(label.at.clone()).project(camera);
      const hidden = point.z > 1 || Math.abs(point.x) > 1 || Math.abs(point.y) > 1 || !shown(label.home);
      label.tag.hidden = hidden;
      if (hidden) continue;
      const x = ((point.x + 1) / 2) * width;
      let y = ((1 - point.y) / 2) * height - 14;
      const half = label.tag.offsetWidth / 2;
      for (let tries = 0; tries < 8; tries++) {
        const clash = taken.find(([tx, ty, th]) => Math.abs(tx - x) < th + half + 4 && Math.abs(ty - y) < HIGH);
        if (!clash) break;
        y = clash[1] - HIGH - 1;
      }
      taken.push([x, y, half]);
      const kept = Math.min(width - half - 2, Math.max(half + 2, x));
      label.tag.style.transform = `translate(-50%, -100%) translate(${kept.toFixed(1)}px, ${y.toFixed(1)}px)`;
    }
  }
}

// Whether an object and all that it hangs on are to be seen.
export function shown(entry: three.Object3D | null): boolean {
  for (; entry; entry = entry.parent) if (!entry.visible) return false;
  return true;
}
