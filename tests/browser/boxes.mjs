// Every published SVG, measured by the browser: no text lies on a text, a part or a run, no run passes through a part that it
// does not end at, and nothing leaves the sheet. Our own geometry test says the same of what was meant to be drawn; this one
// says it of what is drawn, with the boxes of another program.

import { browser, complain, expect, files, finish, folder, watch } from './lib-site.mjs';
import { pathToFileURL } from 'node:url';

// Boxes are in units of the drawing, a tenth of a millimetre. Numbers are written to a tenth of that, so two that touch may
// seem to overlap by as much.
const TOUCH = 0.3;

// Runs in the page: everything wrong with its drawing, in words, and how much was looked at.
function measure(touch) {
  const wrong = [];
  const root = document.documentElement;
  const sheet = root.viewBox.baseVal;
  // A browser rounds a font's height to whole dots: so many that this is no matter.
  root.setAttribute('width', sheet.width * 4);
  root.setAttribute('height', sheet.height * 4);
  // Lines of one stroke may stand in one path: each is measured by itself.
  for (const path of root.querySelectorAll('path[stroke]')) {
    const lines = path.getAttribute('d').match(/M[^M]*/g) ?? [];
    if (lines.length < 2) continue;
    path.replaceWith(...lines.map((d) => { const one = path.cloneNode(); one.setAttribute('d', d); return one; }));
  }
  const shown = (element) => (element.textContent ?? '').trim().replace(/\s+/g, ' ').slice(0, 60);
  const box = (element) => {
    const b = element.getBBox();
    const style = getComputedStyle(element);
    const half = style.stroke !== 'none' ? parseFloat(style.strokeWidth) / 2 : 0;
    return { x0: b.x - half, y0: b.y - half, x1: b.x + b.width + half, y1: b.y + b.height + half };
  };
  const overlap = (a, b) => Math.min(a.x1, b.x1) - Math.max(a.x0, b.x0) > touch && Math.min(a.y1, b.y1) - Math.max(a.y0, b.y0) > touch;
  const union = (boxes) => boxes.reduce((a, b) => (
    { x0: Math.min(a.x0, b.x0), y0: Math.min(a.y0, b.y0), x1: Math.max(a.x1, b.x1), y1: Math.max(a.y1, b.y1) }));
  const grown = (b, by) => ({ x0: b.x0 - by, y0: b.y0 - by, x1: b.x1 + by, y1: b.y1 + by });
  const holds = (b, [x, y]) => b.x0 <= x && x <= b.x1 && b.y0 <= y && y <= b.y1;
  const isMark = (element) => ['path', 'rect', 'circle'].includes(element.localName);

  const texts = [...root.querySelectorAll('text')].map((element) => ({ element, words: shown(element), box: box(element) }));
  const parts = [...root.querySelectorAll('g.part')].map((group) => {
    const marks = [...group.children].filter(isMark).map(box);
    return { group, name: shown(group.querySelector('title')), marks, box: marks.length ? union(marks) : null };
  }).filter((part) => part.box);
  // A run's own lines, and the stems at a terminal that several runs share.
  const lines = [...root.querySelectorAll('g.run > path, g.runs > path')].map((path) => {
    const d = path.getAttribute('d');
    const points = /^[ML\d.\s-]+$/.test(d) ? d.split(/[ML]/).filter((p) => p.trim()).map((p) => p.trim().split(/[\s,]+/).map(Number))
      : Array.from({ length: 200 }, (_, i) => path.getPointAtLength(path.getTotalLength() * i / 199)).map((p) => [p.x, p.y]);
    const half = parseFloat(getComputedStyle(path).strokeWidth) / 2;
    const name = shown(path.parentNode.querySelector('title'));
    return { path, points, half, name };
  });
  const pieces = (line) => line.points.slice(1).map((q, i) => {
    const p = line.points[i];
    return { x0: Math.min(p[0], q[0]), y0: Math.min(p[1], q[1]), x1: Math.max(p[0], q[0]), y1: Math.max(p[1], q[1]) };
  });

  for (const element of root.querySelectorAll('text, path, rect, circle')) {
    const b = box(element);
    if (b.x0 < sheet.x - touch || b.y0 < sheet.y - touch || b.x1 > sheet.x + sheet.width + touch || b.y1 > sheet.y + sheet.height + touch) {
      wrong.push(`<${element.localName}> ${shown(element)} leaves the sheet`);
    }
  }
  texts.forEach((text, i) => {
    for (const other of texts.slice(0, i)) {
      if (overlap(text.box, other.box)) wrong.push(`“${text.words}” lies on “${other.words}”`);
    }
    for (const part of parts) {
      // A plan's part is a card with its words inside.
      const inside = part.marks.length === 1 && part.group.contains(text.element) && holds(part.box, [text.box.x0, text.box.y0]) && holds(part.box, [text.box.x1, text.box.y1]);
      if (!inside && part.marks.some((mark) => overlap(text.box, mark))) wrong.push(`“${text.words}” lies on the part ${part.name}`);
    }
    for (const line of lines) {
      if (pieces(line).some((piece) => overlap(grown(piece, line.half), text.box))) wrong.push(`“${text.words}” lies on the run ${line.name}`);
    }
  });
  parts.forEach((part, i) => {
    for (const other of parts.slice(0, i)) {
      if (part.marks.some((a) => other.marks.some((b) => overlap(a, b)))) wrong.push(`the part ${part.name} lies on the part ${other.name}`);
    }
    // The body is a line along the foot with a hatch below it and its words between: its marks count, not the box around them.
    const around = part.group.querySelector('text') && texts.some((text) => part.group.contains(text.element) && overlap(text.box, part.box) && part.marks.length > 1);
    const areas = around ? part.marks : [part.box];
    for (const line of lines) {
      const all = pieces(line);
      all.forEach((piece, k) => {
        const ends = (k === 0 && holds(grown(part.box, 5), line.points[0])) || (k === all.length - 1 && holds(grown(part.box, 5), line.points.at(-1)));
        if (!ends && areas.some((area) => overlap(grown(piece, touch), grown(area, -3)))) wrong.push(`the run ${line.name} passes through the part ${part.name}`);
      });
    }
  });
  return { wrong: [...new Set(wrong)], texts: texts.length, parts: parts.length, runs: lines.length, font: document.fonts.check('20px "DejaVu Sans Condensed"') };
}

const context = await browser();
const root = pathToFileURL(folder + '/').href;
const drawings = (await files('.svg')).filter((path) => path.includes('/') && !path.startsWith('look/'));
const counts = { texts: 0, parts: 0, runs: 0 };
const queue = [...drawings];
await Promise.all(Array.from({ length: 4 }, async () => {
  const page = await context.newPage();
  let at = '';
  watch(page, root, () => at);
  for (let path = queue.shift(); path; path = queue.shift()) {
    at = path;
    await page.goto(root + path);
    const found = await page.evaluate(measure, TOUCH);
    for (const wrong of found.wrong) complain(path, wrong);
    expect(found.texts > 0, path, 'has no text that the browser could find');
    if (path.endsWith('/wiring.svg')) expect(found.parts > 1 && found.runs > 1, path, 'has no parts or runs that the browser could find');
    for (const what of Object.keys(counts)) counts[what] += found[what];
  }
  await page.close();
}));

// The judge can object: the same drawing with a text moved onto another, a part onto a run, and a mark off the sheet.
{
  const page = await context.newPage();
  const path = drawings.find((drawing) => drawing.endsWith('/wiring.svg'));
  await page.goto(root + path);
  await page.evaluate(() => {
    const texts = document.querySelectorAll('g.part text');
    texts[1].setAttribute('x', texts[0].getAttribute('x'));
    texts[1].setAttribute('y', texts[0].getAttribute('y'));
    const run = document.querySelector('g.run > path').getAttribute('d').split(/[ML]/)[1].trim().split(' ').map(Number);
    const rect = document.createElementNS('http://www.w3.org/2000/svg', 'rect');
    for (const [key, value] of Object.entries({ x: run[0] - 400, y: run[1] - 400, width: 800, height: 800 })) rect.setAttribute(key, value);
    document.querySelectorAll('g.part')[3].append(rect);
    const circle = document.createElementNS('http://www.w3.org/2000/svg', 'circle');
    circle.setAttribute('r', 50);
    document.documentElement.append(circle);
  });
  const { wrong } = await page.evaluate(measure, TOUCH);
  for (const what of ['lies on “', 'lies on the part', 'passes through the part', 'leaves the sheet']) {
    expect(wrong.some((one) => one.includes(what)), path, `spoilt on purpose, and nobody said that something ${what}`);
  }
}

await context.close();
expect(drawings.length > 0, folder, 'no drawings');
finish(`${drawings.length} drawings: ${counts.texts} texts, ${counts.parts} parts and ${counts.runs} lines of runs, each apart from the others`);
