// A reader's hands: the sieve and the search, ticks and readings that survive a reload, links between cautions and steps, the
// drawing at full size, everything again with script off, and saved copies with the server gone.

import { browser, expect, finish, guides, serve } from './lib-site.mjs';

let server = await serve();
const context = await browser();
const page = await context.newPage();
await page.setViewportSize({ width: 390, height: 800 });
const all = await guides();

// The sieve.
await page.goto(server.root);
// The guides' cards: the sieve leaves notices of withdrawn ones alone.
const CARDS = 'section:not(.recalls) > .cards .card';
const shown = () => page.locator(`${CARDS}:visible`).count();
const cards = await shown();
expect(cards >= all.length, 'index.html', `${cards} cards for ${all.length} guides`);
// A thumb's width of a phone: what was withdrawn is seen, and guides stand on the first screen.
expect(await page.locator('.recalls a').first().isVisible(), 'index.html', 'withdrawn guides are not seen');
const second = await page.locator(CARDS).nth(1).boundingBox();
expect(second && second.y + second.height < 800, 'index.html', `the second guide ends at ${second?.y + second?.height} px`);
await page.click('[data-sieve] summary');
const vehicles = await page.locator('select[name=vehicle] option').evaluateAll((options) => options.map((option) => option.value).filter(Boolean));
await page.selectOption('select[name=vehicle]', vehicles[0]);
const fewer = await shown();
expect(fewer > 0 && fewer < cards, 'index.html', `the sieve left ${fewer} of ${cards}`);
expect((await page.locator('[data-sieve] [role=status]').innerText()).includes(String(fewer)), 'index.html', 'the count is not told');
await page.click('[data-sieve] button[type=reset]');
await page.waitForTimeout(50);
expect(await shown() === cards, 'index.html', 'showing all again does not');

// The search: a word of a guide, the beginning of a word, a slip of the keys, nothing.
await page.goto(server.root + 'find/index.html');
const hits = async (words) => { await page.fill('#q', words); return page.locator('.hits a').count(); };
expect(await hits('battery') > 0, 'find', 'does not find battery');
expect(await hits('batt') > 0, 'find', 'does not find the beginning of a word');
expect(await hits('batery') > 0, 'find', 'does not forgive a slip');
expect(await hits('zzzzqqq') === 0 && (await page.locator('[data-find] [role=status]').innerText()).length > 0, 'find', 'does not say that nothing was found');
await hits('battery');
await page.locator('.hits a').first().click();
await page.waitForLoadState();
expect(await page.locator('h1').count() === 1, 'find', 'a hit leads nowhere');
await page.goto(server.root + 'find/index.html?q=fuse');
expect(await page.locator('.hits a').count() > 0, 'find', 'words in the address are not looked for');

// What a reader comes with: how long to cut, what the meter should show while cranking, why the lights are dim. The first screen
// of hits leads to the row, not only to the page.
for (const [words, place] of [['main return', '#run-main-return'], ['readings cranking', '#state-'], ['dim lights', '#symptom-'], ['smoke', '#emergency-']]) {
  await page.goto(server.root + 'find/index.html');
  await hits(words);
  const first = await page.locator('.hits a').evaluateAll((links) => links.slice(0, 8).map((link) => link.getAttribute('href')));
  expect(first.some((href) => href.includes(place)), 'find', `${words} leads to ${first}`);
}

// Ticks and readings.
const guide = all.find((slug) => slug.startsWith('start-battery')) ?? all[0];
const address = server.root + guide + '/index.html';
await page.goto(address);
await page.locator('[data-tick="step-1"]').check({ force: true });
const note = page.locator('[data-note]').first();
if (await note.count()) await note.fill('0.31');
await page.reload();
expect(await page.locator('[data-tick="step-1"]').isChecked(), guide, 'a tick is lost on reload');
expect(!await page.locator('[data-tick="step-2"]').isChecked(), guide, 'a tick that nobody made');
if (await note.count()) expect(await note.inputValue() === '0.31', guide, 'a reading is lost on reload');
expect(await page.locator('[data-next]').getAttribute('href') === '#step-2', guide, 'the next step is not at hand');
const [revision, keys] = await page.evaluate(() => [document.querySelector('[data-guide]').dataset.revision, Object.keys(localStorage)]);
expect(keys.length > 0 && keys.every((key) => key.startsWith(`sheet:${guide}:${revision}:`)), guide, `ticks are kept under ${keys}`);
const other = all.find((slug) => slug !== guide);
if (other) {
  await page.goto(server.root + other + '/index.html');
  expect(!await page.locator('[data-tick="step-1"]').isChecked(), other, 'shares its ticks with another guide');
}

// The drawing at full size, by a box that needs no script.
await page.goto(address);
const width = () => page.locator('.drawing img').first().evaluate((image) => image.getBoundingClientRect().width);
const small = await width();
await page.locator('.drawing label').first().click();
expect(await width() > small * 1.5, guide, 'the drawing does not grow');
expect(await page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth), guide, 'the grown drawing pushes the page sideways');

// Cautions are above the first step and the page says so without script too.
const bare = await (await browser({ javaScriptEnabled: false })).newPage();
await bare.setViewportSize({ width: 390, height: 800 });
await bare.goto(address);
const tops = await Promise.all(['#cautions', '#step-1', '#emergency'].map((id) => bare.locator(id).boundingBox()));
expect(tops.every(Boolean) && tops[0].y < tops[1].y, guide, 'cautions do not stand before the steps');
await bare.locator('.drawing label').first().click();
await bare.goto(server.root);
expect(await bare.locator(`${CARDS}:visible`).count() === cards, 'index.html', 'without script not every guide is listed');
expect(!await bare.locator('[data-sieve]').isVisible(), 'index.html', 'without script a sieve that does nothing');
await bare.goto(server.root + 'find/index.html');
expect(await bare.locator('main a:visible').count() >= all.length, 'find', 'without script the guides are not listed');

// Saved copies: visit, take the server away, come back.
await page.goto(address);
await page.evaluate(() => navigator.serviceWorker.ready);
await page.waitForFunction(async () => (await caches.keys()).length > 0);
await page.reload();
await page.waitForLoadState('networkidle');
await page.waitForTimeout(300);
const root = server.root;
await server.stop();
await page.goto(address);
const kept = page.locator('[data-kept], .kept');
expect(await page.locator('h1').innerText() !== '', guide, 'a saved copy does not open');
expect(await kept.first().isVisible(), guide, 'a saved copy does not say that it is one');
expect(/\d{4}-\d\d-\d\d/.test(await kept.first().innerText()), guide, 'a saved copy shows no date');
expect(/withdrawn/.test(await kept.first().innerText()), guide, 'a saved copy does not ask to look whether it was withdrawn');
expect(await page.locator('.drawing img').first().evaluate((image) => image.complete && image.naturalWidth > 0), guide, 'the drawing was not saved');
expect(await page.locator('[data-tick="step-1"]').isChecked(), guide, 'ticks are lost offline');
await page.goto(root);
expect(await page.locator(CARDS).count() === cards, 'index.html', 'the front page was not saved');
await page.goto(root + 'find/index.html');
await page.fill('#q', 'battery');
expect(await page.locator('.hits a').count() > 0, 'find', 'the search was not saved');
expect((await context.cookies()).length === 0, 'site', 'sets cookies');
finish(`${cards} cards, ${all.length} guides, ticks, search and saved copies`);
