// The controls under the picture: each moves the view, says where it stands and is kept in the address.
import type { PageData } from "./data";
import type { CutAxis } from "./section";
import type { Looks } from "./gaze";
import type { View } from "./view";

type Note = (name: string, value: string, usual: string) => void;
type Shown = "bodies" | "parts" | "wires" | "studs" | "labels" | "track" | "sizes";
const byId = <T extends HTMLElement>(id: string) => document.getElementById(id) as T;
const all = <T extends Element>(query: string) => [...document.querySelectorAll<T>(query)];
const WHENCE = { x: "from the rear end", y: "from the middle, left is more", z: "above the rail" };
const STEP_MS = 700;

export class Tools {
  private readonly layers = byId<HTMLInputElement>("layers");
  private readonly cut = byId<HTMLInputElement>("cut");
  private readonly cutMm = byId<HTMLInputElement>("cut-mm");
  private readonly cutAxis = byId<HTMLSelectElement>("cut-axis");
  private readonly build = byId<HTMLInputElement>("build");
  private readonly explode = byId<HTMLInputElement>("explode");
  private readonly vehicle = byId<HTMLSelectElement>("vehicle");
  private readonly measure = byId<HTMLButtonElement>("measure");
  private moving = 0;

  constructor(
    private readonly view: View,
    private readonly data: PageData,
    private readonly note: Note,
  ) {
    for (const button of all<HTMLButtonElement>("button[data-look]")) {
      button.addEventListener("click", () => {
        view.look(button.dataset.look as Looks);
        note("look", button.dataset.look ?? "", "three-quarter");
      });
    }
    this.layers.max = String(view.levels.length);
    this.layers.addEventListener("input", () => this.lift());
    this.cutAxis.addEventListener("change", () => this.chooseAxis());
    for (const field of [this.cut, this.cutMm]) field.addEventListener("input", () => this.cutAt(Number(field.value) + this.origin, field));
    view.pointing.onCut = (at) => this.cutAt(at);
    this.build.max = String(data.scene.steps.length);
    this.build.value = this.build.max;
    this.build.addEventListener("input", () => {
      cancelAnimationFrame(this.moving);
      this.show();
    });
    this.explode.addEventListener("input", () => this.show());
    for (const button of all<HTMLButtonElement>("button[data-step]")) {
      button.addEventListener("click", () => this.step(Number(button.dataset.step)));
    }
    for (const button of all<HTMLButtonElement>("button[data-go]")) {
      button.addEventListener("click", () => {
        this.build.value = button.dataset.go ?? "0";
        this.show();
        byId("picture").scrollIntoView({ block: "start" });
      });
    }
    this.vehicle.addEventListener("change", () => {
      view.only(this.vehicle.value === "" ? null : Number(this.vehicle.value));
      this.chooseAxis();
      note("only", this.vehicle.value, "");
    });
    for (const box of all<HTMLInputElement>("input[data-show]")) {
      const apply = () => view.show(box.dataset.show as Shown, box.checked);
      box.addEventListener("change", apply);
      if (!box.checked && box.dataset.show !== "sizes") apply();
    }
    view.pointing.onMeasure = (text) => (byId("measure-says").textContent = text);
    this.measure.addEventListener("click", () => {
      const on = this.measure.getAttribute("aria-pressed") !== "true";
      this.measure.setAttribute("aria-pressed", String(on));
      view.pointing.measure(on);
    });
    this.keys();
    this.says();
  }

  endMeasuring(): void {
    this.measure.setAttribute("aria-pressed", "false");
    this.view.pointing.measure(false);
  }

  // Sets one control as the address says.
  recall(name: string, value: string): void {
    if (name === "lift") {
      this.layers.value = value;
      this.lift();
    }
    if (name === "build" || name === "explode") {
      (name === "build" ? this.build : this.explode).value = value;
      this.show();
    }
    if (name === "only" && (value === "" || this.data.scene.vehicles[Number(value)])) {
      this.vehicle.value = value;
      this.view.only(value === "" ? null : Number(value));
    }
    if (name === "cut") {
      const [axis, place] = value.split(":");
      this.cutAxis.value = ["x", "y", "z"].includes(axis) ? axis : "none";
      this.chooseAxis();
      if (place !== undefined && Number.isFinite(Number(place))) this.cutAt(Number(place) + this.origin);
    }
  }

  private lift(): void {
    const count = Number(this.layers.value);
    this.view.liftLayers(count);
    const says = count ? `${count} of ${this.view.levels.length} lifted` : "none lifted";
    byId("layers-says").textContent = says;
    this.layers.setAttribute("aria-valuetext", says);
    this.note("lift", this.layers.value, "0");
  }

  // What the fields of the cut count from, in the train's frame.
  private get origin(): number {
    const axis = this.cutAxis.value as CutAxis;
    return axis === "none" ? 0 : this.view.section.origin(axis);
  }

  private chooseAxis(): void {
    const axis = this.cutAxis.value as CutAxis;
    this.cut.disabled = this.cutMm.disabled = axis === "none";
    if (axis === "none") {
      this.view.cut("none", 0);
      byId("cut-says").textContent = "";
      this.note("cut", "", "");
      return;
    }
    const [low, high] = this.view.section.range(axis);
    for (const field of [this.cut, this.cutMm]) [field.min, field.max] = [(low - this.origin).toFixed(1), (high - this.origin).toFixed(1)];
    byId("cut-says").textContent = `mm ${WHENCE[axis]}`;
    this.cutAt((low + high) / 2);
  }

  private cutAt(at: number, typed?: HTMLInputElement): void {
    const axis = this.cutAxis.value as CutAxis;
    if (axis === "none" || !Number.isFinite(at)) return;
    const [low, high] = this.view.section.range(axis);
    const from = Math.min(high, Math.max(low, at)) - this.origin;
    const kept = Math.round(from * 10) / 10;
    for (const field of [this.cut, this.cutMm]) if (field !== typed) field.value = String(kept);
    this.cut.setAttribute("aria-valuetext", `${kept} mm ${WHENCE[axis]}`);
    this.view.cut(axis, kept + this.origin);
    this.note("cut", `${axis}:${kept}`, "");
  }

  // One step on or back: the lid, then what passes it; at once where no motion is wanted.
  private step(change: number): void {
    const from = Number(this.build.value);
    const base = change > 0 ? Math.floor(from) : Math.ceil(from);
    const to = Math.min(this.data.scene.steps.length, Math.max(0, base + change));
    cancelAnimationFrame(this.moving);
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
      this.build.value = String(to);
      return this.show();
    }
    const start = performance.now();
    const move = (now: number) => {
      const share = Math.min(1, Math.max(0, (now - start) / STEP_MS));
      this.build.value = String(from + (to - from) * share);
      this.show();
      if (share < 1) this.moving = requestAnimationFrame(move);
    };
    this.moving = requestAnimationFrame(move);
  }

  private show(): void {
    this.view.build(Number(this.build.value), Number(this.explode.value) / 100);
    this.says();
    this.note("build", this.build.value, this.build.max);
    this.note("explode", this.explode.value, "0");
  }

  private says(): void {
    const done = Number(this.build.value);
    const count = this.data.scene.steps.length;
    const place = Math.ceil(done) - 1;
    const words = place < 0 ? "nothing built in yet" : `step ${place + 1} of ${count}: ${this.data.steps[place]}`;
    const says = done >= count ? "all built in" : words;
    byId("build-says").textContent = says;
    this.build.setAttribute("aria-valuetext", says);
    for (const entry of all<HTMLElement>("#ticks [data-step-of]")) {
      entry.classList.toggle("now", done < count && Number(entry.dataset.stepOf) === place + 1);
    }
  }

  private keys(): void {
    const stage = byId("stage");
    const { view } = this;
    stage.addEventListener("focus", () => {
      if (stage.matches(":focus-visible")) view.hold(true);
    });
    stage.addEventListener("keydown", (event) => {
      const moves: Record<string, () => void> = {
        ArrowLeft: () => view.turn(-0.12, 0),
        ArrowRight: () => view.turn(0.12, 0),
        ArrowUp: () => view.turn(0, -0.1),
        ArrowDown: () => view.turn(0, 0.1),
        "+": () => view.zoom(0.88),
        "=": () => view.zoom(0.88),
        "-": () => view.zoom(1.14),
      };
      const move = event.altKey || event.ctrlKey || event.metaKey ? undefined : moves[event.key];
      if (move) {
        event.preventDefault();
        move();
      }
    });
  }
}
