// Shapes of three.js from solids in millimetres.
import * as three from "three";
import type { Solid, Vec } from "./data";

const AXES = { x: new three.Vector3(1, 0, 0), y: new three.Vector3(0, 1, 0), z: new three.Vector3(0, 0, 1) };

export function solidShape(solid: Solid): three.BufferGeometry {
  if (solid.kind === "cylinder") {
    const shape = new three.CylinderGeometry(solid.radius, solid.radius, solid.length, 28);
    shape.applyQuaternion(new three.Quaternion().setFromUnitVectors(AXES.y, AXES[solid.axis]));
    const middle = new three.Vector3(...solid.at).addScaledVector(AXES[solid.axis], solid.length / 2);
    return shape.translate(middle.x, middle.y, middle.z);
  }
  if (solid.kind === "wedge") return wedgeShape(solid.low, solid.high, solid.base, solid.back);
  const [x0, y0, z0] = solid.low;
  const [x1, y1, z1] = solid.high;
  const shape = new three.BoxGeometry(x1 - x0, y1 - y0, z1 - z0);
  return shape.translate((x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2);
}

function wedgeShape(low: Vec, high: Vec, base: string, back: string): three.BufferGeometry {
  const axis = (direction: string) => "xyz".indexOf(direction[1]);
  const a = axis(base);
  const b = axis(back);
  const c = 3 - a - b;
  // u and v run from the full faces to the thin edge, w along the wedge
  const corner = (u: number, v: number, w: number): Vec => {
    const point: Vec = [0, 0, 0];
    const put = (at: number, share: number, direction: string) => {
      const along = direction[0] === "+" ? 1 - share : share;
      point[at] = low[at] + (high[at] - low[at]) * along;
    };
    put(a, u, base);
    put(b, v, back);
    point[c] = w ? high[c] : low[c];
    return point;
  };
  const [p, q, r] = [corner(0, 0, 0), corner(1, 0, 0), corner(0, 1, 0)];
  const [s, t, o] = [corner(0, 0, 1), corner(1, 0, 1), corner(0, 1, 1)];
  const faces = [p, q, r, s, o, t, p, r, o, p, o, s, p, s, t, p, t, q, q, t, o, q, o, r];
  const shape = new three.BufferGeometry();
  shape.setAttribute("position", new three.Float32BufferAttribute(faces.flat(), 3));
  shape.computeVertexNormals();
  return shape;
}

// Rectangles x0 y0 x1 y1 … at a height, facing up or down.
export function flats(out: number[], rectangles: number[], z: number): void {
  for (let i = 0; i < rectangles.length; i += 4) {
    const [x0, y0, x1, y1] = rectangles.slice(i, i + 4);
    out.push(x0, y0, z, x1, y0, z, x1, y1, z, x0, y0, z, x1, y1, z, x0, y1, z);
  }
}

// Upright walls over lines x0 y0 x1 y1 … from one height to another.
export function walls(out: number[], lines: number[], low: number, high: number): void {
  for (let i = 0; i < lines.length; i += 4) {
    const [x0, y0, x1, y1] = lines.slice(i, i + 4);
    out.push(x0, y0, low, x1, y1, low, x1, y1, high, x0, y0, low, x1, y1, high, x0, y0, high);
  }
}

// Points along corners with each corner rounded off, so that a tube can follow.
export function softened(points: Vec[], most: number): three.Vector3[] {
  const corners = points.map((point) => new three.Vector3(...point));
  if (corners.length < 3) return corners;
  const out = [corners[0]];
  for (let i = 1; i < corners.length - 1; i++) {
    const before = corners[i].clone().sub(corners[i - 1]);
    const after = corners[i + 1].clone().sub(corners[i]);
    const reach = Math.min(most, before.length() / 2.2, after.length() / 2.2);
    const start = corners[i].clone().addScaledVector(before.normalize(), -reach);
    const end = corners[i].clone().addScaledVector(after.normalize(), reach);
    const bend = new three.QuadraticBezierCurve3(start, corners[i], end);
    for (const share of [0, 0.25, 0.5, 0.75, 1]) out.push(bend.getPoint(share));
  }
  out.push(corners[corners.length - 1]);
  return out;
}

// A curve of straight pieces through given points.
class Polyline extends three.Curve<three.Vector3> {
  private readonly at: number[] = [0];
  constructor(private readonly points: three.Vector3[]) {
    super();
    for (let i = 1; i < points.length; i++) this.at.push(this.at[i - 1] + points[i].distanceTo(points[i - 1]));
  }
  getPoint(share: number, target = new three.Vector3()): three.Vector3 {
    const wanted = share * (this.points.length - 1);
    const i = Math.min(Math.floor(wanted), this.points.length - 2);
    return target.lerpVectors(this.points[i], this.points[i + 1], wanted - i);
  }
  getPointAt(share: number, target?: three.Vector3): three.Vector3 {
    return this.getPoint(share, target);
  }
  getTangentAt(share: number, target = new three.Vector3()): three.Vector3 {
    const last = this.points.length - 2;
    const i = Math.min(Math.round(share * (this.points.length - 1)), last);
    target.subVectors(this.points[i + 1], this.points[i]);
    if (i > 0) target.normalize().add(this.points[i].clone().sub(this.points[i - 1]).normalize());
    return target.normalize();
  }
}

export function tube(points: three.Vector3[], radius: number, sides = 8): three.BufferGeometry {
  const apart = points.filter((point, i) => i === 0 || point.distanceTo(points[i - 1]) > 1e-3);
  if (apart.length < 2) return new three.SphereGeometry(radius, 8, 6);
  return new three.TubeGeometry(new Polyline(apart), apart.length - 1, radius, sides, false);
}

// One shape of many, with places and normals only: what is drawn alike is drawn at once.
export function merged(shapes: three.BufferGeometry[]): three.BufferGeometry {
  const flat = shapes.map((shape) => (shape.index ? shape.toNonIndexed() : shape));
  const out = new three.BufferGeometry();
  for (const name of ["position", "normal"]) {
    const numbers = new Float32Array(flat.reduce((sum, shape) => sum + shape.getAttribute(name).array.length, 0));
    let at = 0;
    for (const shape of flat) {
      numbers.set(shape.getAttribute(name).array, at);
      at += shape.getAttribute(name).array.length;
    }
    out.setAttribute(name, new three.BufferAttribute(numbers, 3));
  }
  return out;
}

// Where a plane cuts a convex shape: the corners of the cut in order, or nothing.
export function slice(shape: three.BufferGeometry, axis: 0 | 1 | 2, at: number): three.Vector3[] {
  const flat = shape.index ? shape.toNonIndexed() : shape;
  const numbers = flat.getAttribute("position").array;
  const points: three.Vector3[] = [];
  for (let i = 0; i < numbers.length; i += 9) {
    for (let side = 0; side < 3; side++) {
      const a = i + side * 3;
      const b = i + ((side + 1) % 3) * 3;
      const from = numbers[a + axis] - at;
      const to = numbers[b + axis] - at;
      if (from * to >= 0) continue;
      const share = from / (from - to);
      const mix = (k: number) => numbers[a + k] + (numbers[b + k] - numbers[a + k]) * share;
      points.push(new three.Vector3(mix(0), mix(1), mix(2)));
    }
  }
  if (points.length < 3) return [];
  const middle = points.reduce((sum, point) => sum.add(point), new three.Vector3()).divideScalar(points.length);
  const [u, v] = ([0, 1, 2] as const).filter((other) => other !== axis);
  const angle = (p: three.Vector3) => Math.atan2(p.getComponent(v) - middle.getComponent(v), p.getComponent(u) - middle.getComponent(u));
  points.sort((one, two) => angle(one) - angle(two));
  return points.filter((point, i) => i === 0 || point.distanceTo(points[i - 1]) > 1e-3);
}

// Triangles of a convex outline.
export function fan(out: number[], corners: three.Vector3[]): void {
  for (let i = 1; i + 1 < corners.length; i++) {
    for (const corner of [corners[0], corners[i], corners[i + 1]]) out.push(corner.x, corner.y, corner.z);
  }
}
