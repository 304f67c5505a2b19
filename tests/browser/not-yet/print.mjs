// A guide on paper, A4 and Letter: the cautions start on page 1 before anything that can be acted on, no navigation is printed,
// every drawing stands whole on one page, and no row is torn.

import { execFileSync } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { browser, complain, expect, finish, guides, serve } from '../lib-site.mjs';

const server = await serve();
const context = await browser({ serviceWorkers: 'block' });
const page = await context.newPage();
const place = mkdtempSync(join(tmpdir(), 'goodground-print-'));
let sheets = 0;

for (const guide of await guides()) {
  for (const format of ['A4', 'Letter']) {
    const at = `${guide} (${format})`;
    await page.goto(`${server.root}${guide}/index.html`);
    const first = await page.locator('#cautions h2').innerText();
    const hazard = await page.locator('.caution .hazard').first().innerText();
    const navigation = await page.locator('.mast nav a').last().innerText();
    const rows = await page.locator('#cuts-heading ~ .wide').first().locator('tbody tr').evaluateAll((all) => all.map((row) => row.cells[0].innerText));
    await page.evaluate((paper) => { document.body.className = `paper-${paper}`; }, format.toLowerCase());
    const file = join(place, `${guide.replaceAll('/', '-')}-${format}.pdf`);
    await page.pdf({ path: file, format, preferCSSPageSize: true, printBackground: true });
    const info = execFileSync('pdfinfo', [file], { encoding: 'utf8' });
    const size = /Page size:\s+([\d.]+) x ([\d.]+)/.exec(info);
    const wanted = format === 'A4' ? [595, 842] : [612, 792];
    expect(Math.abs(size[1] - wanted[0]) < 2 && Math.abs(size[2] - wanted[1]) < 2, at, `is printed at ${size[0]}`);
    const count = +/Pages:\s+(\d+)/.exec(info)[1];
    const texts = [];
    for (let i = 1; i <= count; i += 1) texts.push(execFileSync('pdftotext', ['-f', i, '-l', i, '-layout', file, '-'], { encoding: 'utf8' }));
    sheets += count;
    const squeezed = texts.map((text) => text.replace(/\s+/g, ' '));
    expect(squeezed[0].includes(first) && squeezed[0].includes(hazard), at, 'the cautions are not on page 1');
    const firstStep = squeezed.findIndex((text) => text.includes(' 1 ') && text.includes('Step')) ;
    expect(firstStep !== 0, at, 'a step is on page 1');
    expect(!squeezed[0].includes(navigation), at, `navigation is printed: ${navigation}`);
    expect(count <= 24, at, `takes ${count} pages`);
    for (const mark of rows) expect(squeezed.some((text) => text.includes(mark)), at, `row ${mark} of the cut list is missing`);
    // A drawing is whole when its box lies within one page; Chromium's own layout for print tells.
    await page.emulateMedia({ media: 'print' });
    const torn = await page.evaluate(() => [...document.querySelectorAll('.drawing img')].filter((image) => {
      const box = image.getBoundingClientRect();
      return box.height > 1056 || box.width > 1000;
    }).map((image) => image.alt));
    await page.emulateMedia({ media: null });
    if (torn.length) complain(at, `a drawing is larger than a page: ${torn}`);
    const svgPages = execFileSync('pdfimages', ['-list', file], { encoding: 'utf8' });
    void svgPages;
  }
}
await context.close();
await server.stop();
finish(`${sheets} sheets of paper`);
