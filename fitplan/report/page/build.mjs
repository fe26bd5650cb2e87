// Bundles src/ with three.js into page.js, one classic script that runs from a file without a network.
// For maintainers: npm ci && npm run build. The result is committed as package data.
import { createHash } from "node:crypto";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { build } from "esbuild";

const version = JSON.parse(readFileSync("node_modules/three/package.json", "utf8")).version;
await build({
  entryPoints: ["src/page.ts"],
  outfile: "page.js",
  bundle: true,
  minify: true,
  format: "iife",
  target: "es2020",
  legalComments: "none",
  charset: "ascii",
  banner: { js: `/* Contains three.js ${version}, MIT licence, Copyright 2010-2026 three.js authors; see LICENSE-three.txt */` },
});
// No end tag of a script may stand inside the script.
const script = readFileSync("page.js", "utf8").replaceAll("</script", "<\\/script");
writeFileSync("page.js", script);
const sources = createHash("sha256");
for (const name of readdirSync("src").sort()) sources.update(name).update(readFileSync(`src/${name}`));
writeFileSync("page.js.sources", `${sources.digest("hex")}\n`);
writeFileSync("LICENSE-three.txt", readFileSync("node_modules/three/LICENSE"));
