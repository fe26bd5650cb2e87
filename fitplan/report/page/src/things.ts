// What can be chosen in the view: parts, wires and splices, each with the rim that it bears when it is chosen.
import * as three from "three";
import type { SceneData } from "./data";
import type { Labels } from "./labels";
import type { Paints } from "./paints";
import { softened, solidShape, tube } from "./solids";
import type { Stock } from "./stock";

export interface Thing {
  meshes: three.Mesh[];
  colour: three.Color;
  rim: () => three.Object3D;
  outline?: three.LineSegments;
  home: three.Group;
  // The way out, from where it lies, move by move.
  out: three.Vector3[];
}

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
      for (const mesh of thing.meshes) {
        const material = mesh.material as three.MeshLambertMaterial;
        material.transparent = faint;
        material.opacity = faint ? 0.16 : 1;
        material.depthWrite = !faint;
        material.needsUpdate = true;
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
      const outline = new three.LineSegments(lines, this.paints.outline);
      home.add(outline);
      for (const pin of part.pins) {
        const dot = new three.SphereGeometry(0.55, 8, 6).translate(...pin);
        home.add(new three.Mesh(dot, this.paints.rail));
      }
      const out = [...(moves.get(part.key) ?? [])].reverse().map((move) => new three.Vector3(...move).negate());
      this.all.set(part.key, { meshes, colour, outline, home, out, rim: () => this.swollen(meshes, 1.6) });
      const bounds = new three.Box3();
      meshes.forEach((mesh) => {
        mesh.geometry.computeBoundingBox();
        bounds.union(mesh.geometry.boundingBox!);
      });
      const at = bounds.getCenter(new three.Vector3()).setZ(bounds.max.z);
      labels.add(part.key, this.nameOf(part.key), at, home);
    }
  }

  private addWires(data: SceneData): void {
    for (const wire of data.wires) {
      const home = new three.Group();
      const colour = new three.Color(wire.colour);
      const material = new three.MeshLambertMaterial({ color: colour });
      const meshes: three.Mesh[] = [];
      const halo = new three.Group();
      const add = (points: three.Vector3[], matrix?: three.Matrix4) => {
        const shape = tube(points, wire.radius);
        const wide = tube(points, wire.radius * 2.4 + 0.6);
        if (matrix) wide.applyMatrix4(matrix);
        const shine = new three.Mesh(wide, this.paints.wireRim);
        shine.renderOrder = 4;
        halo.add(shine);
        if (matrix) shape.applyMatrix4(matrix);
        const mesh = new three.Mesh(shape, material);
        mesh.userData.key = wire.key;
        meshes.push(mesh);
        home.add(mesh);
      };
      for (const leg of wire.legs) add(softened(leg.points, 3), this.stock.homes[leg.vehicle].matrixWorld);
      for (const joint of wire.joints) add(joint.map((point) => new three.Vector3(...point)));
      this.wires.add(home);
      this.all.set(wire.key, { meshes, colour, home, out: [], rim: () => halo });
    }
    for (const splice of data.splices) {
      const dot = new three.SphereGeometry(1.9, 14, 10).translate(...splice.at);
      dot.applyMatrix4(this.stock.homes[splice.vehicle].matrixWorld);
      const colour = new three.Color("#3a4145");
      const mesh = new three.Mesh(dot, new three.MeshLambertMaterial({ color: colour }));
      mesh.userData.key = splice.key;
      this.wires.add(mesh);
      const home = this.wires;
      this.all.set(splice.key, { meshes: [mesh], colour, home, out: [], rim: () => this.swollen([mesh], 1.6) });
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
      group.add(new three.Mesh(shape, this.paints.rim));
    }
    return group;
  }
}
