// The view of the train: builds the picture, moves it, and says what was picked. It knows no table.
import * as three from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import type { SceneData } from "./data";
import { Labels, shown } from "./labels";
import { Dimensions } from "./dimensions";
import { Paints } from "./paints";
import { type CutAxis, Section } from "./section";
import { Sequence } from "./sequence";
import { Stock } from "./stock";
import { Things } from "./things";

export type Looks = "three-quarter" | "side" | "above" | "front";

export class View {
  onPick: (key: string | null) => void = () => {};
  // Told what two points are apart, or what is still to be pointed at; null: nothing is measured.
  onMeasure: (text: string) => void = () => {};
  // Told where the plane of the cut was drawn to.
  onCut: (at: number) => void = () => {};
  private readonly renderer: three.WebGLRenderer;
  private readonly scene = new three.Scene();
  private readonly camera = new three.PerspectiveCamera(24, 1, 20, 12000);
  private readonly controls: OrbitControls;
  private readonly paints = new Paints();
  private readonly stock: Stock;
  private readonly things: Things;
  private readonly labels: Labels;
  readonly section: Section;
  readonly sequence: Sequence;
  private readonly dimensions: Dimensions;
  private readonly grip = document.createElement("span");
  private readonly hover = document.createElement("span");
  private readonly shines: three.Object3D[] = [];
  private chosen: string[] = [];
  private wanted = false;
  private dimensionsOn = false;
  private vehicle: number | null = null;
  private first: three.Vector3 | null = null;
  private measuring = false;
  private boxed: three.Box3 | null = null;
  // The look that was asked for, as long as nobody has turned the picture since.
  private way: Looks | null = null;

  constructor(
    private readonly holder: HTMLElement,
    private readonly data: SceneData,
    private readonly nameOf: (key: string) => string,
  ) {
    this.renderer = new three.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    holder.prepend(this.renderer.domElement);
    this.camera.up.set(0, 0, 1);
    this.scene.add(new three.HemisphereLight(0xffffff, 0xb8b2a4, 2.1));
    const sun = new three.DirectionalLight(0xffffff, 1.5);
    sun.position.set(-300, -500, 800);
    this.scene.add(sun);
    this.controls = new OrbitControls(this.camera, this.renderer.domElement);
    this.controls.enableDamping = false;
    this.controls.maxPolarAngle = Math.PI * 0.62;
    this.controls.addEventListener("change", () => this.draw());
    this.controls.addEventListener("start", () => (this.way = null));
    this.hold(false);
    this.labels = new Labels(holder);
    this.stock = new Stock(this.scene, this.paints, data.vehicles);
    this.things = new Things(this.scene, this.paints, this.stock, data, this.labels, nameOf);
    this.section = new Section(this.scene, this.paints, this.stock, this.things);
    this.section.seen = () => this.seenBox();
    this.sequence = new Sequence(data.steps, this.stock, this.things);
    this.dimensions = new Dimensions(this.scene, this.paints, this.stock, this.labels, data.vehicles);
    this.labels.sees = (point) => this.section.sees(point);
    for (const ghost of data.ghosts) {
      const { home, meshes } = this.dimensions.ghost(ghost);
      const rim = () => new three.Group();
      const colour = new three.Color("#a5301c");
      const capPaint = this.paints.ghost;
      this.things.all.set(ghost.key, { meshes, colour, home, out: [], rim, vehicle: ghost.vehicle, shapes: [], capPaint });
      const top = new three.Vector3(...ghost.taken.slice(3)).add(new three.Vector3(...ghost.taken.slice(0, 3))).multiplyScalar(0.5);
      this.labels.add(ghost.key, nameOf(ghost.key), top, home, "short");
    }
    this.grip.className = "grip";
    this.hover.className = "tag hover";
    this.grip.hidden = this.hover.hidden = true;
    this.grip.setAttribute("aria-hidden", "true");
    this.hover.setAttribute("aria-hidden", "true");
    holder.append(this.grip, this.hover);
    this.theme();
    this.listen();
    this.resize();
    this.look("three-quarter");
  }

  // The wheel and two fingers move the picture only once it is chosen; else they scroll the page.
  hold(on: boolean): void {
    this.controls.enableZoom = on;
    this.holder.classList.toggle("held", on);
    this.renderer.domElement.style.touchAction = on ? "none" : "pan-y";
  }

  // Colours follow the page's style variables.
  theme(): void {
    this.paints.follow(this.holder);
    this.draw();
  }

  get levels(): number[] {
    return this.stock.levels;
  }

  look(way: Looks): void {
    this.way = way;
    const box = this.seenBox();
    const middle = box.getCenter(new three.Vector3());
    const directions: Record<Looks, three.Vector3> = {
      "three-quarter": new three.Vector3(0.42, -1, 0.56),
      side: new three.Vector3(0, -1, 0.02),
      above: new three.Vector3(0, -0.02, 1),
      front: new three.Vector3(1, -0.12, 0.22),
    };
    const along = directions[way].clone().normalize();
    const distance = this.distanceFor(along, middle, box);
    this.controls.target.copy(middle);
    this.camera.position.copy(middle).addScaledVector(along, distance);
    this.controls.update();
    this.draw();
  }

  // How far the camera must stand for every corner of the train to be seen, with some room for labels.
  private distanceFor(along: three.Vector3, middle: three.Vector3, box = this.stock.box): number {
    const right = new three.Vector3(0, 0, 1).cross(along).normalize();
    const up = along.clone().cross(right);
    const tangent = Math.tan(((this.camera.fov / 2) * Math.PI) / 180);
    let distance = 100;
    for (let corner = 0; corner < 8; corner++) {
      const point = new three.Vector3(
        corner & 1 ? box.max.x : box.min.x,
        corner & 2 ? box.max.y : box.min.y,
        corner & 4 ? box.max.z : box.min.z,
      ).sub(middle);
      const nearer = point.dot(along);
      const across = Math.abs(point.dot(right)) / (tangent * this.camera.aspect * 0.9);
      const over = Math.abs(point.dot(up)) / (tangent * 0.72);
      distance = Math.max(distance, nearer + across, nearer + over);
    }
    return distance;
  }

  // All that stands in the train, or the one vehicle that is shown, and what juts out of it.
  private seenBox(): three.Box3 {
    if (this.boxed) return this.boxed;
    const box = this.stock.box.clone();
    if (this.vehicle !== null) {
      const { shift, size } = this.data.vehicles[this.vehicle];
      box.min.x = shift;
      box.max.x = shift + size[0];
    }
    for (const ghost of this.data.ghosts) {
      if (this.vehicle === null || this.vehicle === ghost.vehicle) box.expandByObject(this.things.all.get(ghost.key)!.home);
    }
    this.boxed = box;
    return box;
  }

  // Lifts the uppermost layers off: 0 leaves all in place.
  liftLayers(count: number): void {
    this.stock.liftLayers(count);
    this.refresh();
  }

  // Cuts the train with a plane at so many mm along an axis of the train.
  cut(axis: CutAxis, at: number): void {
    this.section.set(axis, at);
    this.renderer.clippingPlanes = axis === "none" ? [] : [this.section.plane];
    this.draw();
  }

  // Shows the train after so many steps of building, with parts and layers drawn apart by a share.
  build(done: number, apart: number): void {
    this.sequence.done = done;
    this.sequence.apart = apart;
    this.refresh();
  }

  // Shows one vehicle alone; null: the train.
  only(vehicle: number | null): void {
    this.vehicle = vehicle;
    this.boxed = null;
    this.stock.homes.forEach((home, place) => (home.visible = vehicle === null || place === vehicle));
    this.things.only(vehicle);
    this.refresh();
    this.look(this.way ?? "three-quarter");
  }

  show(what: "bodies" | "parts" | "wires" | "studs" | "labels" | "track" | "sizes", on: boolean): void {
    if (what === "bodies") this.stock.bodies.forEach((group) => (group.visible = on));
    if (what === "parts") this.sequence.partsOn = on;
    if (what === "wires") this.things.wires.visible = this.sequence.wiresOn = on;
    if (what === "studs") this.stock.showStuds(on);
    if (what === "labels") this.holder.classList.toggle("no-labels", !on);
    if (what === "track") this.stock.track.visible = on;
    if (what === "sizes") this.dimensionsOn = on;
    this.refresh();
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

  // After anything has moved, come or gone.
  private refresh(): void {
    this.sequence.apply();
    this.section.fill();
    this.shine();
    this.dimensions.clear("size");
    if (this.dimensionsOn) this.sizes();
    this.draw();
  }

  private sizes(): void {
    const part = this.chosen.map((key) => this.things.all.get(key)!).find((thing) => thing.shapes.length);
    if (part) {
      const mesh = part.meshes[0];
      mesh.geometry.computeBoundingBox();
      this.dimensions.box("size", part.vehicle, mesh.geometry.boundingBox!, true);
      return;
    }
    this.data.vehicles.forEach((_, place) => {
      if (this.vehicle === null || this.vehicle === place) this.dimensions.vehicle("size", place);
    });
  }

  // Chooses things: a part, or a wire or all wires of a net, which is then seen whole while the rest is faint.
  select(keys: string[], approach = true): void {
    this.chosen.forEach((key) => this.mark(key, false));
    this.chosen = keys.filter((key) => this.things.all.has(key));
    const wires = this.chosen.some((key) => key.startsWith("wire-"));
    this.things.dim(wires ? new Set(this.chosen) : null);
    this.labels.choose(this.chosen[0] ?? null);
    if (this.chosen.length && approach) this.approach(wires);
    this.refresh();
  }

  // Rims round what is chosen, and round what the step in hand brings.
  private shine(): void {
    this.shines.splice(0).forEach((shine) => shine.removeFromParent());
    for (const key of this.chosen) this.mark(key, true);
    for (const key of [...this.chosen, ...this.sequence.fresh]) {
      const thing = this.things.all.get(key);
      if (!thing) continue;
      const shine = thing.rim();
      thing.home.add(shine);
      this.shines.push(shine);
    }
  }

  private mark(key: string, on: boolean): void {
    const thing = this.things.all.get(key);
    if (!thing || key.startsWith("ghost-")) return;
    for (const mesh of thing.meshes) {
      const material = mesh.material as three.MeshLambertMaterial;
      if (on) material.emissive.copy(thing.colour).multiplyScalar(0.35);
      else material.emissive.set(0);
      material.depthTest = on ? thing.outline !== undefined : true;
      mesh.renderOrder = on ? 5 : 0;
    }
    if (thing.outline) thing.outline.material = on ? this.paints.chosenOutline : this.paints.outline;
  }

  // Turns towards what is chosen; wires are followed from end to end.
  private approach(whole: boolean): void {
    this.way = null;
    const bounds = new three.Box3();
    for (const key of this.chosen) this.things.all.get(key)!.meshes.forEach((mesh) => bounds.expandByObject(mesh));
    const middle = bounds.getCenter(new three.Vector3());
    const offset = this.camera.position.clone().sub(this.controls.target);
    if (whole) {
      const along = offset.clone().normalize();
      offset.copy(along).multiplyScalar(this.distanceFor(along, middle, bounds));
    }
    this.controls.target.copy(middle);
    this.camera.position.copy(middle).add(offset);
    this.controls.update();
  }

  turn(around: number, over: number): void {
    this.way = null;
    const offset = this.camera.position.clone().sub(this.controls.target);
    const ball = new three.Spherical().setFromVector3(new three.Vector3(offset.x, offset.z, -offset.y));
    ball.theta += around;
    ball.phi = Math.min(Math.PI * 0.62, Math.max(0.02, ball.phi + over));
    const turned = new three.Vector3().setFromSpherical(ball);
    this.camera.position.copy(this.controls.target).add(new three.Vector3(turned.x, -turned.z, turned.y));
    this.controls.update();
    this.draw();
  }

  zoom(factor: number): void {
    this.way = null;
    const offset = this.camera.position.clone().sub(this.controls.target).multiplyScalar(factor);
    this.camera.position.copy(this.controls.target).add(offset);
    this.controls.update();
    this.draw();
  }

  draw(): void {
    if (this.wanted) return;
    this.wanted = true;
    requestAnimationFrame(() => {
      this.wanted = false;
      this.render();
    });
  }

  render(): void {
    this.renderer.render(this.scene, this.camera);
    this.labels.place(this.camera);
    const { axis } = this.section;
    this.grip.hidden = axis === "none";
    if (axis === "none") return;
    const [x, y] = this.onScreen(this.section.grip);
    this.grip.textContent = `${(this.section.at - this.section.origin(axis)).toFixed(1)} mm`;
    const left = Math.min(this.holder.clientWidth - 76, Math.max(4, x - 36));
    const top = Math.min(this.holder.clientHeight - 30, Math.max(4, y - 34));
    this.grip.style.transform = `translate(${left.toFixed(1)}px, ${top.toFixed(1)}px)`;
  }

  private onScreen(point: three.Vector3): [number, number] {
    const at = point.clone().project(this.camera);
    return [((at.x + 1) / 2) * this.holder.clientWidth, ((1 - at.y) / 2) * this.holder.clientHeight];
  }

  private resize(): void {
    const width = Math.max(1, this.holder.clientWidth);
    const height = Math.max(1, this.holder.clientHeight);
    this.renderer.setSize(width, height, false);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    if (this.way) this.look(this.way);
    this.draw();
  }

  private listen(): void {
    new ResizeObserver(() => this.resize()).observe(this.holder);
    let down: [number, number] | null = null;
    const canvas = this.renderer.domElement;
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
    const canvas = this.renderer.domElement.getBoundingClientRect();
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
