// What can be chosen in the view: parts, wires and splices, each with the rim that it bears when it is chosen.
import * as three from "three";
import type { SceneData, Vec } from "./data";
import type { Labels } from "./labels";
import type { Paints } from "./paints";
import { merged, softened, solidShape, tube } from "./solids";
import type { Stock } from "./stock";

export interface Thing {
  meshes: three.Mesh[];
  colour: three.Color;
  rim: () => three.Object3D;
  outline?: three.LineSegments;
  // Of a wire as dark or as light as the ground: a thin border that keeps it seen.
  border?: three.Mesh[];
  home: three.Group;
  // The way out, from where it lies, move by move.
  out: three.Vector3[];
  vehicle: number;
  // Convex shapes to be cut, and the colour of what is cut.
  shapes: three.BufferGeometry[];
  // Of a wire: where it begins and where it ends, in the train's frame.
  ends: three.Vector3[];
  capPaint: three.Material;
}

const PIN = new three.SphereGeometry(0.55, 8, 6);

export class Things {
  readonly all = new Map<string, Thing>();
  readonly wires = new three.Group();

  constructor(
    scene: three.Scene,
    private readonly paints: Paints,
    private readonly stock: Stock,
    data: SceneData,
    labels: Labels,
    private readonly nameOf: (key: string) => string,
  ) {
    this.addParts(data, labels);
    this.addWires(data);
    scene.add(this.wires);
  }

  // Makes everything faint but some; null: nothing.
  dim(but: Set<string> | null): void {
    this.all.forEach((thing, key) => {
      const faint = but !== null && !but.has(key);
      thing.border?.forEach((mesh) => (mesh.visible = !faint));
      for (const mesh of thing.meshes) {
        const material = mesh.material as three.MeshLambertMaterial;
        material.transparent = faint;
        material.opacity = faint ? 0.16 : 1;
        material.depthWrite = !faint;
      }
    });
  }

  private addParts(data: SceneData, labels: Labels): void {
    const moves = new Map(data.steps.flatMap((step) => step.keys.map((key) => [key, step.moves] as const)));
    for (const part of data.parts) {
      const home = new three.Group();
      this.stock.homes[part.vehicle].add(home);
      const colour = new three.Color(part.colour);
      const material = new three.MeshLambertMaterial({ color: colour });
      const shapes = part.solids.map(solidShape);
      const mesh = new three.Mesh(merged(shapes), material);
      mesh.userData.key = part.key;
      const edges = shapes.flatMap((shape) => [...new three.EdgesGeometry(shape, 30).getAttribute("position").array]);
      const lines = new three.BufferGeometry();
      lines.setAttribute("position", new three.Float32BufferAttribute(edges, 3));
      const outline = new three.LineSegments(lines, this.paints.outline);
      home.add(mesh, outline);
      if (part.pins.length) {
        const dots = new three.InstancedMesh(PIN, this.paints.rail, part.pins.length);
        part.pins.forEach((pin, place) => dots.setMatrixAt(place, new three.Matrix4().makeTranslation(...pin)));
        home.add(dots);
      }
      const out = [...(moves.get(part.key) ?? [])].reverse().map((move) => new three.Vector3(...move).negate());
      const capPaint = new three.MeshBasicMaterial({ color: colour, side: three.DoubleSide });
      this.all.set(part.key, {
        meshes: [mesh],
        colour,
        outline,
        home,
        out,
        vehicle: part.vehicle,
        shapes,
        ends: [],
        capPaint,
        rim: () => this.swollen(shapes, 1.6),
      });
      mesh.geometry.computeBoundingBox();
      const bounds = mesh.geometry.boundingBox!;
      const at = bounds.getCenter(new three.Vector3()).setZ(bounds.max.z);
      labels.add(part.key, this.nameOf(part.key), at, home, "", bounds);
    }
  }

  private addWires(data: SceneData): void {
    // many wires are seen from afar: rounder ones would cost and not be seen
    const sides = data.wires.length > 80 ? 5 : 8;
    for (const wire of data.wires) {
      const home = new three.Group();
      const colour = new three.Color(wire.colour);
      const material = new three.MeshLambertMaterial({ color: colour, side: three.DoubleSide });
      const meshes: three.Mesh[] = [];
      const lines: { points: three.Vector3[]; matrix?: three.Matrix4; vehicle: number }[] = [
        ...wire.legs.map((leg) => ({
          points: softened(leg.points, 3),
          matrix: this.stock.homes[leg.vehicle].matrixWorld,
          vehicle: leg.vehicle,
        })),
        ...wire.joints.map((joint) => ({ points: joint.map((point) => new three.Vector3(...point)), vehicle: -1 })),
      ];
      for (const { points, matrix, vehicle } of lines) {
        const shape = tube(points, wire.radius, sides);
        if (matrix) shape.applyMatrix4(matrix);
        const mesh = new three.Mesh(shape, material);
        mesh.userData.key = wire.key;
        mesh.userData.vehicle = vehicle;
        meshes.push(mesh);
        home.add(mesh);
      }
      const light = colour.getHSL({ h: 0, s: 0, l: 0 }).l;
      const border = light > 0.25 && light < 0.75 ? [] : lines.map(({ points, matrix, vehicle }) => {
        const wide = tube(points, wire.radius + 0.22, sides);
        if (matrix) wide.applyMatrix4(matrix);
        const mesh = new three.Mesh(wide, this.paints.wireEdge);
        mesh.userData.vehicle = vehicle;
        home.add(mesh);
        return mesh;
      });
      const inTrain = (point: Vec, vehicle: number) => new three.Vector3(...point).applyMatrix4(this.stock.homes[vehicle].matrixWorld);
      const [first, last] = [wire.legs[0], wire.legs[wire.legs.length - 1]];
      const ends = first ? [inTrain(first.points[0], first.vehicle), inTrain(last.points[last.points.length - 1], last.vehicle)] : [];
      const rim = () => {
        const halo = new three.Group();
        for (const { points, matrix } of lines) {
          const wide = tube(points, wire.radius * 2.4 + 0.6);
          if (matrix) wide.applyMatrix4(matrix);
          const shine = new three.Mesh(wide, this.paints.wireRim);
          shine.renderOrder = 4;
          halo.add(shine);
        }
        return halo;
      };
      this.wires.add(home);
      this.all.set(wire.key, { meshes, colour, home, out: [], vehicle: -1, shapes: [], ends, capPaint: material, rim, border });
    }
    for (const splice of data.splices) {
      const dot = new three.SphereGeometry(1.9, 14, 10).translate(...splice.at);
      dot.applyMatrix4(this.stock.homes[splice.vehicle].matrixWorld);
      const colour = new three.Color("#3a4145");
      const paint = new three.MeshLambertMaterial({ color: colour });
      const mesh = new three.Mesh(dot, paint);
      mesh.userData.key = splice.key;
      mesh.userData.vehicle = splice.vehicle;
      const home = new three.Group();
      home.add(mesh);
      this.wires.add(home);
      const rim = () => this.swollen([dot], 1.6);
      this.all.set(splice.key, { meshes: [mesh], colour, home, out: [], vehicle: -1, shapes: [], ends: [], capPaint: paint, rim });
    }
  }

  // Shows one vehicle's wires alone; null: all, and what hangs between vehicles.
  only(vehicle: number | null): void {
    this.wires.traverse((entry) => {
      if (entry.userData.vehicle !== undefined) entry.visible = vehicle === null || entry.userData.vehicle === vehicle;
    });
  }

  // The same shapes, a little larger in every direction and seen from inside: a rim round them.
  private swollen(shapes: three.BufferGeometry[], by: number): three.Object3D {
    const group = new three.Group();
    for (const one of shapes) {
      const shape = one.clone();
      shape.computeBoundingBox();
      const middle = shape.boundingBox!.getCenter(new three.Vector3());
      const size = shape.boundingBox!.getSize(new three.Vector3());
      shape.translate(-middle.x, -middle.y, -middle.z);
      shape.scale((size.x + 2 * by) / size.x, (size.y + 2 * by) / size.y, (size.z + 2 * by) / size.z);
      shape.translate(middle.x, middle.y, middle.z);
      group.add(new three.Mesh(shape, this.paints.rim));
    }
    return group;
  }
}
