// The view of the train: builds the picture, moves it, and says what was picked. It knows no table.
import * as three from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import type { SceneData } from "./data";
import { Labels, shown } from "./labels";
import { Paints } from "./paints";
import { Stock } from "./stock";
import { Things } from "./things";

export type CutAxis = "none" | "x" | "y" | "z";
export type Looks = "three-quarter" | "side" | "above" | "front";

export class View {
  onPick: (key: string | null) => void = () => {};
  private readonly renderer: three.WebGLRenderer;
  private readonly scene = new three.Scene();
  private readonly camera = new three.PerspectiveCamera(24, 1, 20, 12000);
  private readonly controls: OrbitControls;
  private readonly paints = new Paints();
  private readonly stock: Stock;
  private readonly things: Things;
  private readonly labels: Labels;
  private readonly plane = new three.Plane();
  private readonly shines: three.Object3D[] = [];
  private chosen: string[] = [];
  private wanted = false;
  private stepsOut = 0;
  private wiresOn = true;
  // The look that was asked for, as long as nobody has turned the picture since.
  private way: Looks | null = null;

  constructor(
    private readonly holder: HTMLElement,
    private readonly data: SceneData,
    nameOf: (key: string) => string,
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
    const middle = this.stock.box.getCenter(new three.Vector3());
    const directions: Record<Looks, three.Vector3> = {
      "three-quarter": new three.Vector3(0.42, -1, 0.56),
      side: new three.Vector3(0, -1, 0.02),
      above: new three.Vector3(0, -0.02, 1),
      front: new three.Vector3(1, -0.12, 0.22),
    };
    const along = directions[way].clone().normalize();
    const distance = this.distanceFor(along, middle);
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

  // Lifts the uppermost layers off: 0 leaves all in place.
  liftLayers(count: number): void {
    this.stock.liftLayers(count);
    this.draw();
  }

  cut(axis: CutAxis, share: number): void {
    if (axis === "none") {
      this.renderer.clippingPlanes = [];
    } else {
      const at = this.stock.box.min[axis] + (this.stock.box.max[axis] - this.stock.box.min[axis]) * share;
      const normal = new three.Vector3();
      normal[axis] = axis === "y" ? 1 : -1;
      this.plane.set(normal, axis === "y" ? -at : at);
      this.renderer.clippingPlanes = [this.plane];
    }
    this.draw();
  }

  // Takes parts out again, the last one first; shares of a step are allowed.
  takeApart(steps: number): void {
    this.stepsOut = steps;
    const count = this.data.steps.length;
    this.data.steps.forEach((step, place) => {
      const share = Math.min(1, Math.max(0, steps - (count - 1 - place)));
      for (const key of step.keys) {
        const thing = this.things.all.get(key);
        if (!thing) continue;
        thing.home.position.set(0, 0, 0);
        let left = share * thing.out.length;
        for (const move of thing.out) {
          thing.home.position.addScaledVector(move, Math.min(1, Math.max(0, left)));
          left -= 1;
        }
      }
    });
    this.things.wires.visible = this.wiresOn && steps === 0;
    this.draw();
  }

  show(what: "bodies" | "parts" | "wires" | "studs" | "labels", on: boolean): void {
    if (what === "bodies") this.stock.bodies.forEach((group) => (group.visible = on));
    if (what === "parts") this.data.parts.forEach((part) => (this.things.all.get(part.key)!.home.visible = on));
    if (what === "wires") {
      this.wiresOn = on;
      this.things.wires.visible = on && this.stepsOut === 0;
    }
    if (what === "studs") this.stock.showStuds(on);
    if (what === "labels") this.holder.classList.toggle("no-labels", !on);
    this.draw();
  }

  // Chooses things: a part, or a wire or all wires of a net, which is then seen whole while the rest is faint.
  select(keys: string[], approach = true): void {
    for (const key of this.chosen) this.mark(key, false);
    this.shines.splice(0).forEach((shine) => shine.removeFromParent());
    this.chosen = keys.filter((key) => this.things.all.has(key));
    const wires = this.chosen.some((key) => key.startsWith("wire-"));
    this.things.dim(wires ? new Set(this.chosen) : null);
    for (const key of this.chosen) this.mark(key, true);
    this.labels.choose(this.chosen[0] ?? null);
    if (this.chosen.length && approach) this.approach(wires);
    this.draw();
  }

  private mark(key: string, on: boolean): void {
    const thing = this.things.all.get(key);
    if (!thing) return;
    for (const mesh of thing.meshes) {
      const material = mesh.material as three.MeshLambertMaterial;
      if (on) material.emissive.copy(thing.colour).multiplyScalar(0.35);
      else material.emissive.set(0);
      material.depthTest = on ? thing.outline !== undefined : true;
      mesh.renderOrder = on ? 5 : 0;
    }
    if (thing.outline) thing.outline.material = on ? this.paints.chosenOutline : this.paints.outline;
    if (on) {
      const shine = thing.rim();
      thing.home.add(shine);
      this.shines.push(shine);
    }
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
      if (down && Math.hypot(event.clientX - down[0], event.clientY - down[1]) < 5) this.pick(event);
      down = null;
    });
  }

  private pick(event: PointerEvent): void {
    const canvas = this.renderer.domElement.getBoundingClientRect();
    const at = new three.Vector2(
      ((event.clientX - canvas.left) / canvas.width) * 2 - 1,
      1 - ((event.clientY - canvas.top) / canvas.height) * 2,
    );
    const ray = new three.Raycaster();
    ray.setFromCamera(at, this.camera);
    const cut = this.renderer.clippingPlanes;
    const seen = ray
      .intersectObjects([...this.things.all.values()].flatMap((thing) => (shown(thing.home) ? thing.meshes : [])), false)
      .filter((hit) => cut.every((plane) => plane.distanceToPoint(hit.point) >= 0));
    this.onPick(seen.length ? (seen[0].object.userData.key as string) : null);
  }
}
