// The train being built: parts come in one after another through opened lids, wires appear when they are laid.
import * as three from "three";
import type { StepData } from "./data";
import type { Stock } from "./stock";
import type { Things } from "./things";

// This share of a step is for the lid, before anything passes.
const LID = 0.3;
const FARTHEST = 60;

export class Sequence {
  done: number;
  apart = 0;
  partsOn = true;
  wiresOn = true;

  constructor(
    private readonly steps: StepData[],
    private readonly stock: Stock,
    private readonly things: Things,
  ) {
    this.done = steps.length;
  }

  // What the step in hand brings, while the train is not yet finished.
  get fresh(): string[] {
    return this.done > 0 && this.done < this.steps.length ? this.steps[Math.ceil(this.done) - 1].keys : [];
  }

  // Shows the train after so many steps; shares of a step are on the way.
  apply(): void {
    const whole = this.done >= this.steps.length;
    const staged = new Set(this.steps.flatMap((step) => step.keys));
    for (const [key, thing] of this.things.all) {
      if (!staged.has(key)) thing.home.visible = this.allowed(key);
    }
    this.steps.forEach((step, place) => {
      const share = Math.min(1, Math.max(0, this.done - place));
      const moved = step.lift === null ? share : Math.max(0, (share - LID) / (1 - LID));
      for (const key of step.keys) {
        const thing = this.things.all.get(key);
        if (!thing) continue;
        const wire = thing.out.length === 0;
        thing.home.visible = this.allowed(key) && (wire ? share >= 0.5 : share > 0 || this.apart > 0);
        if (!wire) thing.home.position.copy(outside(thing.out, Math.max(1 - moved, this.apart)));
      }
    });
    this.stock.open(whole ? [] : this.opened(), this.apart);
  }

  private allowed(key: string): boolean {
    return key.startsWith("part-") ? this.partsOn : key.startsWith("ghost-") || this.wiresOn;
  }

  // From the first part that comes from above until the last step in a vehicle it stands open.
  private opened(): (number | null)[] {
    const levels: (number | null)[] = this.stock.homes.map(() => null);
    levels.forEach((_, vehicle) => {
      const mine = this.steps.map((step, place) => ({ step, place })).filter(({ step }) => step.vehicle === vehicle);
      const lifting = mine.filter(({ step }) => step.lift !== null);
      if (!lifting.length) return;
      const [first, last] = [lifting[0].place, mine[mine.length - 1].place];
      if (this.done > first && this.done <= last + 0.999) levels[vehicle] = Math.min(...lifting.map(({ step }) => step.lift!));
    });
    return levels;
  }
}

// How far from its place a thing is when it has come out by a share of its way.
function outside(out: three.Vector3[], share: number): three.Vector3 {
  const at = new three.Vector3();
  let left = share * out.length;
  for (const move of out) {
    const length = Math.min(move.length(), FARTHEST);
    at.addScaledVector(move.clone().normalize(), length * Math.min(1, Math.max(0, left)));
    left -= 1;
  }
  return at;
}
