// The rolling stock of the view: bodies layer by layer, what is built in, wheels, couplings and the rails.
import * as three from "three";
import type { Layer, VehicleData } from "./data";
import type { Paints } from "./paints";
import { flats, merged, solidShape, walls } from "./solids";

interface LayerGroup {
  group: three.Group;
  faces: three.Mesh[];
  inner: three.Mesh[];
  low: number;
  vehicle: number;
  data: Layer;
  lifted: boolean;
}

const STUD = new three.CylinderGeometry(2.4, 2.4, 1.7, 14, 1, true).rotateX(Math.PI / 2);
const LIFT = 34;
const LIFT_STEP = 7;

export class Stock {
  // One for each vehicle, turned and placed as it stands in the train.
  readonly homes: three.Group[] = [];
  readonly bodies: three.Group[] = [];
  // What is built in, as shapes to be cut.
  readonly builtIn: three.BufferGeometry[][] = [];
  readonly track = new three.Group();
  readonly box = new three.Box3();
  readonly levels: number[];
  private readonly layers: LayerGroup[] = [];
  // Each vehicle's layers in one piece, shown as long as none of them is lifted: a tenth of the things to draw.
  private readonly wholes: three.Group[] = [];
  private readonly studs: three.Object3D[] = [];
  private studsOn = true;
  private isFar = false;
  private count = 0;
  private opened: (number | null)[] = [];
  private apart = 0;

  constructor(
    private readonly scene: three.Scene,
    private readonly paints: Paints,
    vehicles: VehicleData[],
  ) {
    this.levels = [...new Set(vehicles.flatMap((v) => v.layers.map((layer) => layer.low)))].sort((a, b) => a - b);
    vehicles.forEach((vehicle, place) => this.addVehicle(vehicle, place));
    this.scene.add(this.track);
    this.addRails(vehicles);
    this.lift();
  }

  // Lifts the uppermost layers off: 0 leaves all in place.
  liftLayers(count: number): void {
    this.count = count;
    this.lift();
  }

  // Opens vehicles from a height up, and draws layers apart by a share.
  open(levels: (number | null)[], apart: number): void {
    this.opened = levels;
    this.apart = apart;
    this.lift();
  }

  // Layers of a vehicle that are in their place.
  resting(vehicle: number): Layer[] {
    return this.layers.filter((layer) => layer.vehicle === vehicle && !layer.lifted && layer.group.position.z === 0).map((layer) => layer.data);
  }

  private lift(): void {
    this.studs.forEach((mesh) => (mesh.visible = this.hasStuds));
    this.wholes.forEach((whole, vehicle) => {
      whole.visible = this.count === 0 && (this.opened[vehicle] ?? null) === null && this.apart === 0;
      for (const layer of this.layers) if (layer.vehicle === vehicle) layer.group.visible = !whole.visible;
    });
    const general = this.count > 0 ? this.levels[Math.max(0, this.levels.length - this.count)] : Infinity;
    for (const layer of this.layers) {
      const level = Math.min(general, this.opened[layer.vehicle] ?? Infinity);
      layer.lifted = layer.low >= level - 1e-6;
      const rank = layer.lifted ? this.levels.filter((low) => low >= level && low < layer.low).length : 0;
      const spread = this.apart * 9 * this.levels.filter((low) => low < layer.low).length;
      layer.group.position.z = (layer.lifted ? LIFT + rank * LIFT_STEP : 0) + spread;
      layer.faces.forEach((mesh) => (mesh.visible = !layer.lifted));
      layer.group.traverse((entry) => {
        if (entry instanceof three.LineSegments) entry.material = layer.lifted ? this.paints.lifted : this.paints.edge;
        if (entry.userData.stud) entry.visible = !layer.lifted && this.hasStuds;
      });
      const next = this.levels.find((low) => low > layer.low + 1e-6);
      const under = (next !== undefined && Math.abs(next - level) < 1e-6) || this.apart > 0;
      layer.inner.forEach((mesh) => (mesh.visible = under && !layer.lifted));
    }
  }

  showStuds(on: boolean): void {
    this.studsOn = on;
    this.lift();
  }

  // From so far that a stud is a dot or two of the screen none is drawn.
  far(on: boolean): void {
    if (on === this.isFar) return;
    this.isFar = on;
    this.lift();
  }

  private get hasStuds(): boolean {
    return this.studsOn && !this.isFar;
  }

  private addVehicle(data: VehicleData, place: number): void {
    const home = new three.Group();
    if (data.turned) {
      home.rotation.z = Math.PI;
      home.position.set(data.shift + data.size[0], data.size[1] / 2, 0);
    } else {
      home.position.set(data.shift, -data.size[1] / 2, 0);
    }
    this.scene.add(home);
    this.homes.push(home);
    this.box.expandByPoint(new three.Vector3(data.shift, -data.size[1] / 2, 0));
    this.box.expandByPoint(new three.Vector3(data.shift + data.size[0], data.size[1] / 2, data.high));
    const bodies = new three.Group();
    home.add(bodies);
    this.bodies.push(bodies);
    for (const layer of data.layers) this.addLayer(bodies, layer, place);
    this.addWhole(bodies, data.layers);
    const own = data.builtIn.flatMap((solids) => solids.map(solidShape));
    this.builtIn.push(own);
    this.put(home, [...own, ...data.axles.flatMap((axle) => axleShapes(axle, data))], this.paints.dark);
    const shelves = data.shelves.map(([x0, y0, z0, x1, y1, z1]) =>
      solidShape({ kind: "box", low: [x0, y0, z0], high: [x1, y1, z1] }),
    );
    this.put(home, shelves, this.paints.shelf);
    const bars = data.couplings.map(([x, height, reach, way]) =>
      new three.BoxGeometry(reach + 8, 3, 3).translate(x + (way * (reach - 8)) / 2, data.size[1] / 2, height),
    );
    this.put(home, bars, this.paints.rail);
    home.updateMatrixWorld(true);
  }

  private put(home: three.Group, shapes: three.BufferGeometry[], paint: three.Material): void {
    if (shapes.length) home.add(new three.Mesh(merged(shapes), paint));
  }

  // All layers at rest: what they show on their outside, their edges and studs.
  private addWhole(bodies: three.Group, layers: Layer[]): void {
    const whole = new three.Group();
    const outer: Record<string, number[]> = {};
    const edges: number[] = [];
    const studs: number[] = [];
    for (const layer of layers) {
      for (const [kind, faces] of Object.entries(layer.bodies)) {
        const corners = (outer[kind] ??= []);
        flats(corners, faces.top, layer.high);
        flats(corners, faces.bottom, layer.low);
        walls(corners, faces.walls, layer.low, layer.high);
      }
      for (const value of layer.edges) edges.push(value);
      for (let i = 0; i < layer.studs.length; i += 2) studs.push(layer.studs[i], layer.studs[i + 1], layer.high);
    }
    for (const [kind, corners] of Object.entries(outer)) this.faceMesh(whole, corners, kind);
    this.addEdges(whole, edges);
    this.addStuds(whole, studs);
    bodies.add(whole);
    this.wholes.push(whole);
  }

  private addEdges(group: three.Group, edges: number[]): void {
    const lines = new three.BufferGeometry();
    lines.setAttribute("position", new three.Float32BufferAttribute(edges, 3));
    group.add(new three.LineSegments(lines, this.paints.edge));
  }

  // Studs at places x y z …, the tops of their layers.
  private addStuds(group: three.Group, places: number[]): void {
    if (!places.length) return;
    const studs = new three.InstancedMesh(STUD, this.paints.faces.fixed, places.length / 3);
    const matrix = new three.Matrix4();
    for (let i = 0; i < places.length; i += 3) {
      matrix.makeTranslation(places[i], places[i + 1], places[i + 2] + 0.85);
      studs.setMatrixAt(i / 3, matrix);
    }
    studs.userData.stud = true;
    group.add(studs);
    this.studs.push(studs);
  }

  private addLayer(bodies: three.Group, layer: Layer, vehicle: number): void {
    const group = new three.Group();
    const found: LayerGroup = { group, faces: [], inner: [], low: layer.low, vehicle, data: layer, lifted: false };
    for (const [kind, faces] of Object.entries(layer.bodies)) {
      const outer: number[] = [];
      flats(outer, faces.top, layer.high);
      flats(outer, faces.bottom, layer.low);
      walls(outer, faces.walls, layer.low, layer.high);
      found.faces.push(this.faceMesh(group, outer, kind));
      if (!faces.innerTop.length) continue;
      const inner: number[] = [];
      flats(inner, faces.innerTop, layer.high);
      const mesh = this.faceMesh(group, inner, kind);
      mesh.visible = false;
      found.inner.push(mesh);
    }
    this.addEdges(group, layer.edges);
    this.addStuds(group, layer.studs.flatMap((value, i) => (i % 2 ? [value, layer.high] : [value])));
    bodies.add(group);
    this.layers.push(found);
  }

  private faceMesh(group: three.Group, corners: number[], kind: string): three.Mesh {
    const shape = new three.BufferGeometry();
    shape.setAttribute("position", new three.Float32BufferAttribute(corners, 3));
    shape.computeVertexNormals();
    const mesh = new three.Mesh(shape, this.paints.faces[kind]);
    group.add(mesh);
    return mesh;
  }

  private addRails(vehicles: VehicleData[]): void {
    if (vehicles.every((vehicle) => vehicle.road)) return;
    const [from, to] = [this.box.min.x - 40, this.box.max.x + 40];
    const shapes = [-1, 1].map((side) => new three.BoxGeometry(to - from, 2.4, 3).translate((from + to) / 2, side * 19, -1.5));
    for (let x = from + 8; x < to; x += 24) shapes.push(new three.BoxGeometry(8, 64, 3).translate(x, 0, -4.5) as three.BoxGeometry);
    this.track.add(new three.Mesh(merged(shapes), this.paints.rail));
  }
}

function axleShapes(x: number, data: VehicleData): three.BufferGeometry[] {
  const middle = data.size[1] / 2;
  const shapes = [-1, 1].map((side) =>
    new three.CylinderGeometry(data.wheel, data.wheel, data.road ? 7 : 4, 28).translate(x, middle + side * (data.road ? middle - 3.5 : 19), data.wheel),
  );
  shapes.push(new three.CylinderGeometry(1.5, 1.5, 2 * 19, 8).translate(x, middle, data.wheel));
  return shapes;
}
