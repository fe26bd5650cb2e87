// Dimension lines in the view: of what is chosen, of a vehicle, of what is short, and between two points.
import * as three from "three";
import type { GhostData, Spot, VehicleData } from "./data";
import type { Labels } from "./labels";
import type { Paints } from "./paints";
import { solidShape } from "./solids";
import type { Stock } from "./stock";

const words = ["long", "wide", "high"];

export class Dimensions {
  private readonly drawn = new Map<string, three.Object3D[]>();

  constructor(
    private readonly scene: three.Scene,
    private readonly paints: Paints,
    private readonly stock: Stock,
    private readonly labels: Labels,
    private readonly vehicles: VehicleData[],
  ) {}

  clear(name: string): void {
    this.drawn.get(name)?.forEach((entry) => entry.removeFromParent());
    this.drawn.delete(name);
    this.labels.drop(`${name}:`);
  }

  // A line from one place to another with short ends across it, and its length beside it.
  line(name: string, home: three.Object3D, from: three.Vector3, to: three.Vector3, text: string, kind = "dim"): void {
    const along = to.clone().sub(from).normalize();
    const across = Math.abs(along.z) > 0.9 ? new three.Vector3(0, 1.6, 0) : new three.Vector3(0, 0, 1.6);
    const points = [from, to];
    for (const end of [from, to]) points.push(end.clone().sub(across), end.clone().add(across));
    const lines = new three.LineSegments(new three.BufferGeometry().setFromPoints(points), this.paints.dimension);
    lines.renderOrder = 8;
    home.add(lines);
    const found = this.drawn.get(name) ?? [];
    found.push(lines);
    this.drawn.set(name, found);
    this.labels.add(`${name}:${found.length}`, text, from.clone().add(to).multiplyScalar(0.5), home, kind);
  }

  // The size of a box along each axis, and how far it is from the rear, the right side and the rail.
  box(name: string, vehicle: number, box: three.Box3, places: boolean): void {
    const home = this.stock.homes[vehicle];
    const { min, max } = box;
    const put = (a: number[], b: number[], text: string) =>
      this.line(name, home, new three.Vector3(...a), new three.Vector3(...b), text);
    const size = max.clone().sub(min);
    put([min.x, min.y - 2, max.z + 2], [max.x, min.y - 2, max.z + 2], `${mm(size.x)} long`);
    put([max.x + 2, min.y, max.z + 2], [max.x + 2, max.y, max.z + 2], `${mm(size.y)} wide`);
    put([max.x + 2, min.y - 2, min.z], [max.x + 2, min.y - 2, max.z], `${mm(size.z)} high`);
    if (!places) return;
    const middle = box.getCenter(new three.Vector3());
    if (min.x > 0.05) put([0, middle.y, min.z], [min.x, middle.y, min.z], `${mm(min.x)} from the rear`);
    if (min.y > 0.05) put([middle.x, 0, min.z], [middle.x, min.y, min.z], `${mm(min.y)} from the right`);
    put([min.x, middle.y, 0], [min.x, middle.y, min.z], `${mm(min.z)} above the rail`);
  }

  vehicle(name: string, place: number): void {
    const data = this.vehicles[place];
    const box = new three.Box3(
      new three.Vector3(0, 0, data.low),
      new three.Vector3(data.size[0], data.size[1], data.high),
    );
    this.box(name, place, box, false);
  }

  // Three short lines that cross at a spot; null: none.
  spot(at: Spot | null): void {
    this.clear("spot");
    if (!at) return;
    const middle = new three.Vector3(at[1], at[2], at[3]);
    const points = [0, 1, 2].flatMap((axis) => [-9, 9].map((by) => middle.clone().setComponent(axis, middle.getComponent(axis) + by)));
    const lines = new three.LineSegments(new three.BufferGeometry().setFromPoints(points), this.paints.spot);
    lines.renderOrder = 9;
    this.stock.homes[at[0]].add(lines);
    this.drawn.set("spot", [lines]);
  }

  // A part without a place where it comes closest: red, in the room for it in green, with what is short.
  ghost(data: GhostData): { home: three.Group; meshes: three.Mesh[] } {
    const home = new three.Group();
    this.stock.homes[data.vehicle].add(home);
    const meshes = data.solids.map((solid) => {
      const shape = solidShape(solid);
      const mesh = new three.Mesh(shape, this.paints.ghost);
      mesh.userData.key = data.key;
      home.add(mesh, new three.LineSegments(new three.EdgesGeometry(shape, 30), this.paints.ghostEdge));
      return mesh;
    });
    const room = boxOf(data.room);
    const shape = solidShape({ kind: "box", low: [room.min.x, room.min.y, room.min.z], high: [room.max.x, room.max.y, room.max.z] });
    const edges = new three.LineSegments(new three.EdgesGeometry(shape), this.paints.room);
    edges.renderOrder = 7;
    home.add(edges);
    const taken = boxOf(data.taken);
    data.short.forEach((short, axis) => {
      if (!short) return;
      const from = taken.max.clone();
      const to = taken.max.clone();
      // where the part juts out of the room: above it, or on the side
      from.setComponent(axis, Math.max(room.max.getComponent(axis), taken.min.getComponent(axis)));
      if (axis === 1) [from.y, to.y] = [taken.min.y, taken.max.y];
      if (axis === 0) [from.x, to.x] = [taken.min.x, taken.max.x];
      const size = taken.max.getComponent(axis) - taken.min.getComponent(axis);
      const there = room.max.getComponent(axis) - room.min.getComponent(axis);
      const text = `${short.toFixed(1)} mm too ${words[axis]}: takes ${size.toFixed(1)}, clear ${there.toFixed(1)}`;
      this.line(data.key, home, from, to, text, "short");
    });
    return { home, meshes };
  }

  // Between two points, with what it is along each axis.
  between(one: three.Vector3, two: three.Vector3): string {
    const apart = two.clone().sub(one);
    const parts = [apart.x, apart.y, apart.z].map((value, axis) => `${Math.abs(value).toFixed(1)} ${words[axis]}`);
    this.clear("measure");
    this.line("measure", this.scene, one, two, mm(apart.length()));
    return `${mm(apart.length())}: ${parts.join(", ")}`;
  }
}

function boxOf(numbers: number[]): three.Box3 {
  return new three.Box3(new three.Vector3(...numbers.slice(0, 3)), new three.Vector3(...numbers.slice(3)));
}

const mm = (value: number) => `${value.toFixed(1)} mm`;
