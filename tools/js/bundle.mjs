// Write the practice page's script as one file: `npm run bundle`. With --check, only compare and report.

import { build } from "esbuild";
import { createHash } from "node:crypto";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import process from "node:process";
import { fileURLToPath } from "node:url";

const folder = fileURLToPath(new URL("../../src/fillwright/pack/practice/", import.meta.url));
const target = `${folder}bundle.mjs`;
const sources = readdirSync(folder).filter((name) => name.endsWith(".mjs") && name !== "bundle.mjs").sort();

const digest = createHash("sha256");
for (const name of sources) digest.update(`${name}\n`).update(readFileSync(folder + name));

const { outputFiles, metafile } = await build({
  entryPoints: [`${folder}page.mjs`],
  absWorkingDir: folder,
  bundle: true,
  charset: "utf8",
  format: "esm",
  metafile: true,
  target: "es2020",
  write: false,
  outfile: target,
  banner: {
    js: "// The practice page's modules in one file. Don't edit it: change the modules, then run `npm run bundle`.\n"
      + `// Modules: sha256 ${digest.digest("hex")}`,
  },
});
const unused = sources.filter((name) => !(name in metafile.inputs));
if (unused.length) throw new Error(`No module of the page imports ${unused.join(", ")}.`);

const text = outputFiles[0].text;
if (!process.argv.includes("--check")) writeFileSync(target, text);
else if (readFileSync(target, "utf8") !== text) {
  console.error("bundle.mjs is not up to date; run `npm run bundle`.");
  process.exitCode = 1;
}
