// What the page carries with it: the train as figures, and the words that belong to each key.
export type Vec = [number, number, number];

export interface BodyFaces {
  top: number[];
  innerTop: number[];
  bottom: number[];
  walls: number[];
}
export interface Layer {
  name: string;
  low: number;
  high: number;
  bodies: Record<string, BodyFaces>;
  edges: number[];
  studs: number[];
}
export type Solid =
  | { kind: "box"; low: Vec; high: Vec }
  | { kind: "cylinder"; axis: "x" | "y" | "z"; at: Vec; length: number; radius: number }
  | { kind: "wedge"; low: Vec; high: Vec; base: string; back: string };
export interface VehicleData {
  shift: number;
  turned: boolean;
  size: [number, number];
  low: number;
  high: number;
  layers: Layer[];
  axles: number[];
  wheel: number;
  road: boolean;
  builtIn: Solid[][];
  couplings: number[][];
  shelves: number[][];
}
export interface PartData {
  key: string;
  vehicle: number;
  colour: string;
  solids: Solid[];
  pins: Vec[];
  step: number;
}
export interface WireData {
  key: string;
  colour: string;
  radius: number;
  legs: { vehicle: number; points: Vec[] }[];
  joints: Vec[][];
}
export interface SceneData {
  vehicles: VehicleData[];
  parts: PartData[];
  wires: WireData[];
  splices: { vehicle: number; at: Vec; key: string }[];
  steps: StepData[];
  ghosts: GhostData[];
}
// One step of building: what comes in or is laid, by which moves, and from which height up its vehicle is opened.
export interface StepData {
  keys: string[];
  vehicle: number;
  moves: Vec[];
  lift: number | null;
}
// A part without a place: where it comes closest, the room there, and what is short along each axis.
export interface GhostData {
  key: string;
  vehicle: number;
  solids: Solid[];
  taken: number[];
  room: number[];
  short: Vec;
}
export interface Words {
  [key: string]: {
    name: string;
    detail: string;
    net?: string;
    // What is shown together with it, itself among them.
    keys?: string[];
    // Where one goes on from there: keys with what is said of them.
    links?: [string, string][];
    at?: Spot;
    // Numbers of the printed sheets that it is drawn on.
    sheets?: number[];
  };
}
// A vehicle and a place in its frame.
export type Spot = [number, number, number, number];
export interface PageData {
  scene: SceneData;
  words: Words;
  steps: string[];
  vehicles: string[];
}

export function readData(): PageData {
  const holder = document.getElementById("plan-data");
  return JSON.parse(holder?.textContent ?? "{}") as PageData;
}
