// A guide on paper, A4 and Letter: the cautions start on page 1 before anything that can be acted on, no navigation is printed,
// every drawing stands whole on one page, and no row is torn.

import { execFileSync } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { browser, expect, finish, guides, serve } from './lib-site.mjs';

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
    const hazards = await page.locator('.caution .hazard').allInnerTexts();
    const step = await page.locator('#step-1 > div').evaluate((div) => {
      const own = div.cloneNode(true);
      own.querySelectorAll('.reminders').forEach((panel) => panel.remove());
      return own.textContent;
    });
    const navigation = await page.locator('.mast nav a').last().innerText();
    const rows = await page.locator('#cuts-heading ~ .wide').first().locator('tbody tr').evaluateAll((all) => all.map((row) => row.cells[0].innerText));
    // The words of each drawing that come first and last from above, as long as they are told apart on a page.
    const drawings = await page.evaluate(async () => Promise.all([...document.querySelectorAll('.drawing img')].map(async (image) => {
      const svg = new DOMParser().parseFromString(await (await fetch(image.src)).text(), 'image/svg+xml');
      const words = [...svg.querySelectorAll('text')].map((text) => [+(text.getAttribute('y') ?? text.querySelector('[y]')?.getAttribute('y') ?? 0), text.textContent.replace(/\s+/g, ' ').trim()])
        .filter(([, text]) => text.length > 5).sort((a, b) => a[0] - b[0]);
      return [image.getAttribute('src'), words.at(0)?.[1] ?? '', words.at(-1)?.[1] ?? ''];
    })));
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
    expect(!squeezed[0].includes(navigation), at, `navigation is printed: ${navigation}`);
    expect(count <= 24, at, `takes ${count} pages`);
    for (const mark of rows) expect(squeezed.some((text) => text.includes(mark)), at, `row ${mark} of the cut list is missing`);
    // Ligatures are undone: the page's font draws "fi" as one sign.
    const squeeze = (text) => text.normalize('NFKC').replace(/[^\p{L}\p{N}]/gu, '');
    const bare = Array.from({ length: count }, (_, i) => squeeze(execFileSync('pdftotext', ['-raw', '-f', i + 1, '-l', i + 1, file, '-'], { encoding: 'utf8' })));
    // The first step's own words, however it is laid out: on a page of its own, after that of the cautions.
    const firstStep = bare.findIndex((text) => text.includes(squeeze(step).slice(0, 40)));
    expect(firstStep > 0, at, `the first step is on page ${firstStep + 1}`);
    expect(bare[0].includes(squeeze(first)), at, 'the cautions are not on page 1');
    for (const hazard of hazards) expect(bare[0].includes(squeeze(hazard)), at, `the caution "${hazard}" is not on page 1`);
    // A drawing is whole when its highest and its lowest words are printed on one page.
    for (const [name, top, bottom] of drawings) {
      const whole = bare.some((text) => text.includes(squeeze(top)) && text.includes(squeeze(bottom)));
      expect(whole, at, `the drawing ${name} is torn: "${top}" and "${bottom}" are not on one page`);
    }
  }
}
await context.close();
await server.stop();
finish(`${sheets} sheets of paper`);
