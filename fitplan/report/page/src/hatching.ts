// Stripes on faces, fixed in the train: what a colour says is said by a pattern too.
import * as three from "three";

type Pattern = "falling" | "rising" | "crossing" | "level";
const STRIPES: Record<Pattern, string[]> = {
  falling: ["vPlace.x + vPlace.y + vPlace.z"],
  rising: ["vPlace.x - vPlace.y - vPlace.z"],
  crossing: ["vPlace.x + vPlace.y + vPlace.z", "vPlace.x - vPlace.y - vPlace.z"],
  level: ["vPlace.z"],
};

// Makes a third of the face stand out in stripes so many mm apart: denser where it is see-through, else darker.
export function hatch(material: three.Material, pattern: Pattern, apart: number): void {
  material.onBeforeCompile = (shader) => {
    shader.vertexShader = shader.vertexShader
      .replace("#include <common>", "#include <common>\nvarying vec3 vPlace;")
      .replace("#include <begin_vertex>", "#include <begin_vertex>\nvPlace = (modelMatrix * vec4(transformed, 1.0)).xyz;");
    const on = STRIPES[pattern].map((along) => `step(0.67, fract((${along}) / ${apart.toFixed(2)}))`);
    const change = material.transparent ? "diffuseColor.a = min(1.0, diffuseColor.a * mix(0.7, 2.2, stripe));" : "outgoingLight *= mix(1.0, 0.62, stripe);";
    shader.fragmentShader = shader.fragmentShader
      .replace("#include <common>", "#include <common>\nvarying vec3 vPlace;")
      .replace("#include <opaque_fragment>", `float stripe = ${on.reduce((one, two) => `max(${one}, ${two})`)};\n${change}\n#include <opaque_fragment>`);
  };
  material.customProgramCacheKey = () => `${pattern} ${apart} ${material.transparent}`;
}
