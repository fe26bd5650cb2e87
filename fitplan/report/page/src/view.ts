// The view of the train: builds the picture, changes what is shown of it, and marks what is chosen. It knows no table.
import * as three from "three";
import type { SceneData, Spot } from "./data";
import { Dimensions } from "./dimensions";
import { Gaze, type Looks } from "./gaze";
import { Labels } from "./labels";
import { Paints } from "./paints";
import { Pointing } from "./pointing";
import { type CutAxis, Section } from "./section";
import { Sequence } from "./sequence";
import { Stock } from "./stock";
import { Things } from "./things";

// Round a chosen part or place so much of the train is shown with it (mm).
const AROUND = 30;
const STUD_MM = 4.8;
// Studs smaller than this are left out (px).
const FAR = 2.5;

export class View {
  private readonly renderer: three.WebGLRenderer;
  private readonly scene = new three.Scene();
  private readonly gaze: Gaze;
  private readonly paints = new Paints();
  private readonly stock: Stock;
  private readonly things: Things;
  private readonly labels: Labels;
  readonly section: Section;
  readonly sequence: Sequence;
  readonly pointing: Pointing;
  private readonly dimensions: Dimensions;
  private readonly shines: three.Object3D[] = [];
  private chosen: string[] = [];
  private wanted = false;
  private dimensionsOn = false;
  private vehicle: number | null = null;
  private boxed: three.Box3 | null = null;

  constructor(
    private readonly holder: HTMLElement,
    private readonly data: SceneData,
    private readonly nameOf: (key: string) => string,
  ) {
    this.renderer = new three.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    const canvas = this.renderer.domElement;
    holder.prepend(canvas);
    this.scene.add(new three.HemisphereLight(0xffffff, 0xb8b2a4, 2.1));
    const sun = new three.DirectionalLight(0xffffff, 1.5);
    sun.position.set(-300, -500, 800);
    this.scene.add(sun);
    this.labels = new Labels(holder);
    this.stock = new Stock(this.scene, this.paints, data.vehicles);
    this.things = new Things(this.scene, this.paints, this.stock, data, this.labels, nameOf);
    this.section = new Section(this.scene, this.paints, this.stock, this.things);
    this.section.seen = () => this.seenBox();
    this.sequence = new Sequence(data.steps, this.stock, this.things);
    this.dimensions = new Dimensions(this.scene, this.paints, this.stock, this.labels, data.vehicles);
    this.labels.kept = (box) => this.section.kept(box);
    this.gaze = new Gaze(canvas, () => this.section.kept(this.seenBox()) ?? this.seenBox(), () => this.draw());
    const { camera } = this.gaze;
    this.pointing = new Pointing(holder, canvas, camera, this.scene, this.things, this.section, this.dimensions, nameOf, (on) => this.hold(on), () => this.draw());
    this.hold(false);
    this.addGhosts();
    this.theme();
    new ResizeObserver(() => this.resize()).observe(holder);
    this.resize();
    this.look("three-quarter");
  }

  hold(on: boolean): void {
    this.gaze.hold(on);
    this.holder.classList.toggle("held", on);
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
    this.gaze.look(way);
  }

  turn(around: number, over: number): void {
    this.gaze.turn(around, over);
  }

  zoom(factor: number): void {
    this.gaze.zoom(factor);
  }

  // All that stands in the train, or the one vehicle that is shown, and what juts out of it.
  private seenBox(): three.Box3 {
    if (this.boxed) return this.boxed;
    const box = this.stock.box.clone();
    if (this.vehicle !== null) {
      const { min, max } = this.vehicleBox(this.vehicle);
      box.min.x = min.x;
      box.max.x = max.x;
    }
    for (const ghost of this.data.ghosts) {
      if (this.vehicle === null || this.vehicle === ghost.vehicle) box.expandByObject(this.things.all.get(ghost.key)!.home);
    }
    this.boxed = box;
    return box;
  }

  private vehicleBox(place: number): three.Box3 {
    const { shift, size } = this.data.vehicles[place];
    const box = this.stock.box.clone();
    box.min.x = shift;
    box.max.x = shift + size[0];
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
    this.look(this.gaze.way ?? "three-quarter");
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

  // Chooses things: a part, a wire with all that is one line with it, all wires of a net, which are then seen
  // whole while the rest is faint; or a vehicle, or a spot in one.
  select(keys: string[], approach = true, spot: Spot | null = null): void {
    this.chosen.forEach((key) => this.mark(key, false));
    this.chosen = keys.filter((key) => this.things.all.has(key));
    const wires = this.chosen.filter((key) => key.startsWith("wire-"));
    this.things.dim(wires.length ? new Set(this.chosen) : null);
    this.labels.choose(this.chosen[0] ?? null);
    this.labels.drop("end:");
    for (const key of wires) {
      const said = this.nameOf(key).replace(/^wire /, "").split(",")[0];
      this.things.all.get(key)!.ends.forEach((end, side) => this.labels.add(`end:${key}:${side}`, said, end, this.scene, "end"));
    }
    this.dimensions.spot(spot);
    const box = this.boundsOf(keys, spot);
    if (approach && !box.isEmpty()) this.gaze.approach(box);
    this.refresh();
  }

  private boundsOf(keys: string[], spot: Spot | null): three.Box3 {
    const box = new three.Box3();
    for (const key of this.chosen) this.things.all.get(key)!.meshes.forEach((mesh) => box.expandByObject(mesh));
    if (spot) box.expandByPoint(this.stock.homes[spot[0]].localToWorld(new three.Vector3(spot[1], spot[2], spot[3])));
    if (!box.isEmpty() && !this.chosen.some((key) => key.startsWith("wire-"))) box.expandByScalar(AROUND);
    for (const key of keys) if (key.startsWith("vehicle-")) box.union(this.vehicleBox(Number(key.slice(8))));
    return box;
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

  // What is chosen is seen through everything; a wire keeps its own colour, drawn over its rim.
  private mark(key: string, on: boolean): void {
    const thing = this.things.all.get(key);
    if (!thing || key.startsWith("ghost-")) return;
    const wire = key.startsWith("wire-");
    for (const mesh of thing.meshes) {
      const material = mesh.material as three.MeshLambertMaterial;
      if (on && !wire) material.emissive.copy(thing.colour).multiplyScalar(0.35);
      else material.emissive.set(0);
      if (wire) material.transparent = on || material.opacity < 1;
      material.depthTest = on ? thing.outline !== undefined : true;
      mesh.renderOrder = on ? 5 : 0;
    }
    if (thing.outline) thing.outline.material = on ? this.paints.chosenOutline : this.paints.outline;
  }

  private addGhosts(): void {
    for (const ghost of this.data.ghosts) {
      const { home, meshes } = this.dimensions.ghost(ghost);
      const rim = () => new three.Group();
      const colour = new three.Color("#a5301c");
      const capPaint = this.paints.ghost;
      this.things.all.set(ghost.key, { meshes, colour, home, out: [], rim, vehicle: ghost.vehicle, shapes: [], ends: [], capPaint });
      const top = new three.Vector3(...ghost.taken.slice(3)).add(new three.Vector3(...ghost.taken.slice(0, 3))).multiplyScalar(0.5);
      this.labels.add(ghost.key, this.nameOf(ghost.key), top, home, "short");
    }
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
    this.stock.far(this.gaze.pixelsPerMm * STUD_MM < FAR);
    this.renderer.render(this.scene, this.gaze.camera);
    this.pointing.placeGrip();
    this.labels.place(this.gaze.camera, this.pointing.taken);
  }

  private resize(): void {
    const width = Math.max(1, this.holder.clientWidth);
    const height = Math.max(1, this.holder.clientHeight);
    this.renderer.setSize(width, height, false);
    this.gaze.resize(width, height);
    this.draw();
  }
}
