// Where the picture is seen from: the four looks, coming nearer to what is chosen, turning.
import * as three from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";

export type Looks = "three-quarter" | "side" | "above" | "front";
const LOWEST = Math.PI * 0.62;
const TILT = 0.22;

export class Gaze {
  readonly camera = new three.PerspectiveCamera(24, 1, 20, 12000);
  // The look that was asked for, as long as nobody has turned the picture since.
  way: Looks | null = null;
  private readonly controls: OrbitControls;

  constructor(
    private readonly canvas: HTMLCanvasElement,
    // What is to be seen whole.
    private readonly seen: () => three.Box3,
    private readonly moved: () => void,
  ) {
    this.camera.up.set(0, 0, 1);
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.enableDamping = false;
    this.controls.maxPolarAngle = LOWEST;
    this.controls.addEventListener("change", moved);
    this.controls.addEventListener("start", () => (this.way = null));
  }

  // The wheel and two fingers move the picture only once it is chosen; else they scroll the page.
  hold(on: boolean): void {
    this.controls.enableZoom = on;
    this.canvas.style.touchAction = on ? "none" : "pan-y";
  }

  look(way: Looks): void {
    this.way = way;
    const box = this.seen();
    const size = box.getSize(new three.Vector3());
    // a long train is looked at from the front almost level, or its far end would rise out of the picture
    const tilt = Math.min(TILT, (0.6 * size.z) / Math.max(1, size.x));
    const directions: Record<Looks, three.Vector3> = {
      "three-quarter": new three.Vector3(0.42, -1, 0.56),
      side: new three.Vector3(0, -1, 0.02),
      above: new three.Vector3(0, -0.02, 1),
      front: new three.Vector3(1, -0.55 * tilt, tilt),
    };
    this.from(directions[way].normalize(), box);
  }

  // Comes to a box from where one is looking already.
  approach(box: three.Box3): void {
    this.way = null;
    this.from(this.offset.normalize(), box);
  }

  turn(around: number, over: number): void {
    const offset = this.offset;
    const ball = new three.Spherical().setFromVector3(new three.Vector3(offset.x, offset.z, -offset.y));
    ball.theta += around;
    ball.phi = Math.min(LOWEST, Math.max(0.02, ball.phi + over));
    const turned = new three.Vector3().setFromSpherical(ball);
    this.stand(new three.Vector3(turned.x, -turned.z, turned.y));
  }

  zoom(factor: number): void {
    this.stand(this.offset.multiplyScalar(factor));
  }

  resize(width: number, height: number): void {
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    if (this.way) this.look(this.way);
  }

  // How large a millimetre is on the screen, at what the picture is turned about.
  get pixelsPerMm(): number {
    const tangent = Math.tan(((this.camera.fov / 2) * Math.PI) / 180);
    return this.canvas.clientHeight / (2 * tangent * Math.max(1, this.offset.length()));
  }

  private get offset(): three.Vector3 {
    return this.camera.position.clone().sub(this.controls.target);
  }

  private stand(offset: three.Vector3): void {
    this.way = null;
    this.camera.position.copy(this.controls.target).add(offset);
    this.settle();
  }

  private from(along: three.Vector3, box: three.Box3): void {
    const middle = box.getCenter(new three.Vector3());
    this.controls.target.copy(middle);
    this.camera.position.copy(middle).addScaledVector(along, this.distanceFor(along, middle, box));
    this.settle();
  }

  private settle(): void {
    this.controls.update();
    this.moved();
  }

  // How far the camera must stand for every corner of a box to be seen, with some room for labels.
  private distanceFor(along: three.Vector3, middle: three.Vector3, box: three.Box3): number {
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
}
