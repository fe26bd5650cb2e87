// The view of the train: builds the picture, moves it, and says what was picked. It knows no table.
import * as three from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import type { SceneData, VehicleData } from "./data";
import { flats, softened, solidShape, tube, walls } from "./solids";

export type CutAxis = "none" | "x" | "y" | "z";
export type Looks = "three-quarter" | "side" | "above" | "front";

interface LayerGroup {
  group: three.Group;
  faces: three.Mesh[];
  inner: three.Mesh[];
  low: number;
}
interface Picked {
  meshes: three.Mesh[];
  colour: three.Color;
  // What shines round the thing while it is chosen: made on first use.
  halo: () => three.Object3D;
  outline?: three.LineSegments;
  home: three.Group;
  out: three.Vector3[];
}

const LIFT = 34;
const LIFT_STEP = 7;

export class View {
  onPick: (key: string | null) => void = () => {};
  readonly levels: number[];
  private readonly renderer: three.WebGLRenderer;
  private readonly scene = new three.Scene();
  private readonly camera = new three.PerspectiveCamera(24, 1, 20, 12000);
  private readonly controls: OrbitControls;
  private readonly vehicles: three.Group[] = [];
  private readonly layers: LayerGroup[] = [];
  private readonly things = new Map<string, Picked>();
  private readonly wireGroup = new three.Group();
  private readonly bodyGroups: three.Group[] = [];
  private readonly studMeshes: three.Object3D[] = [];
  private readonly labels = new Map<string, { tag: HTMLElement; at: three.Vector3; home: three.Object3D }>();
  private readonly box = new three.Box3();
  private readonly plane = new three.Plane();
  private readonly faceMaterials: Record<string, three.MeshLambertMaterial> = {};
  private readonly edgeMaterial = new three.LineBasicMaterial({ transparent: true, opacity: 0.55 });
  private readonly liftedMaterial = new three.LineBasicMaterial({ transparent: true, opacity: 0.3 });
  private readonly outlineMaterial = new three.LineBasicMaterial({ transparent: true, opacity: 0.6 });
  private readonly darkMaterial = new three.MeshLambertMaterial();
  private readonly railMaterial = new three.MeshLambertMaterial();
  private readonly shelfMaterial = new three.MeshLambertMaterial({ transparent: true, opacity: 0.75 });
  private readonly chosenMaterial = new three.LineBasicMaterial({ depthTest: false, transparent: true });
  private readonly haloMaterial = new three.MeshBasicMaterial({ side: three.BackSide });
  private readonly wireHaloMaterial = new three.MeshBasicMaterial({ depthTest: false, transparent: true });
  private shine: three.Object3D | null = null;
  private chosen: string | null = null;
  private wanted = false;
  private stepsOut = 0;
  private wiresOn = true;

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
    for (const kind of ["fixed", "removable", "out"]) {
      this.faceMaterials[kind] = new three.MeshLambertMaterial({
        transparent: true, opacity: kind === "fixed" ? 0.16 : 0.3, depthWrite: false, side: three.DoubleSide,
      });
    }
    this.levels = [...new Set(data.vehicles.flatMap((v) => v.layers.map((layer) => layer.low)))].sort((a, b) => a - b);
    data.vehicles.forEach((vehicle) => this.addVehicle(vehicle));
    this.addRails();
    this.addParts();
    this.addWires();
    this.scene.add(this.wireGroup);
    this.theme();
    this.listen();
    this.resize();
    this.look("three-quarter");
  }

  // Colours follow the page's style variables.
  theme(): void {
    const style = getComputedStyle(this.holder);
    const read = (name: string) => new three.Color(style.getPropertyValue(`--${name}`).trim() || "#888");
    const dark = style.getPropertyValue("--dark").trim() === "1";
    this.faceMaterials.fixed.color = read("body");
    this.faceMaterials.removable.color = read("caution");
    this.faceMaterials.out.color = read("stop");
    this.faceMaterials.fixed.opacity = dark ? 0.12 : 0.2;
    this.edgeMaterial.color = read("body-edge");
    this.liftedMaterial.color = read("body-edge");
    this.outlineMaterial.color = read("ink");
    this.outlineMaterial.opacity = dark ? 0.35 : 0.55;
    this.darkMaterial.color = read("built");
    this.railMaterial.color = read("rail");
    this.shelfMaterial.color = read("new");
    this.chosenMaterial.color = read("ink");
    this.haloMaterial.color = read("shine");
    this.wireHaloMaterial.color = read("shine");
    this.draw();
  }

  look(way: Looks): void {
    const middle = this.box.getCenter(new three.Vector3());
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
  private distanceFor(along: three.Vector3, middle: three.Vector3): number {
    const right = new three.Vector3(0, 0, 1).cross(along).normalize();
    const up = along.clone().cross(right);
    const tangent = Math.tan(((this.camera.fov / 2) * Math.PI) / 180);
    let distance = 100;
    for (let corner = 0; corner < 8; corner++) {
      const point = new three.Vector3(
        corner & 1 ? this.box.max.x : this.box.min.x,
        corner & 2 ? this.box.max.y : this.box.min.y,
        corner & 4 ? this.box.max.z : this.box.min.z,
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
    const level = count > 0 ? this.levels[Math.max(0, this.levels.length - count)] : Infinity;
    for (const layer of this.layers) {
      const lifted = layer.low >= level - 1e-6;
      const rank = lifted ? this.levels.filter((low) => low >= level && low < layer.low).length : 0;
      layer.group.position.z = lifted ? LIFT + rank * LIFT_STEP : 0;
      layer.faces.forEach((mesh) => (mesh.visible = !lifted));
      layer.group.traverse((entry) => {
        if (entry instanceof three.LineSegments) entry.material = lifted ? this.liftedMaterial : this.edgeMaterial;
        if (entry.userData.stud) entry.visible = !lifted && this.studsOn;
      });
    }
    for (const layer of this.layers) {
      const next = this.levels.find((low) => low > layer.low + 1e-6);
      const under = next !== undefined && Math.abs(next - level) < 1e-6;
      layer.inner.forEach((mesh) => (mesh.visible = under && layer.low < level));
    }
    this.draw();
  }

  cut(axis: CutAxis, share: number): void {
    if (axis === "none") {
      this.renderer.clippingPlanes = [];
    } else {
      const at = this.box.min[axis] + (this.box.max[axis] - this.box.min[axis]) * share;
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
      const thing = this.things.get(step.key);
      if (!thing) return;
      const share = Math.min(1, Math.max(0, steps - (count - 1 - place)));
      thing.home.position.set(0, 0, 0);
      let left = share * thing.out.length;
      for (const move of thing.out) {
        thing.home.position.addScaledVector(move, Math.min(1, Math.max(0, left)));
        left -= 1;
      }
    });
    this.wireGroup.visible = this.wiresOn && steps === 0;
    this.draw();
  }

  show(what: "bodies" | "parts" | "wires" | "studs" | "labels", on: boolean): void {
    if (what === "bodies") this.bodyGroups.forEach((group) => (group.visible = on));
    if (what === "parts") this.data.parts.forEach((part) => (this.things.get(part.key)!.home.visible = on));
    if (what === "wires") {
      this.wiresOn = on;
      this.wireGroup.visible = on && this.stepsOut === 0;
    }
    if (what === "studs") {
      this.studsOn = on;
      this.studMeshes.forEach((mesh) => (mesh.visible = on));
    }
    if (what === "labels") this.holder.classList.toggle("no-labels", !on);
    this.draw();
  }
  private studsOn = true;

  select(key: string | null, approach = true): void {
    const before = this.chosen ? this.things.get(this.chosen) : undefined;
    before?.meshes.forEach((mesh) => {
      const material = mesh.material as three.MeshLambertMaterial;
      material.emissive.set(0);
      material.depthTest = true;
      mesh.renderOrder = 0;
    });
    this.shine?.removeFromParent();
    this.shine = null;
    if (before?.outline) before.outline.material = this.outlineMaterial;
    this.chosen = key !== null && this.things.has(key) ? key : null;
    const thing = this.chosen ? this.things.get(this.chosen) : undefined;
    thing?.meshes.forEach((mesh) => {
      const material = mesh.material as three.MeshLambertMaterial;
      material.emissive.copy(thing.colour).multiplyScalar(0.35);
      material.depthTest = thing.outline !== undefined;
      mesh.renderOrder = 5;
    });
    if (thing?.outline) thing.outline.material = this.chosenMaterial;
    if (thing) {
      this.shine = thing.halo();
      thing.home.add(this.shine);
    }
    this.labels.forEach((label, name) => label.tag.classList.toggle("chosen", name === this.chosen));
    if (thing && approach) {
      const middle = new three.Box3();
      thing.meshes.forEach((mesh) => middle.expandByObject(mesh));
      const shift = middle.getCenter(new three.Vector3()).sub(this.controls.target);
      this.controls.target.add(shift);
      this.camera.position.add(shift);
      this.controls.update();
    }
    this.draw();
  }

  turn(around: number, over: number): void {
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
    this.placeLabels();
  }

  private resize(): void {
    const width = Math.max(1, this.holder.clientWidth);
    const height = Math.max(1, this.holder.clientHeight);
    this.renderer.setSize(width, height, false);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  private listen(): void {
    new ResizeObserver(() => this.resize()).observe(this.holder);
    let down: [number, number] | null = null;
    const canvas = this.renderer.domElement;
    canvas.addEventListener("pointerdown", (event) => (down = [event.clientX, event.clientY]));
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
      .intersectObjects([...this.things.values()].flatMap((thing) => (shown(thing.home) ? thing.meshes : [])), false)
      .filter((hit) => cut.every((plane) => plane.distanceToPoint(hit.point) >= 0));
    this.onPick(seen.length ? (seen[0].object.userData.key as string) : null);
  }

  private addVehicle(data: VehicleData): void {
    const home = new three.Group();
    if (data.turned) {
      home.rotation.z = Math.PI;
      home.position.set(data.shift + data.size[0], data.size[1] / 2, 0);
    } else {
      home.position.set(data.shift, -data.size[1] / 2, 0);
    }
    this.scene.add(home);
    this.vehicles.push(home);
    this.box.expandByPoint(new three.Vector3(data.shift, -data.size[1] / 2, 0));
    this.box.expandByPoint(new three.Vector3(data.shift + data.size[0], data.size[1] / 2, data.high));
    const bodies = new three.Group();
    home.add(bodies);
    this.bodyGroups.push(bodies);
    for (const layer of data.layers) this.addLayer(bodies, layer);
    for (const solids of data.builtIn) {
      for (const solid of solids) home.add(new three.Mesh(solidShape(solid), this.darkMaterial));
    }
    for (const [x0, y0, z0, x1, y1, z1] of data.shelves) {
      const shelf = solidShape({ kind: "box", low: [x0, y0, z0], high: [x1, y1, z1] });
      home.add(new three.Mesh(shelf, this.shelfMaterial));
    }
    for (const axle of data.axles) this.addAxle(home, axle, data);
    for (const [x, height, reach, way] of data.couplings) {
      const bar = new three.BoxGeometry(reach + 8, 3, 3);
      bar.translate(x + (way * (reach - 8)) / 2, data.size[1] / 2, height);
      home.add(new three.Mesh(bar, this.railMaterial));
    }
    home.updateMatrixWorld(true);
  }

  private addLayer(bodies: three.Group, layer: VehicleData["layers"][number]): void {
    const group = new three.Group();
    const found: LayerGroup = { group, faces: [], inner: [], low: layer.low };
    for (const [kind, faces] of Object.entries(layer.bodies)) {
      const outer: number[] = [];
      flats(outer, faces.top, layer.high);
      flats(outer, faces.bottom, layer.low);
      walls(outer, faces.walls, layer.low, layer.high);
      found.faces.push(this.faceMesh(group, outer, kind));
      const inner: number[] = [];
      flats(inner, faces.innerTop, layer.high);
      const mesh = this.faceMesh(group, inner, kind);
      mesh.visible = false;
      found.inner.push(mesh);
    }
    const lines = new three.BufferGeometry();
    lines.setAttribute("position", new three.Float32BufferAttribute(layer.edges, 3));
    group.add(new three.LineSegments(lines, this.edgeMaterial));
    if (layer.studs.length) {
      const ring = new three.CylinderGeometry(2.4, 2.4, 1.7, 14, 1, true).rotateX(Math.PI / 2);
      const studs = new three.InstancedMesh(ring, this.faceMaterials.fixed, layer.studs.length / 2);
      const matrix = new three.Matrix4();
      for (let i = 0; i < layer.studs.length; i += 2) {
        matrix.makeTranslation(layer.studs[i], layer.studs[i + 1], layer.high + 0.85);
        studs.setMatrixAt(i / 2, matrix);
      }
      studs.userData.stud = true;
      group.add(studs);
      this.studMeshes.push(studs);
    }
    bodies.add(group);
    this.layers.push(found);
  }

  private faceMesh(group: three.Group, corners: number[], kind: string): three.Mesh {
    const shape = new three.BufferGeometry();
    shape.setAttribute("position", new three.Float32BufferAttribute(corners, 3));
    shape.computeVertexNormals();
    const mesh = new three.Mesh(shape, this.faceMaterials[kind]);
    group.add(mesh);
    return mesh;
  }

  private addAxle(home: three.Group, x: number, data: VehicleData): void {
    const middle = data.size[1] / 2;
    for (const side of [-1, 1]) {
      const wheel = new three.CylinderGeometry(data.wheel, data.wheel, data.road ? 7 : 4, 28);
      wheel.translate(x, middle + side * (data.road ? middle - 3.5 : 19), data.wheel);
      home.add(new three.Mesh(wheel, this.darkMaterial));
    }
    const axle = new three.CylinderGeometry(1.5, 1.5, 2 * 19, 8).translate(x, middle, data.wheel);
    home.add(new three.Mesh(axle, this.darkMaterial));
  }

  private addRails(): void {
    if (this.data.vehicles.every((vehicle) => vehicle.road)) return;
    const [from, to] = [this.box.min.x - 40, this.box.max.x + 40];
    for (const side of [-1, 1]) {
      const rail = new three.BoxGeometry(to - from, 2.4, 3).translate((from + to) / 2, side * 19, -1.5);
      this.scene.add(new three.Mesh(rail, this.railMaterial));
    }
    for (let x = from + 8; x < to; x += 24) {
      const sleeper = new three.BoxGeometry(8, 64, 3).translate(x, 0, -4.5);
      const mesh = new three.Mesh(sleeper, this.railMaterial);
      this.scene.add(mesh);
    }
  }

  private addParts(): void {
    const moves = new Map(this.data.steps.map((step) => [step.key, step.moves]));
    for (const part of this.data.parts) {
      const home = new three.Group();
      this.vehicles[part.vehicle].add(home);
      const colour = new three.Color(part.colour);
      const material = new three.MeshLambertMaterial({ color: colour });
      const edges: number[] = [];
      const meshes = part.solids.map((solid) => {
        const shape = solidShape(solid);
        edges.push(...new three.EdgesGeometry(shape, 30).getAttribute("position").array);
        const mesh = new three.Mesh(shape, material);
        mesh.userData.key = part.key;
        home.add(mesh);
        return mesh;
      });
      const lines = new three.BufferGeometry();
      lines.setAttribute("position", new three.Float32BufferAttribute(edges, 3));
      const outline = new three.LineSegments(lines, this.outlineMaterial);
      home.add(outline);
      for (const pin of part.pins) {
        const dot = new three.SphereGeometry(0.55, 8, 6).translate(...pin);
        home.add(new three.Mesh(dot, this.railMaterial));
      }
      const out = [...(moves.get(part.key) ?? [])].reverse().map((move) => new three.Vector3(...move).negate());
      this.things.set(part.key, { meshes, colour, outline, home, out, halo: () => this.swollen(meshes, 1.6) });
      const bounds = new three.Box3();
      meshes.forEach((mesh) => {
        mesh.geometry.computeBoundingBox();
        bounds.union(mesh.geometry.boundingBox!);
      });
      const at = bounds.getCenter(new three.Vector3()).setZ(bounds.max.z);
      this.addLabel(part.key, at, home);
    }
  }

  private addWires(): void {
    for (const wire of this.data.wires) {
      const home = new three.Group();
      const colour = new three.Color(wire.colour);
      const material = new three.MeshLambertMaterial({ color: colour });
      const meshes: three.Mesh[] = [];
      const halo = new three.Group();
      const add = (points: three.Vector3[], matrix?: three.Matrix4) => {
        const shape = tube(points, wire.radius);
        const wide = tube(points, wire.radius * 2.4 + 0.6);
        if (matrix) wide.applyMatrix4(matrix);
        const shine = new three.Mesh(wide, this.wireHaloMaterial);
        shine.renderOrder = 4;
        halo.add(shine);
        if (matrix) shape.applyMatrix4(matrix);
        const mesh = new three.Mesh(shape, material);
        mesh.userData.key = wire.key;
        meshes.push(mesh);
        home.add(mesh);
      };
      for (const leg of wire.legs) add(softened(leg.points, 3), this.vehicles[leg.vehicle].matrixWorld);
      for (const joint of wire.joints) add(joint.map((point) => new three.Vector3(...point)));
      this.wireGroup.add(home);
      this.things.set(wire.key, { meshes, colour, home, out: [], halo: () => halo });
    }
    for (const splice of this.data.splices) {
      const dot = new three.SphereGeometry(1.9, 14, 10).translate(...splice.at);
      dot.applyMatrix4(this.vehicles[splice.vehicle].matrixWorld);
      const colour = new three.Color("#3a4145");
      const mesh = new three.Mesh(dot, new three.MeshLambertMaterial({ color: colour }));
      mesh.userData.key = splice.key;
      this.wireGroup.add(mesh);
      const home = this.wireGroup;
      this.things.set(splice.key, { meshes: [mesh], colour, home, out: [], halo: () => this.swollen([mesh], 1.6) });
    }
  }

  // The same shapes, a little larger in every direction and seen from inside: a rim round them.
  private swollen(meshes: three.Mesh[], by: number): three.Object3D {
    const group = new three.Group();
    for (const mesh of meshes) {
      const shape = mesh.geometry.clone();
      shape.computeBoundingBox();
      const middle = shape.boundingBox!.getCenter(new three.Vector3());
      const size = shape.boundingBox!.getSize(new three.Vector3());
      shape.translate(-middle.x, -middle.y, -middle.z);
      shape.scale((size.x + 2 * by) / size.x, (size.y + 2 * by) / size.y, (size.z + 2 * by) / size.z);
      shape.translate(middle.x, middle.y, middle.z);
      group.add(new three.Mesh(shape, this.haloMaterial));
    }
    return group;
  }

  private addLabel(key: string, at: three.Vector3, home: three.Object3D): void {
    const tag = document.createElement("span");
    tag.className = "tag";
    tag.textContent = this.nameOf(key);
    tag.setAttribute("aria-hidden", "true");
    this.holder.append(tag);
    this.labels.set(key, { tag, at, home });
  }

  private placeLabels(): void {
    const width = this.holder.clientWidth;
    const height = this.holder.clientHeight;
    const taken: [number, number, number][] = [];
    const order = [...this.labels].sort(([a], [b]) => Number(b === this.chosen) - Number(a === this.chosen));
    for (const [, label] of order) {
      const point = label.home.localToWorld(label.at.clone()).project(this.camera);
      const hidden = point.z > 1 || Math.abs(point.x) > 1 || Math.abs(point.y) > 1 || !shown(label.home);
      label.tag.hidden = hidden;
      if (hidden) continue;
      const x = ((point.x + 1) / 2) * width;
      let y = ((1 - point.y) / 2) * height - 14;
      const half = label.tag.offsetWidth / 2;
      // labels that would lie on one another go up
      for (let tries = 0; tries < 8; tries++) {
        const clash = taken.find(([tx, ty, th]) => Math.abs(tx - x) < th + half + 4 && Math.abs(ty - y) < 19);
        if (!clash) break;
        y = clash[1] - 20;
      }
      taken.push([x, y, half]);
      const kept = Math.min(width - half - 2, Math.max(half + 2, x));
      label.tag.style.transform = `translate(-50%, -100%) translate(${kept.toFixed(1)}px, ${y.toFixed(1)}px)`;
      const foot = ((1 - point.y) / 2) * height;
      label.tag.style.setProperty("--stem", `${Math.max(0, foot - y).toFixed(1)}px`);
    }
  }
}

function shown(entry: three.Object3D | null): boolean {
  for (; entry; entry = entry.parent) if (!entry.visible) return false;
  return true;
}
