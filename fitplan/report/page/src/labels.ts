// Names beside the things in the view, kept apart from one another and from the picture's edge.
import * as three from "three";

interface Label {
  tag: HTMLElement;
  // A line from the name to the thing, where the name had to go farther off.
  leader: HTMLElement;
  at: three.Vector3;
  home: three.Object3D;
  // What the name belongs to, as far as it is a body: a cut may leave a piece of it.
  box: three.Box3 | null;
  // What is asked for stands before what is merely named.
  rank: number;
}
type Rect = [number, number, number, number];
const APART = 2;
// A name hangs so far over its thing (px); from twice as far on, a line leads to it.
const OVER = 14;
const RANKS: Record<string, number> = { short: 1, dim: 1, end: 2 };

export class Labels {
  chosen: string | null = null;
  // What a cut leaves of a box of the train; null: nothing.
  kept: (box: three.Box3) => three.Box3 | null = (box) => box;
  private readonly labels = new Map<string, Label>();

  constructor(private readonly holder: HTMLElement) {}

  add(key: string, name: string, at: three.Vector3, home: three.Object3D, kind = "", box: three.Box3 | null = null): void {
    this.remove(key);
    const [tag, leader] = [document.createElement("span"), document.createElement("span")];
    tag.className = `tag ${kind}`;
    tag.textContent = name;
    leader.className = "leader";
    for (const mark of [leader, tag]) {
      mark.setAttribute("aria-hidden", "true");
      // it is shown when it has been given its place
      mark.hidden = true;
      this.holder.append(mark);
    }
    this.labels.set(key, { tag, leader, at, home, box, rank: RANKS[kind] ?? 3 });
  }

  drop(start: string): void {
    for (const key of [...this.labels.keys()]) if (key.startsWith(start)) this.remove(key);
  }

  private remove(key: string): void {
    const label = this.labels.get(key);
    label?.tag.remove();
    label?.leader.remove();
    this.labels.delete(key);
  }

  choose(key: string | null): void {
    this.chosen = key;
    this.labels.forEach((label, name) => label.tag.classList.toggle("chosen", name === key));
  }

  // Puts each name over its part. One that would lie on another goes up, or down; where no place is left it is not
  // shown, and the list beside the picture still tells it. The same holds of what else stands there (the grip).
  place(camera: three.Camera, grip: DOMRect | null): void {
    const width = this.holder.clientWidth;
    const height = this.holder.clientHeight;
    const taken: Rect[] = grip ? [[grip.left, grip.top, grip.right, grip.bottom]] : [];
    const rank = ([key, label]: [string, Label]) => (key === this.chosen ? 0 : label.rank);
    // all sizes are asked for before anything is moved: the page is laid out once
    const wanted = [...this.labels].sort((a, b) => rank(a) - rank(b)).map(([, label]) => ({ label, at: this.onScreen(label, camera) }));
    for (const { label, at } of wanted) label.tag.hidden = at === null;
    const sizes = wanted.map(({ label, at }) => (at ? [label.tag.offsetWidth, label.tag.offsetHeight] : [0, 0]));
    wanted.forEach(({ label, at }, order) => {
      label.leader.hidden = true;
      if (!at) return;
      const [wide, high] = sizes[order];
      const x = ((at.x + 1) / 2) * width;
      const y = ((1 - at.y) / 2) * height;
      const left = Math.min(width - wide - 2, Math.max(2, x - wide / 2));
      const free = [...Array(9).keys()]
        .map((step) => y - OVER - high - step * (high + APART))
        .concat([...Array(6).keys()].map((step) => y + OVER + step * (high + APART)))
        .find((top) => top >= 2 && top + high <= height - 2 && taken.every((other) => isApart([left, top, left + wide, top + high], other)));
      label.tag.hidden = free === undefined;
      if (free === undefined) return;
      taken.push([left, free, left + wide, free + high]);
      label.tag.style.transform = `translate(${left.toFixed(1)}px, ${free.toFixed(1)}px)`;
      lead(label.leader, Math.min(left + wide - 3, Math.max(left + 3, x)), free, free + high, y);
    });
  }

  // Where a name belongs on the screen, from -1 to 1; null where its thing is not to be seen.
  private onScreen(label: Label, camera: three.Camera): three.Vector3 | null {
    if (!shown(label.home)) return null;
    let there = label.home.localToWorld(label.at.clone());
    const whole = label.box ? label.box.clone().applyMatrix4(label.home.matrixWorld) : new three.Box3(there, there);
    const left = this.kept(whole);
    if (!left) return null;
    if (label.box) there = left.getCenter(new three.Vector3()).setZ(left.max.z);
    const point = there.project(camera);
    return point.z <= 1 && Math.abs(point.x) <= 1 && Math.abs(point.y) <= 1 ? point : null;
  }
}

function isApart(one: Rect, other: Rect): boolean {
  return one[2] + APART <= other[0] || other[2] + APART <= one[0] || one[3] + APART <= other[1] || other[3] + APART <= one[1];
}

// Draws the line from a name between two heights to the height of its thing, where that is far.
function lead(line: HTMLElement, x: number, top: number, bottom: number, y: number): void {
  const [from, to] = y > bottom ? [bottom, y] : [y, top];
  line.hidden = to - from <= 1.5 * OVER;
  if (line.hidden) return;
  line.style.transform = `translate(${x.toFixed(1)}px, ${from.toFixed(1)}px)`;
  line.style.height = `${(to - from).toFixed(1)}px`;
}

// Whether an object and all that it hangs on are to be seen.
export function shown(entry: three.Object3D | null): boolean {
  for (; entry; entry = entry.parent) if (!entry.visible) return false;
  return true;
}
