// What the pointer does in the picture: it names, chooses, measures, and draws the plane of a cut.
import * as three from "three";
import type { Dimensions } from "./dimensions";
import { shown } from "./labels";
import type { Section } from "./section";
import type { Things } from "./things";

export class Pointing {
  onPick: (key: string | null) => void = () => {};
  // Told what two points are apart, or what is still to be pointed at; empty: nothing is measured.
  onMeasure: (text: string) => void = () => {};
  // Told where the plane of the cut was drawn to.
  onCut: (at: number) => void = () => {};
  private readonly grip = document.createElement("span");
  private readonly hover = document.createElement("span");
  private first: three.Vector3 | null = null;
  private measuring = false;

  constructor(
    private readonly holder: HTMLElement,
    private readonly canvas: HTMLCanvasElement,
    private readonly camera: three.Camera,
    private readonly scene: three.Scene,
    private readonly things: Things,
    private readonly section: Section,
    private readonly dimensions: Dimensions,
    private readonly nameOf: (key: string) => string,
    private readonly hold: (on: boolean) => void,
    private readonly draw: () => void,
  ) {
    this.grip.className = "grip";
    this.hover.className = "tag hover";
    for (const mark of [this.grip, this.hover]) {
      mark.hidden = true;
      mark.setAttribute("aria-hidden", "true");
      holder.append(mark);
    }
    this.listen();
  }

  // Points are asked for, two at a time, until it is switched off.
  measure(on: boolean): void {
    this.measuring = on;
    this.first = null;
    this.holder.classList.toggle("measuring", on);
    this.dimensions.clear("measure");
    this.onMeasure(on ? "point at one end" : "");
    this.draw();
  }

  // Puts the grip of the cut where its plane is now.
  placeGrip(): void {
    const { axis } = this.section;
    this.grip.hidden = axis === "none";
    if (axis === "none") return;
    const [x, y] = this.onScreen(this.section.grip);
    this.grip.textContent = `${(this.section.at - this.section.origin(axis)).toFixed(1)} mm`;
    const left = Math.min(this.holder.clientWidth - 76, Math.max(4, x - 36));
    const top = Math.min(this.holder.clientHeight - 30, Math.max(4, y - 34));
    this.grip.style.transform = `translate(${left.toFixed(1)}px, ${top.toFixed(1)}px)`;
  }

  // Where the grip stands, so that no name is put over it.
  get taken(): DOMRect | null {
    if (this.grip.hidden) return null;
    const own = this.holder.getBoundingClientRect();
    const box = this.grip.getBoundingClientRect();
    return new DOMRect(box.left - own.left, box.top - own.top, box.width, box.height);
  }

  private onScreen(point: three.Vector3): [number, number] {
    const at = point.clone().project(this.camera);
    return [((at.x + 1) / 2) * this.holder.clientWidth, ((1 - at.y) / 2) * this.holder.clientHeight];
  }

  private listen(): void {
    let down: [number, number] | null = null;
    const { canvas } = this;
    canvas.addEventListener("pointerdown", (event) => {
      down = [event.clientX, event.clientY];
      this.hold(true);
    });
    document.addEventListener("pointerdown", (event) => {
      if (!this.holder.contains(event.target as Node)) this.hold(false);
    });
    this.holder.addEventListener("blur", () => this.hold(false));
    canvas.addEventListener("pointerup", (event) => {
      if (down && Math.hypot(event.clientX - down[0], event.clientY - down[1]) < 5) this.press(event);
      down = null;
    });
    let asked = false;
    canvas.addEventListener("pointermove", (event) => {
      if (asked || event.buttons || event.pointerType === "touch") return;
      asked = true;
      requestAnimationFrame(() => {
        asked = false;
        this.say(event);
      });
    });
    canvas.addEventListener("pointerleave", () => (this.hover.hidden = true));
    this.grip.addEventListener("pointerdown", (event) => {
      this.grip.setPointerCapture(event.pointerId);
      event.preventDefault();
    });
    this.grip.addEventListener("pointermove", (event) => {
      if (!this.grip.hasPointerCapture(event.pointerId) || this.section.axis === "none") return;
      this.onCut(this.section.at + this.alongPlane(event.movementX, event.movementY));
    });
  }

  // How far the plane moves when its grip is drawn so many pixels across the screen.
  private alongPlane(right: number, down: number): number {
    const from = this.section.grip;
    const to = from.clone();
    if (this.section.axis !== "none") to[this.section.axis] += 1;
    const [x0, y0] = this.onScreen(from);
    const [x1, y1] = this.onScreen(to);
    const [x, y] = [x1 - x0, y1 - y0];
    return (right * x + down * y) / Math.max(1e-3, x * x + y * y);
  }

  // Says what is under the pointer.
  private say(event: PointerEvent): void {
    const key = this.hits(event, false)[0]?.object.userData.key as string | undefined;
    this.hover.hidden = key === undefined;
    if (key === undefined) return;
    this.hover.textContent = this.nameOf(key);
    const box = this.holder.getBoundingClientRect();
    const left = Math.min(event.clientX - box.left + 12, box.width - this.hover.offsetWidth - 4);
    this.hover.style.transform = `translate(${left}px, ${Math.max(2, event.clientY - box.top + 14)}px)`;
  }

  private press(event: PointerEvent): void {
    if (!this.measuring) return this.onPick((this.hits(event, false)[0]?.object.userData.key as string) ?? null);
    const hit = this.hits(event, true)[0];
    if (!hit) return;
    const point = this.snapped(hit, event);
    if (!this.first) {
      this.first = point;
      this.dimensions.clear("measure");
      this.onMeasure("point at the other end");
    } else {
      this.onMeasure(this.dimensions.between(this.first, point));
      this.first = null;
    }
    this.draw();
  }

  // The corner of what was hit when one is within a few pixels, else the point itself.
  private snapped(hit: three.Intersection, event: PointerEvent): three.Vector3 {
    const box = this.holder.getBoundingClientRect();
    const places = (hit.object as three.Mesh).geometry.getAttribute("position");
    const corners = hit.face ? [hit.face.a, hit.face.b, hit.face.c] : [];
    let best = hit.point.clone();
    let nearest = 9;
    for (const corner of corners) {
      const point = hit.object.localToWorld(new three.Vector3().fromBufferAttribute(places, corner));
      const [x, y] = this.onScreen(point);
      const apart = Math.hypot(x - (event.clientX - box.left), y - (event.clientY - box.top));
      if (apart < nearest) [best, nearest] = [point, apart];
    }
    return best;
  }

  // What lies under the pointer, the nearest first; with bodies and faces of the cut when anything counts.
  private hits(event: PointerEvent, anything: boolean): three.Intersection[] {
    const canvas = this.canvas.getBoundingClientRect();
    const at = new three.Vector2(
      ((event.clientX - canvas.left) / canvas.width) * 2 - 1,
      1 - ((event.clientY - canvas.top) / canvas.height) * 2,
    );
    const ray = new three.Raycaster();
    ray.setFromCamera(at, this.camera);
    ray.params.Line.threshold = 0;
    const meshes: three.Object3D[] = [];
    if (anything) {
      this.scene.traverseVisible((entry) => {
        if (entry instanceof three.Mesh && !(entry instanceof three.InstancedMesh)) meshes.push(entry);
      });
    } else {
      for (const thing of this.things.all.values()) if (shown(thing.home)) meshes.push(...thing.meshes.filter((mesh) => mesh.visible));
    }
    return ray.intersectObjects(meshes, false).filter((hit) => this.section.sees(hit.point));
  }
}
