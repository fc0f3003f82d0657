// What Lighthouse says of pages as they stand once their parts are there: score of a category and what was found wrong.
//
// node lighthouse_snapshots.mjs FOLDER CHROMIUM PAGES: FOLDER has the node_modules, PAGES is JSON, a list of
// { name, address, wait, scheme }. Prints a JSON list of { name, score, found }.

import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const [folder, chromium, pages] = process.argv.slice(2);
const { resolve } = createRequire(pathToFileURL(`${folder}/`));
const [{ snapshot, desktopConfig }, { default: puppeteer }] = await Promise.all(
  ["lighthouse", "puppeteer-core"].map((name) => import(pathToFileURL(resolve(name)))),
);
const WAITS_MS = 120_000;
const config = {
  ...desktopConfig,
  settings: { ...desktopConfig.settings, onlyCategories: ["accessibility"] },
};

const browser = await puppeteer.launch({
  executablePath: chromium,
  args: ["--no-sandbox", "--disable-gpu"],
  defaultViewport: { width: 1280, height: 800 },
  protocolTimeout: 2 * WAITS_MS,
});
const told = [];
for (const { name, address, wait, scheme } of JSON.parse(pages)) {
  const page = await browser.newPage();
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
  await page.goto(address, { timeout: WAITS_MS });
  await page.waitForSelector(wait, { timeout: WAITS_MS });
  const { lhr } = await snapshot(page, { config });
  const wrong = Object.values(lhr.audits).filter(({ score }) => score !== null && score < 1);
  const found = wrong.flatMap(({ id, title, details }) =>
    (details?.items ?? [{}]).map(({ node }) => `${id}: ${title} ${node?.snippet ?? ""}`),
  );
  told.push({ name, score: lhr.categories.accessibility.score, found });
  await page.close();
}
await browser.close();
console.log(JSON.stringify(told));
