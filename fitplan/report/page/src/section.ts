// A plane through the train: what lies before it is taken away, and what it cuts is closed with a face.
import * as three from "three";
import type { BodyFaces, Layer } from "./data";
import type { Paints } from "./paints";
import { fan, flats, slice } from "./solids";
import type { Stock } from "./stock";
import type { Things } from "./things";

export type CutAxis = "none" | "x" | "y" | "z";
// The faces stand this far behind the plane, so that it does not take them away as well.
const BEHIND = 0.2;

export class Section {
  axis: CutAxis = "none";
  at = 0;
  readonly plane = new three.Plane();
  private readonly caps: three.Object3D[] = [];
  private readonly frame = new three.LineLoop(new three.BufferGeometry());

  constructor(
    scene: three.Scene,
    private readonly paints: Paints,
    private readonly stock: Stock,
    private readonly things: Things,
  ) {
    this.frame.material = paints.frame;
    this.frame.visible = false;
    scene.add(this.frame);
  }

  // The vehicle that is shown alone limits the plane, too.
  seen: () => three.Box3 = () => this.stock.box;

  // How far the plane may go, in mm of the train's frame.
  range(axis: "x" | "y" | "z"): [number, number] {
    const box = this.seen();
    return [Math.floor(box.min[axis] * 10) / 10, Math.ceil(box.max[axis] * 10) / 10];
  }

  // Where a place is counted from: the rear end, the middle, the rail.
  origin(axis: "x" | "y" | "z"): number {
    return axis === "x" ? this.seen().min.x : 0;
  }

  // Where the plane is taken hold of: the middle of its upper edge.
  get grip(): three.Vector3 {
    const { min, max } = this.seen();
    const place = min.clone().add(max).multiplyScalar(0.5);
    if (this.axis === "z") place.x = max.x;
    else place.z = max.z;
    if (this.axis !== "none") place[this.axis] = this.at;
    return place;
  }

  // What the plane leaves of a box of the train; null: nothing.
  kept(box: three.Box3): three.Box3 | null {
    if (this.axis === "none") return box;
    const left = box.clone();
    if (this.axis === "y") left.min.y = Math.max(left.min.y, this.at);
    else left.max[this.axis] = Math.min(left.max[this.axis], this.at);
    return left.min[this.axis] <= left.max[this.axis] ? left : null;
  }

  sees(point: three.Vector3): boolean {
    return this.axis === "none" || this.plane.distanceToPoint(point) >= -0.1;
  }

  set(axis: CutAxis, at: number): void {
    this.axis = axis;
    this.at = at;
    this.frame.visible = axis !== "none";
    if (axis !== "none") {
      // along the train the near side goes, else the front or what is above
      const way = axis === "y" ? 1 : -1;
      const normal = new three.Vector3();
      normal[axis] = way;
      this.plane.set(normal, -way * at);
      this.draw(axis, at + way * BEHIND);
    }
    this.fill();
  }

  // Closes what is cut anew: after a move of the plane, of a layer or of a part.
  fill(): void {
    for (const cap of this.caps.splice(0)) {
      cap.removeFromParent();
      (cap as three.Mesh).geometry.dispose();
    }
    if (this.axis === "none") return;
    const way = this.axis === "y" ? 1 : -1;
    this.stock.homes.forEach((_, place) => this.fillVehicle(place, this.at + way * BEHIND));
  }

  private fillVehicle(place: number, at: number): void {
    const home = this.stock.homes[place];
    if (!home.visible || this.axis === "none") return;
    const axis = "xyz".indexOf(this.axis) as 0 | 1 | 2;
    const here = home.worldToLocal(new three.Vector3().setComponent(axis, at)).getComponent(axis);
    const brick: Record<string, number[]> = { fixed: [], removable: [] };
    if (this.stock.bodies[place].visible) {
      this.stock.resting(place).forEach((layer) => {
        for (const kind of Object.keys(brick)) cutLayer(brick[kind], layer, layer.bodies[kind], axis, here);
      });
    }
    this.face(home, brick.fixed, this.paints.cap);
    this.face(home, brick.removable, this.paints.capRemovable);
    const built: number[] = [];
    for (const shape of this.stock.builtIn[place]) fan(built, slice(shape, axis, here));
    this.face(home, built, this.paints.capBuilt);
    for (const thing of this.things.all.values()) {
      if (thing.vehicle !== place || !thing.shapes.length || !thing.home.visible) continue;
      const own = here - thing.home.position.getComponent(axis);
      const cut: number[] = [];
      for (const shape of thing.shapes) fan(cut, slice(shape, axis, own));
      this.face(thing.home, cut, thing.capPaint);
    }
  }

  private face(home: three.Object3D, corners: number[], paint: three.Material): void {
    if (!corners.length) return;
    const shape = new three.BufferGeometry();
    shape.setAttribute("position", new three.Float32BufferAttribute(corners, 3));
    const mesh = new three.Mesh(shape, paint);
    mesh.userData.cap = true;
    home.add(mesh);
    this.caps.push(mesh);
  }

  private draw(axis: "x" | "y" | "z", at: number): void {
    const { min, max } = this.seen();
    const [u, v] = (["x", "y", "z"] as const).filter((other) => other !== axis);
    const corners = [[0, 0], [1, 0], [1, 1], [0, 1]].map(([a, b]) => {
      const corner = new three.Vector3();
      corner[axis] = at;
      corner[u] = a ? max[u] + 6 : min[u] - 6;
      corner[v] = b ? max[v] + 6 : min[v] - 6;
      return corner;
    });
    this.frame.geometry.dispose();
    this.frame.geometry = new three.BufferGeometry().setFromPoints(corners);
  }
}

// Where a plane cuts the bricks of a layer: pieces between the borders that it meets, as high as the layer.
function cutLayer(out: number[], layer: Layer, faces: BodyFaces | undefined, axis: 0 | 1 | 2, at: number): void {
  if (!faces) return;
  if (axis === 2) {
    if (layer.low < at && at <= layer.high) flats(out, [...faces.top, ...faces.innerTop], at);
    return;
  }
  const met: number[] = [];
  for (let i = 0; i < faces.walls.length; i += 4) {
    const line = faces.walls.slice(i, i + 4);
    const [from, to] = [line[axis], line[axis + 2]];
    if (Math.min(from, to) < at && at <= Math.max(from, to)) met.push(line[1 - axis]);
  }
  met.sort((one, two) => one - two);
  for (let i = 0; i + 1 < met.length; i += 2) {
    const corner = (side: number, z: number) => (axis === 0 ? [at, side, z] : [side, at, z]);
    const [a, b] = [met[i], met[i + 1]];
    for (const point of [corner(a, layer.low), corner(b, layer.low), corner(b, layer.high)]) out.push(...point);
    for (const point of [corner(a, layer.low), corner(b, layer.high), corner(a, layer.high)]) out.push(...point);
  }
}
