// Materials of the view; their colours follow the page's style variables.
import * as three from "three";
import { hatch } from "./hatching";

export class Paints {
  readonly faces: Record<string, three.MeshLambertMaterial> = {};
  readonly edge = new three.LineBasicMaterial({ transparent: true, opacity: 0.55 });
  readonly lifted = new three.LineBasicMaterial({ transparent: true, opacity: 0.3 });
  readonly outline = new three.LineBasicMaterial({ transparent: true, opacity: 0.6 });
  readonly dark = new three.MeshLambertMaterial();
  readonly rail = new three.MeshLambertMaterial();
  readonly shelf = new three.MeshLambertMaterial({ transparent: true, opacity: 0.75 });
  readonly chosenOutline = new three.LineBasicMaterial({ depthTest: false, transparent: true });
  readonly rim = new three.MeshBasicMaterial({ side: three.BackSide });
  readonly cap = new three.MeshBasicMaterial({ side: three.DoubleSide });
  readonly capRemovable = new three.MeshBasicMaterial({ side: three.DoubleSide });
  readonly capBuilt = new three.MeshBasicMaterial({ side: three.DoubleSide });
  readonly frame = new three.LineBasicMaterial();
  readonly dimension = new three.LineBasicMaterial({ depthTest: false, transparent: true });
  readonly ghost = new three.MeshLambertMaterial({ transparent: true, opacity: 0.38, depthWrite: false });
  readonly ghostEdge = new three.LineBasicMaterial();
  readonly room = new three.LineBasicMaterial({ depthTest: false, transparent: true });
  readonly spot = new three.LineBasicMaterial({ depthTest: false, transparent: true });
  readonly wireEdge = new three.MeshBasicMaterial({ side: three.BackSide });
  readonly wireRim = new three.MeshBasicMaterial({ depthTest: false, transparent: true });

  constructor() {
    for (const kind of ["fixed", "removable", "out"]) {
      this.faces[kind] = new three.MeshLambertMaterial({
        transparent: true,
        opacity: 0.3,
        depthWrite: false,
        side: three.DoubleSide,
      });
    }
    // colours that mean something bear a pattern as well: not every eye tells them apart
    hatch(this.faces.removable, "falling", 3.2);
    hatch(this.capRemovable, "falling", 3.2);
    hatch(this.faces.out, "crossing", 3.2);
    hatch(this.shelf, "level", 1.6);
    hatch(this.ghost, "rising", 3.2);
  }

  follow(holder: HTMLElement): void {
    const style = getComputedStyle(holder);
    const read = (name: string) => new three.Color(style.getPropertyValue(`--${name}`).trim() || "#888");
    const dark = style.getPropertyValue("--dark").trim() === "1";
    this.faces.fixed.color = read("body");
    this.faces.fixed.opacity = dark ? 0.12 : 0.2;
    this.faces.removable.color = read("caution");
    this.faces.out.color = read("stop");
    this.edge.color = read("body-edge");
    this.lifted.color = read("body-edge");
    this.outline.color = read("ink");
    this.outline.opacity = dark ? 0.35 : 0.55;
    this.dark.color = read("built");
    this.rail.color = read("rail");
    this.shelf.color = read("new");
    this.chosenOutline.color = read("ink");
    this.rim.color = read("shine");
    this.cap.color = read("cap");
    this.capRemovable.color = read("caution");
    this.capBuilt.color = read("built");
    this.frame.color = read("focus");
    this.dimension.color = read("ink");
    this.ghost.color = read("stop");
    this.ghostEdge.color = read("stop");
    this.room.color = read("fits");
    this.spot.color = read("stop");
    this.wireEdge.color = read("soft");
    this.wireRim.color = read("shine");
  }
}
