// Judges that are not ours: the Nu checker on every page and drawing, xmllint with schemas on the feed and the sitemap, a JSON
// Schema validator on every guide.json and on the HowTo in each page.

import { execFileSync, spawnSync } from 'node:child_process';
import { readFile, access } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { complain, expect, files, finish, folder } from './lib-site.mjs';

const here = dirname(fileURLToPath(import.meta.url));
const resolve = createRequire(import.meta.url).resolve;

const vnu = join(dirname(resolve('vnu-jar/package.json')), 'build', 'dist', 'vnu.jar');
const judged = [...await files('.html'), ...await files('.svg')];
for (let i = 0; i < judged.length; i += 200) {
  const run = spawnSync('java', ['-Xss2m', '-jar', vnu, '--also-check-svg', '--format', 'json', ...judged.slice(i, i + 200)],
    { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 28 });
  const { messages } = JSON.parse(run.stderr || '{"messages":[]}');
  for (const message of messages) {
    if (message.type === 'info' && message.subType !== 'warning') continue;
    // A page that is read from a file has no origin to the checker, so that it cannot tell what 'self' is. pages.mjs holds the
    // policy where it binds, in the browser.
    if (/^Resource violates Content Security Policy .* blocked by “(script|style|img)-src”/.test(message.message)) continue;
    // A block of data is no script: HTML's "prepare the script element" leaves it alone before it asks the policy.
    if (/^Inline script violates/.test(message.message) && /application\/ld\+json/.test(message.extract)) continue;
    complain(message.url?.replace(/^file:/, '') ?? 'vnu', `${message.lastLine}: ${message.message} ${message.extract?.slice(0, 120) ?? ''}`);
  }
}

const there = async (path) => access(join(folder, path)).then(() => true, () => false);
for (const [file, schema] of [['news.atom', 'atom.rng'], ['sitemap.xml', 'sitemap.rng']]) {
  if (!await there(file)) continue;
  try {
    execFileSync('xmllint', ['--noout', '--nonet', '--relaxng', join(here, schema), join(folder, file)], { stdio: 'pipe' });
  } catch (error) {
    complain(file, String(error.stderr));
  }
}

const { default: Ajv } = await import('ajv/dist/2020.js');
const ajv = new Ajv({ strict: false, allErrors: true, validateFormats: false });
const schema = JSON.parse(await readFile(join(folder, 'guide.schema.json'), 'utf8'));
const isGuide = ajv.compile(schema);
const isHowTo = ajv.compile(JSON.parse(await readFile(join(here, 'how-to.schema.json'), 'utf8')));
const records = await files('guide.json');
for (const file of records) {
  const record = JSON.parse(await readFile(join(folder, file), 'utf8'));
  if (!isGuide(record)) complain(file, ajv.errorsText(isGuide.errors));
  if (record.standing.is !== 'published') continue;
  const page = await readFile(join(folder, dirname(file), 'index.html'), 'utf8');
  const block = /<script type="application\/ld\+json">(.*?)<\/script>/s.exec(page)?.[1];
  expect(block, file, 'its page has no JSON-LD');
  if (block && !isHowTo(JSON.parse(block))) complain(dirname(file), ajv.errorsText(isHowTo.errors));
}
finish(`${judged.length} pages and drawings, ${records.length} guides, feed and sitemap`);
