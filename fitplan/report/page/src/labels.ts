// Names beside the things in the view, kept apart from one another and from the picture's edge.
import * as three from "three";

interface Label {
  tag: HTMLElement;
  at: three.Vector3;
  home: three.Object3D;
  // What is asked for stands before what is merely named.
  first: boolean;
}
const APART = 2;

export class Labels {
  chosen: string | null = null;
  // Whether a place is to be seen at all (a cut may have taken it away).
  sees: (point: three.Vector3) => boolean = () => true;
  private readonly labels = new Map<string, Label>();

  constructor(private readonly holder: HTMLElement) {}

  add(key: string, name: string, at: three.Vector3, home: three.Object3D, kind = ""): void {
    this.labels.get(key)?.tag.remove();
    const tag = document.createElement("span");
    tag.className = `tag ${kind}`;
    tag.textContent = name;
    tag.setAttribute("aria-hidden", "true");
    this.holder.append(tag);
    this.labels.set(key, { tag, at, home, first: kind !== "" });
  }

  drop(start: string): void {
    for (const [key, label] of [...this.labels]) {
      if (!key.startsWith(start)) continue;
      label.tag.remove();
      this.labels.delete(key);
    }
  }

  choose(key: string | null): void {
    this.chosen = key;
    this.labels.forEach((label, name) => label.tag.classList.toggle("chosen", name === key));
  }

  // Puts each name over its part. One that would lie on another goes up, or down; where no place is left it is not
  // shown, and the list beside the picture still tells it.
  place(camera: three.Camera): void {
    const width = this.holder.clientWidth;
    const height = this.holder.clientHeight;
    const taken: [number, number, number, number][] = [];
    const rank = ([key, label]: [string, Label]) => (key === this.chosen ? 0 : label.first ? 1 : 2);
    for (const [, label] of [...this.labels].sort((a, b) => rank(a) - rank(b))) {
      const there = label.home.localToWorld(label.at.clone());
      const point = there.clone().project(camera);
      const seen = point.z <= 1 && Math.abs(point.x) <= 1 && Math.abs(point.y) <= 1 && shown(label.home) && this.sees(there);
      label.tag.hidden = !seen;
      if (!seen) continue;
      const [wide, high] = [label.tag.offsetWidth, label.tag.offsetHeight];
      const left = Math.min(width - wide - 2, Math.max(2, ((point.x + 1) / 2) * width - wide / 2));
      const foot = ((1 - point.y) / 2) * height - 14;
      const free = [...Array(9).keys()]
        .map((step) => foot - high - step * (high + APART))
        .concat([...Array(4).keys()].map((step) => foot + 24 + step * (high + APART)))
        .find((top) => top >= 2 && top + high <= height - 2 && taken.every(([l, t, r, b]) => left + wide + APART <= l || r + APART <= left || top + high + APART <= t || b + APART <= top));
      label.tag.hidden = free === undefined;
      if (free === undefined) continue;
      taken.push([left, free, left + wide, free + high]);
      label.tag.style.transform = `translate(${left.toFixed(1)}px, ${free.toFixed(1)}px)`;
    }
  }
}

// Whether an object and all that it hangs on are to be seen.
export function shown(entry: three.Object3D | null): boolean {
  for (; entry; entry = entry.parent) if (!entry.visible) return false;
  return true;
}
