// Every page, served and from disk, at three widths in both schemes: axe finds nothing, nothing scrolls sideways, nothing is
// logged or asked for elsewhere, and the budgets are kept.

import { readFile, stat } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';
import { join } from 'node:path';
import { browser, complain, expect, files, finish, folder, guides, serve, watch } from './lib-site.mjs';

const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const server = await serve();
const context = await browser({ bypassCSP: true, serviceWorkers: 'block' });
const pages = await files('.html');
const disk = pathToFileURL(folder + '/').href;
let looks = 0;

// Several pages at once, each opened once and then looked at in every way: axe takes nearly all of the time.
const queue = [...pages];
await Promise.all(Array.from({ length: 4 }, async () => {
  const page = await context.newPage();
  let at = '';
  watch(page, server.root, () => at);
  for (let path = queue.shift(); path; path = queue.shift()) {
    at = path;
    await page.goto(server.root + path);
    await page.evaluate(axe);
    await page.evaluate(() => document.querySelectorAll('details').forEach((one) => { one.open = true; }));
    for (const width of [360, 768, 1280]) {
      await page.setViewportSize({ width, height: 900 });
      const [wide, has] = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
      expect(wide <= has, `${path} (${width} px)`, `scrolls sideways: ${wide} px on ${has} px`);
    }
    // Of a long table's rows, all set from one line of a template, axe sees the first and the last few: hundreds of them tell it
    // nothing new and take minutes.
    await page.evaluate(() => document.querySelectorAll('tbody').forEach((body) => {
      [...body.rows].slice(4, -2).forEach((row) => row.remove());
    }));
    for (const scheme of ['light', 'dark']) {
      await page.emulateMedia({ colorScheme: scheme });
      for (const width of [360, 768, 1280]) {
        at = `${path} (${width} px, ${scheme})`;
        await page.setViewportSize({ width, height: 900 });
        const violations = await page.evaluate(async () => (await window.axe.run(document, { resultTypes: ['violations'] })).violations);
        for (const violation of violations) {
          complain(at, `${violation.id}: ${violation.help} (${violation.nodes.length}): ${violation.nodes[0].target} ${violation.nodes[0].failureSummary?.split('\n')[1] ?? ''}`);
        }
        looks += 1;
      }
    }
  }
  await page.close();
}));

// From disk, with the policy in force.
const plain = await browser({ serviceWorkers: 'block' });
const shelf = [...pages];
await Promise.all(Array.from({ length: 3 }, async () => {
  const page = await plain.newPage();
  let at = '';
  watch(page, disk, () => at);
  for (let path = shelf.shift(); path; path = shelf.shift()) {
    at = `${path} (from disk)`;
    await page.goto(disk + path);
    const font = await page.evaluate(() => document.fonts.ready.then(() => [...document.fonts].some((face) => face.status === 'loaded')));
    expect(font, at, 'the font did not load');
    const broken = await page.evaluate(() => [...document.images].filter((image) => image.loading !== 'lazy' && !image.naturalWidth).map((image) => image.src));
    expect(!broken.length, at, `pictures do not show: ${broken}`);
  }
}));
// Inline script and style must be refused by the page itself.
{
  const page = await plain.newPage();
  await page.goto(server.root + 'index.html');
  const refused = await page.evaluate(() => {
    const script = document.createElement('script');
    script.textContent = 'window.inlineRan = true';
    document.body.append(script);
    document.body.setAttribute('style', 'color: rgb(1, 2, 3)');
    const image = new Image();
    return new Promise((done) => {
      image.onerror = () => done([!window.inlineRan, getComputedStyle(document.body).color !== 'rgb(1, 2, 3)', true]);
      image.onload = () => done([false, false, false]);
      image.src = 'https://example.org/x.png';
    });
  });
  expect(refused.every(Boolean), 'index.html', `the policy lets through inline script, inline style or a foreign picture: ${refused}`);
}
await plain.close();
await context.close();

// Budgets of issue 5.
const size = async (path) => (await stat(join(folder, path))).size;
for (const guide of await guides()) {
  const bytes = await size(`${guide}/index.html`);
  expect(bytes < 150_000, `${guide}/index.html`, `is ${bytes} bytes, over 150 kB`);
}
expect((await files('.css')).length <= 2, 'look', 'more than one style sheet and a club\'s own');
const fonts = (await Promise.all((await files('.woff2')).map(size))).reduce((a, b) => a + b, 0);
expect(fonts <= 40_000, 'look', `fonts of ${fonts} bytes, over 40 kB`);
expect(await size('look/hand.js') + await size('keep.js') <= 15_000, 'look', 'scripts over 15 kB');
expect(await size('look/find.js') <= 60_000, 'look/find.js', 'over 60 kB');
await server.stop();
finish(`${pages.length} pages, ${looks} looks`);
